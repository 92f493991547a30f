"""Figures of the service in the open Prometheus format; names begin with ``fitground_``, base units."""

from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest


class Metrics:
    """The figures of one service, in a registry of their own."""

    def __init__(self) -> None:
        own = self.registry = CollectorRegistry()
        self.plans = Counter("fitground_plans_total", "Checked plans made.", ["why", "method"], registry=own)
        self.plan_seconds = Histogram(
            "fitground_plan_seconds", "From the decision to plan to the checked plan.", registry=own,
            buckets=(1, 2, 5, 10, 20, 30, 60, 120, 300),
        )  # fmt: skip
        self.plan_made = Gauge(
            "fitground_plan_made_timestamp_seconds", "When the last plan was made.", registry=own
        )
        self.plan_gap = Gauge(
            "fitground_plan_gap_ratio", "Share of the plan's loss that is not proven needed.", registry=own
        )
        self.polls = Counter(
            "fitground_weather_polls_total", "Looks at the weather.", ["result"], registry=own
        )
        self.failures = Counter("fitground_failures_total", "Duties that failed.", ["duty"], registry=own)
        self.handed_out = Counter("fitground_parcels_total", "Lists handed out.", registry=own)
        self.waiting = Gauge("fitground_parcels_waiting", "Lists that wait for an outlet.", registry=own)
        self.holds_lease = Gauge(
            "fitground_holds_lease", "1 when this service issues, 0 when it stands by.", registry=own
        )
        self.looked = Gauge("fitground_looked_timestamp_seconds", "Last look at what is due.", registry=own)

    def text(self) -> bytes:
        """Return all figures in the text format."""
        return generate_latest(self.registry)
