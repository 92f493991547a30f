"""What refuses a block at each quarter hour, cause by cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.planning.fit_windows import PER_HOUR
from scheduler.planning.jobs import RigOption
from scheduler.planning.quarters import Interval
from scheduler.solver.resources import Moves
from scheduler.windows.records import FitHours
from shared.vocabulary import Reason

Flags = NDArray[np.bool_]
REASONS = list(Reason)


@dataclass
class Refusals:
    """What refuses each start, for one rig and one person.

    Attributes
    ----------
    flags : mapping of cause to bool array (quarters,)
    fit_reason : int array (quarters,)
        Which reason of the outlook stands behind the cause `NO_FIT_HOURS` at each start.
    """

    flags: dict[Reason, Flags]
    fit_reason: NDArray[np.int_]
    operator: str | None
    option: RigOption

    def count(self) -> NDArray[np.int_]:
        """Return how many causes refuse each start."""
        return np.sum(np.array(list(self.flags.values()), dtype=np.int64), axis=0)

    def at(self, quarter: int) -> list[Reason]:
        """Return the causes at one start, the outlook's own reason in place of the general one."""
        found = []
        for cause, refused in self.flags.items():
            if refused[quarter]:
                found.append(
                    REASONS[int(self.fit_reason[quarter])] if cause is Reason.NO_FIT_HOURS else cause
                )
        return found


def join(flags: dict[Reason, Flags], cause: Reason, refused: Flags) -> None:
    """Add what refuses to what refused for the same cause."""
    flags[cause] = flags[cause] | refused if cause in flags else refused


def legs(moves: Moves | None, site: int) -> Interval:
    """Return quarters from home to a site and back."""
    if moves is None or moves.depot is None:
        return 0, 0
    return int(moves.minutes[moves.depot, site]), int(moves.minutes[site, moves.depot])


def gap(moves: Moves | None, site_a: int, family_a: int, site_b: int, family_b: int) -> int:
    """Return quarters between work at two sites."""
    return 0 if moves is None else moves.gap(site_a, family_a, site_b, family_b)


def unfit(
    hours: FitHours | None, chance_least: float, length: int, quarters: int
) -> tuple[Flags, NDArray[np.int_]]:
    """Refuse starts from which not all quarters are fit; return too what the first unfit hour lacks (index in `REASONS`).

    Parameters
    ----------
    hours : FitHours or None
        None: nobody worked them out.
    length, quarters : int
        Quarters of the horizon, and of the block.
    """
    if hours is None:
        unknown = np.full(length, REASONS.index(Reason.UNKNOWN_WEATHER))
        return np.ones(length, dtype=bool), unknown
    bad = np.repeat(hours.chance < chance_least, PER_HOUR)[:length]
    bad = np.concatenate([bad, np.ones(max(0, length - len(bad)), dtype=bool)])
    why = np.repeat(hours.reason, PER_HOUR)[:length]
    why = np.concatenate([why, np.full(max(0, length - len(why)), REASONS.index(Reason.UNKNOWN_WEATHER))])
    total = np.concatenate([[0], np.cumsum(bad), np.full(quarters, bad.sum())])
    start = np.arange(length)
    refused = total[np.minimum(start + quarters, len(total) - 1)] > total[start]
    next_bad = np.minimum.accumulate(np.where(bad, start, length - 1)[::-1])[::-1]
    reason = why[next_bad].astype(int)
    # Hours of middling odds carry no reason of their own: what is missing there is the odds.
    reason[reason == REASONS.index(Reason.FIT)] = REASONS.index(Reason.NO_FIT_HOURS)
    return refused, reason
