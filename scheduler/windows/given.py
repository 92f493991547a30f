"""The outlook as it would be once somebody stood in a field and found it unfit.

Question answered: *what are the odds of everything else then?* The weathers in which the field was likely to be unfit count
more. In the field itself what is not known of the limit is the same in all hours (`FitHours.together`): who finds it unfit at
seven knows that its limit lies below that water, for every other pass there too. Limits of other fields stay as uncertain as
they were.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scheduler.windows.records import FieldPass, FitHours, Outlook, RigKey

LEAST = 1e-9


def given_unfit(outlook: Outlook, found: FieldPass, key: RigKey, hour: int) -> Outlook | None:
    """Return the outlook given that a pass cannot run in one hour; None where that cannot be by what is known.

    Parameters
    ----------
    found : (str, str)
        Field and pass.
    key : (LoadClass, bool)
        Kind of rig.
    hour : int
        From the start of the outlook.

    Returns
    -------
    Outlook
        Of fit hours alone `chance` and `odds_pct` are changed (members drawn anew by the odds that the field is unfit, in equal
        steps through them, so that the same question has one answer); `margin_mm` and `reason` as they were.
    """
    odds = outlook.fit[found][key].odds_pct[:, hour] / 100.0
    unfit = 1.0 - odds
    if unfit.sum() <= LEAST:
        return None
    members = len(unfit)
    steps = (np.arange(members) + 0.5) / members
    drawn = np.searchsorted(np.cumsum(unfit) / unfit.sum(), steps)
    fit = {
        place: {rig: _drawn(row, drawn, odds if place[0] == found[0] else None) for rig, row in rigs.items()}
        for place, rigs in outlook.fit.items()
    }
    return replace(outlook, fit=fit)


def _drawn(row: FitHours, drawn: NDArray[np.intp], seen: NDArray[np.float64] | None) -> FitHours:
    """Return a row in the members drawn; `seen`: by member, the odds that the limit was thought to allow and does not."""
    odds = row.odds_pct[drawn] / 100.0
    if seen is not None:
        least = seen[drawn][:, None]
        odds = np.maximum(0.0, odds - least) / (1.0 - least)
    return replace(row, chance=odds.mean(axis=0), odds_pct=np.round(odds * 100.0).astype(np.uint8))
