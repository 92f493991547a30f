"""The ledger and the fit table say what the hours say, in sentences that are true."""

from __future__ import annotations

import itertools
import re
from datetime import date, datetime, timedelta

import pytest

from scheduler.windows.ledger import best_fit, fit_table, ledger
from shared.vocabulary import Reason
from tests.windows.builders import (
    FIRST_DAY,
    at,
    farm,
    forecast,
    land,
    living,
    look,
    machines,
    observed,
    situation,
)

RAINY = [0, 18, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]


@pytest.fixture(scope="module")
def seen():
    of = situation(farm(land(), living(planted_on=date(2027, 4, 28), done=("plant",))))
    return of, look(of, forecast(FIRST_DAY, RAINY), seen=observed(at(0), last=[0, 0, 12, 0]))


def test_stretches_of_one_rig_follow_each_other_from_now_to_the_end(seen):
    of, outlook = seen
    rows = [r for r in ledger(outlook, of, fields=["low"], passes=["plant"], days=7) if r["rig"] == "heavy"]
    assert datetime.fromisoformat(rows[0]["from"]) == at(0)
    assert datetime.fromisoformat(rows[-1]["to"]) == at(7, "00:00")
    for before, after in itertools.pairwise(rows):
        assert before["to"] == after["from"]
        assert (before["reason"], before["fitness"]) != (after["reason"], after["fitness"])


def test_each_stretch_agrees_with_its_hours(seen):
    of, outlook = seen
    for row in ledger(outlook, of, days=7):
        hours = outlook.fit[(row["field"], row["pass"])]
        kind = next(k for k in hours if row["rig"] == k[0].value + (", tracks" if k[1] else ""))
        first = int((datetime.fromisoformat(row["from"]) - outlook.start_utc) / timedelta(hours=1))
        last = int((datetime.fromisoformat(row["to"]) - outlook.start_utc) / timedelta(hours=1))
        codes = {list(Reason)[int(code)].value for code in hours[kind].reason[first:last]}
        assert codes == {row["reason"]}
        assert row["chance"] == pytest.approx(hours[kind].chance[first:last].mean(), abs=1e-3)


def test_sentences_tell_reason_end_and_amount(seen):
    of, outlook = seen
    texts = [row["text"] for row in ledger(outlook, of, days=7)]
    wet = next(text for text in texts if "too wet" in text)
    assert re.search(r"too wet until about \w{3} \d\d:\d\d, up to [\d.]+ in above the limit", wet)
    assert any("Low" in text or "low, plant (heavy)" in text for text in texts)
    assert any(": rain" in text for text in texts)
    assert any("fit, odds" in text for text in texts)
    assert any("opens at V3, about" in text for text in texts)


def test_the_table_has_a_row_per_field_pass_and_day_with_odds_and_first_hour(seen):
    of, outlook = seen
    rows = fit_table(outlook, of, days=3)
    assert len(rows) == 3 * len(outlook.windows)
    for row in rows:
        best = best_fit(outlook, (row["field"], row["pass"]))
        k = (date.fromisoformat(row["date"]) - FIRST_DAY).days
        assert row["chance"] == pytest.approx(best.chance[24 * k : 24 * k + 24].max(), abs=1e-3)
        assert (row["first_fit"] is None) == (row["chance"] < 0.4995) or abs(row["chance"] - 0.5) < 1e-3
        assert row["confidence"] == "forecast"
    wet_day = [r for r in rows if r["pass"] == "plant" and r["field"] == "low"][1]
    assert wet_day["reason"] in ("too wet", "rain at the time", "sticky after rain", "fit")
    up = [r for r in rows if r["field"] == "rye"]
    assert all(row["stage"] for row in up)


def test_days_behind_the_forecast_are_marked():
    of = situation(farm())
    outlook = look(of, forecast(FIRST_DAY, [0.0, 0.0, 0.0]), days=7)
    marks = [row["confidence"] for row in fit_table(outlook, of, passes=["plant"], days=7)]
    assert marks == ["forecast"] * 3 + ["past years"] * 4
    assert any(row["text"].endswith("(past years)") for row in ledger(outlook, of, passes=["plant"], days=7))


def test_a_pass_that_no_rig_can_do_says_so():
    of = situation(farm(machines=tuple(m for m in machines() if m.id not in ("planter", "dibble"))))
    outlook = look(of, forecast(FIRST_DAY, RAINY))
    rows = fit_table(outlook, of, passes=["plant"], days=2)
    assert {row["reason"] for row in rows} == {Reason.NO_RIG.value}
    assert ledger(outlook, of, passes=["plant"]) == []


def test_nothing_is_listed_for_a_field_nobody_asked_for(seen):
    of, outlook = seen
    assert (
        ledger(outlook, of, fields=["elsewhere"]) == [] and fit_table(outlook, of, fields=["elsewhere"]) == []
    )
