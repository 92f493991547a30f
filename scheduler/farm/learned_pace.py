"""How much longer or shorter a machine's work takes than its width, speed and efficiency say, learned from reported visits.

Question answered: *what should plans count on, and how sure is that?* A normal prior on the logarithm of the time factor, one
observation for each visit, weights that fall for what lies far off, so that one wrong report moves little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

PRIOR_SD = 0.2
"""Spread of machines of one kind about their usual field efficiency: 50 to 75 % about 65 % for row-crop planters, 50 to 80 % for
sprayers (ASAE D497, Table 3; from memory)."""
VISIT_SD, VISIT_H = 0.2, 3.0
"""Spread of single visits of three hours about a machine's own mean; of others by the root of their length (assumption)."""
FAR = 1.5
"""Standard deviations from which on a visit counts less (Huber 1964; the number from memory)."""
ROUNDS = 8
LEAST_FACTOR, MOST_FACTOR = 0.4, 2.5
"""Visits outside are no measure of a pace: something was reported wrong, or work was interrupted."""
LEAST_MINUTES = 20.0


@dataclass(frozen=True)
class Visit:
    """Work of a machine in one field without a break: minutes that it took, and that it was to take, set-up left aside."""

    minutes: float
    nominal_minutes: float

    @property
    def usable(self) -> bool:
        """Whether it tells anything of the pace."""
        if self.nominal_minutes < LEAST_MINUTES or self.minutes <= 0:
            return False
        return LEAST_FACTOR <= self.minutes / self.nominal_minutes <= MOST_FACTOR

    @property
    def off(self) -> float:
        """Logarithm of the time it took over the time it was to take."""
        return log(self.minutes / self.nominal_minutes)

    @property
    def sd(self) -> float:
        """How far a visit of this length strays."""
        return VISIT_SD * sqrt(VISIT_H / (self.nominal_minutes / 60.0))


@dataclass(frozen=True)
class LearnedPace:
    """What reports taught.

    Attributes
    ----------
    factor : float
        What plans count on: time over the time of the farm file [-].
    reported : float
        The same as reported, weighted by time, before it is weighed with what machines of the kind do.
    sd : float
        Standard deviation of the logarithm of `factor`.
    visits : int
    """

    factor: float
    reported: float
    sd: float
    visits: int


def learned_pace(visits: Sequence[Visit]) -> LearnedPace | None:
    """Return what visits teach of a machine's pace; None where none of them is usable."""
    rows = [one for one in visits if one.usable]
    if not rows:
        return None
    mean, precision = 0.0, 0.0
    for _ in range(ROUNDS):
        shares = [min(1.0, FAR * one.sd / max(abs(one.off - mean), 1e-12)) for one in rows]
        weights = [share / one.sd**2 for share, one in zip(shares, rows, strict=True)]
        precision = 1.0 / PRIOR_SD**2 + sum(weights)
        mean = sum(weight * one.off for weight, one in zip(weights, rows, strict=True)) / precision
    reported = sum(one.minutes for one in rows) / sum(one.nominal_minutes for one in rows)
    return LearnedPace(exp(mean), reported, sqrt(1.0 / precision), len(rows))
