"""Odds once a field was found unfit: worked out by hand from the joint odds of weathers and limits (Bayes' rule)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.windows.given import given_unfit
from scheduler.windows.records import FitHours, Outlook
from shared.vocabulary import LoadClass
from tests.planning import builders as make

KEY = (LoadClass.LIGHT, False)
HERE, BESIDE, ELSEWHERE = ("f1", "band"), ("f1", "plant"), ("f2", "band")
SEEN = make.outlook(make.farm(2), days=1)


def hours(*members: list[int]) -> FitHours:
    odds = np.array(members, np.uint8)
    return FitHours(odds.mean(axis=0) / 100, odds, np.zeros(odds.shape[1], int), np.zeros(odds.shape[1]))


def outlook(**rows: FitHours) -> Outlook:
    """Return an outlook of three passes: `here`, and `beside` in the same field, `elsewhere` in another."""
    keys = {"here": HERE, "beside": BESIDE, "elsewhere": ELSEWHERE}
    return replace(SEEN, fit={keys[name]: {KEY: row} for name, row in rows.items()})


def test_weathers_in_which_it_was_likely_unfit_count_more():
    """Five weathers with 20 % here, five with 80 %: unfit, they are 4 to 1; elsewhere 10 and 90 % make 26 %."""
    then = given_unfit(
        outlook(here=hours(*[[20]] * 5, *[[80]] * 5), elsewhere=hours(*[[10]] * 5, *[[90]] * 5)), HERE, KEY, 0
    )
    assert then is not None
    assert then.fit[ELSEWHERE][KEY].chance[0] == pytest.approx(0.8 * 0.1 + 0.2 * 0.9)
    assert then.fit[HERE][KEY].chance[0] == 0.0


def test_the_same_limit_holds_in_later_hours_and_for_other_passes_there():
    """40 % at first, 70 % later: of the 60 limits in 100 that were too low, 30 allow it later. Lower odds stay nothing."""
    then = given_unfit(
        outlook(here=hours([40, 70, 30]), beside=hours([100, 70, 40]), elsewhere=hours([40, 70, 30])),
        HERE,
        KEY,
        0,
    )
    assert then is not None
    assert then.fit[HERE][KEY].chance == pytest.approx([0.0, 0.5, 0.0])
    assert then.fit[BESIDE][KEY].chance == pytest.approx([1.0, 0.5, 0.0])
    assert then.fit[ELSEWHERE][KEY].chance == pytest.approx([0.4, 0.7, 0.3])


def test_what_is_sure_cannot_be_found_unfit():
    assert given_unfit(outlook(here=hours([100], [100])), HERE, KEY, 0) is None


ROWS = st.lists(st.tuples(st.integers(0, 99), st.integers(0, 100)), min_size=1, max_size=30)


@settings(max_examples=200)
@given(ROWS)
def test_fit_later_and_unfit_now_are_as_likely_as_before(rows: list[tuple[int, int]]):
    """P(later and not now) = P(not now) P(later | not now), to one step of the members drawn."""
    now, later = (np.array(one) / 100 for one in zip(*rows, strict=True))
    other = hours(*[[int(100 * x), int(100 * y)] for x, y in zip(now, later, strict=True)])
    then = given_unfit(outlook(here=other, elsewhere=other), HERE, KEY, 0)
    assert then is not None
    unfit = float((1 - now).mean())
    step = 1.0 / len(rows) + 0.02
    assert unfit * then.fit[HERE][KEY].chance[1] == pytest.approx(np.maximum(0, later - now).mean(), abs=step)
    assert unfit * then.fit[ELSEWHERE][KEY].chance[1] == pytest.approx(((1 - now) * later).mean(), abs=step)
    assert then.fit[ELSEWHERE][KEY].odds_pct.max() <= 100
