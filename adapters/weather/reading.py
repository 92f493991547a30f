"""Reading what a service says: a shape that is not known becomes one sentence, and a forecast is as old as it says it is."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from shared.errors import WeatherUnavailable

AHEAD_MOST = timedelta(hours=2)
"""A forecast issued later than this after now means that a clock is wrong."""
STALE_MOST = timedelta(days=3)
"""A forecast older than this says less than past years do."""


@contextmanager
def known_shape(name: str) -> Iterator[None]:
    """Turn what goes wrong while a reply of `name` is taken apart into one sentence.

    Raises
    ------
    WeatherUnavailable
        A key is missing, or a value is of another kind than the service's schema says.
    """
    try:
        yield
    except KeyError as error:
        raise WeatherUnavailable(f"{name} answered without {error.args[0]}.") from error
    except (TypeError, ValueError, IndexError, AttributeError, OverflowError) as error:
        raise WeatherUnavailable(
            f"{name} answered in a shape that is not known ({str(error)[:120]})."
        ) from error


def check_age(name: str, issued: datetime, now: datetime) -> None:
    """Refuse a forecast out of the future, or one that is too old to be of use.

    Raises
    ------
    WeatherUnavailable
        Issued more than two hours after `now`, or more than three days before.
    """
    if issued > now + AHEAD_MOST:
        raise WeatherUnavailable(
            f"{name} gives a forecast issued in the future ({issued:%Y-%m-%d %H:%M} UTC); a clock is wrong."
        )
    if now - issued > STALE_MOST:
        raise WeatherUnavailable(
            f"{name} gives a forecast of {issued:%Y-%m-%d %H:%M} UTC; allowed: at most {STALE_MOST.days} days old."
        )


__all__ = ["AHEAD_MOST", "STALE_MOST", "check_age", "known_shape"]
