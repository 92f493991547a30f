"""A line that says how much of a long run is done and about how long it still takes."""

from __future__ import annotations

import sys
import time

import click


class Bar:
    """Told after each piece; silent when the error stream is no terminal.

    Parameters
    ----------
    what : str
        Of what pieces there are so many.
    """

    def __init__(self, what: str) -> None:
        self.what, self.live, self.began, self.first = what, sys.stderr.isatty(), time.monotonic(), -1

    def __call__(self, done: int, total: int, name: str = "") -> None:
        """Show that `done` of `total` are done; the last line is wiped."""
        if not self.live:
            return
        self.first = done - 1 if self.first < 0 else self.first
        left = (time.monotonic() - self.began) / max(1, done - self.first) * (total - done)
        wait = f"{left:.0f} s" if left < 90 else f"{left / 60:.0f} min"
        line = f"  [{'#' * round(24 * done / total):<24}] {done} of {total} {self.what}  about {wait} left  {name:<20.20}"
        end = "\r" + " " * 90 + "\r" if done == total else ""
        click.echo(f"\r{line:<90}{end}", nl=False, err=True)
