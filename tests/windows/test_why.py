"""The lines of why a field is fit or not: the hours of the ledger, fewer and with ranges of odds."""

from __future__ import annotations

import itertools
import re
from datetime import date

import numpy as np
import pytest

from scheduler.windows.ledger import REASONS, SURE, ledger
from scheduler.windows.records import FitHours
from scheduler.windows.why import runs_of, why_lines
from shared.vocabulary import Reason
from tests.windows.builders import FIRST_DAY, at, farm, forecast, land, living, look, observed, situation

RAINY = [0, 18, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]


def hours_of(*said: tuple[Reason, float, int]) -> FitHours:
    """Return hours by reason, odds and how many."""
    chance = np.concatenate([np.full(count, odds) for _, odds, count in said])
    reason = np.concatenate([np.full(count, REASONS.index(why)) for why, _, count in said])
    return FitHours(chance, (chance[None] * 100).astype(np.uint8), reason, np.zeros(len(chance)))


@pytest.fixture(scope="module")
def seen():
    of = situation(farm(land(), living(planted_on=date(2027, 4, 28), done=("plant",))))
    return of, look(of, forecast(FIRST_DAY, RAINY), seen=observed(at(0), last=[0, 0, 12, 0]))


def test_runs_follow_each_other_over_all_hours_to_come_and_each_says_what_its_hours_say(seen) -> None:
    _, outlook = seen
    for kinds in outlook.fit.values():
        for hours in kinds.values():
            runs = runs_of(hours, 7 * 24)
            assert runs[-1][1] == 7 * 24
            for before, after in itertools.pairwise(runs):
                assert before[1] == after[0]
            for start, end, reason in runs:
                found = {REASONS[int(code)] for code in hours.reason[start:end]}
                assert reason in found and found <= {reason, Reason.DARK}


def test_odds_part_no_run_but_sure_from_unsure_hours() -> None:
    hours = hours_of(
        (Reason.TOO_WET, 0.1, 3), (Reason.TOO_WET, 0.4, 2), (Reason.FIT, 0.6, 2), (Reason.FIT, SURE, 4)
    )
    assert runs_of(hours, 11) == [
        (0, 5, Reason.TOO_WET), (5, 7, Reason.FIT), (7, 11, Reason.FIT),
    ]  # fmt: skip


def test_nights_are_no_lines_of_their_own_where_a_window_is_shut() -> None:
    early = Reason.TOO_EARLY_STAGE
    shut = hours_of(
        (Reason.PAST, 0.0, 2), (early, 0.0, 5), (Reason.DARK, 0.0, 8), (early, 0.0, 16), (Reason.DARK, 0, 3)
    )
    assert runs_of(shut, 34) == [(2, 34, early)]
    opens = hours_of((early, 0.0, 5), (Reason.DARK, 0.0, 8), (Reason.FIT, 0.9, 4), (Reason.DARK, 0, 3))
    assert [run[2] for run in runs_of(opens, 20)] == [early, Reason.DARK, Reason.FIT, Reason.DARK]


def test_the_lines_are_fewer_than_the_ledger_and_name_ranges(seen) -> None:
    of, outlook = seen
    lines, rows = why_lines(outlook, of, days=7), ledger(outlook, of, days=7)
    heads = [line for line in lines if not line.startswith("  ")]
    assert heads and len(lines) - len(heads) <= len(rows)
    assert any(re.search(r"odds \d+ to \d+%", line) for line in lines)
    assert why_lines(outlook, of, passes=["no such pass"]) == []
