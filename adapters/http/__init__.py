"""The one way out to the network: polite, cached, and every failure one sentence."""
