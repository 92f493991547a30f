"""Files from strangers: how large they may be, which letters they hold, what an archive unpacks to."""
