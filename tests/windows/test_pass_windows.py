"""Pass windows: date, stage, height and lag together, what opens and closes them, and what delay costs."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from scheduler.events.situation import PassState, Sighting
from scheduler.farm.programme import PassSpec, Programme, WindowRule
from scheduler.windows.losses import crop_value
from scheduler.wiring.workspace import open_farm
from shared.errors import FarmFileError, FitgroundError
from shared.vocabulary import LoadClass, Operation, Reason
from tests.windows.builders import FIRST_DAY, at, farm, forecast, land, look, machines, situation

REASONS = list(Reason)
WET_WEEK = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
MEDIUM = (LoadClass.MEDIUM, False)
WARM = {"tmax_c": 28.0, "tmin_c": 16.0}
EARLY_PLANTED = date(2027, 4, 20)


def planted(day: date = EARLY_PLANTED, **more):
    return situation(farm(land(planted_on=day, done=("terminate", "plant"))), **more)


def one_pass(spec: PassSpec, *, days: int = 7, planted_on: date | None = None):
    of = farm(land(planted_on=planted_on), programmes=(Programme(id="corn", crop="corn", passes=(spec,)),))
    return look(situation(of), forecast(FIRST_DAY, [0.0] * 12), days=days).windows[("low", spec.id)]


def test_side_dressing_with_interseeding_shuts_as_the_corn_grows_and_says_when():
    outlook = look(planted(date(2027, 4, 12)), forecast(FIRST_DAY, [0.0] * 14, **WARM), days=14)
    window = outlook.windows[("low", "side-dress")]
    assert window.opened_by is Reason.TOO_EARLY_STAGE and window.opens is not None
    assert window.closed_by in (Reason.TOO_LATE_STAGE, Reason.CROP_TOO_TALL) and window.closes is not None
    assert FIRST_DAY < window.opens < window.closes
    assert window.opens_span[0] <= window.opens <= window.opens_span[1]
    assert any(text.startswith("Opens at V3, about ") for text in window.reasons)
    hours = outlook.fit[("low", "side-dress")][MEDIUM]
    before = (window.opens - FIRST_DAY).days * 24 - 24 + 12
    assert hours.chance[before] < 0.5 and REASONS[int(hours.reason[before])] is Reason.TOO_EARLY_STAGE
    assert (np.diff(window.allowed_chance) >= -0.2).all()


def test_more_heat_opens_and_shuts_it_sooner():
    cool, warm = (
        look(planted(date(2027, 4, 12)), forecast(FIRST_DAY, [0.0] * 14, tmax_c=t, tmin_c=t - 12), days=14)
        for t in (20.0, 29.0)
    )
    for name in ("opens", "closes"):
        assert getattr(warm.windows[("low", "side-dress")], name) < getattr(
            cool.windows[("low", "side-dress")], name
        )


def test_a_stage_seen_in_the_field_moves_the_window():
    behind = Sighting("low", at(-1, "12:00"), "VE")
    ahead = Sighting("low", at(-1, "12:00"), "V3")
    usual, slow, fast = (
        look(planted(date(2027, 4, 14), sightings=seen), forecast(FIRST_DAY, [0.0] * 12)).windows[
            ("low", "side-dress")
        ]
        for seen in ((), (behind,), (ahead,))
    )
    assert fast.closes < usual.closes < slow.closes


def test_a_sighting_that_cannot_be_used_is_said_and_the_rest_goes_on():
    early = Sighting("low", at(-60, "12:00"), "V3")
    outlook = look(planted(sightings=(early,)), forecast(FIRST_DAY, [0.0] * 12))
    assert any("cannot be used" in note for note in outlook.notes)
    assert outlook.fields["low"].stage_now


def test_a_measured_height_closes_it_for_a_low_rig():
    tall = Sighting("low", at(-1, "12:00"), None, 0.62)
    usual, grown = (
        look(planted(date(2027, 4, 12), sightings=seen), forecast(FIRST_DAY, [0.0] * 12, **WARM), days=12)
        for seen in ((), (tall,))
    )
    key = ("low", "side-dress")
    assert grown.windows[key].closed_by is Reason.CROP_TOO_TALL
    assert grown.windows[key].closes < usual.windows[key].closes
    assert any("taller than" in text for text in grown.windows[key].reasons)
    assert (
        grown.fit[key][MEDIUM].chance.sum() < usual.fit[key][MEDIUM].chance.sum()
        or usual.windows[key].opens > grown.windows[key].closes
    )


def test_lower_clearance_never_adds_a_chance():
    low = tuple(m.model_copy(update={"clearance_m": 0.25}) if m.id == "bar" else m for m in machines())
    of = farm(land(planted_on=date(2027, 4, 5), done=("terminate", "plant")))
    usual = look(situation(of), forecast(FIRST_DAY, [0.0] * 14, **WARM), days=14)
    lower = look(
        situation(of.model_copy(update={"machines": low})), forecast(FIRST_DAY, [0.0] * 14, **WARM), days=14
    )
    key = ("low", "side-dress")
    assert (lower.fit[key][MEDIUM].chance <= usual.fit[key][MEDIUM].chance + 1e-9).all()
    assert lower.windows[key].closes < usual.windows[key].closes


def test_a_crop_not_planted_holds_back_only_what_needs_plants():
    outlook = look(situation(farm()), forecast(FIRST_DAY, [0.0] * 12), days=7)
    assert (outlook.windows[("low", "plant")].allowed_chance == 1).all()
    assert (outlook.windows[("low", "terminate")].allowed_chance == 1).all(), (
        "rye may be ended any time before"
    )
    assert (outlook.windows[("low", "scout")].allowed_chance < 0.5).all()
    said = outlook.windows[("low", "side-dress")].reasons
    assert any("not planted: dates assume planting about Fri 14 May" in text for text in said)
    assert outlook.fields["low"].stage_now == ""


def test_work_before_planting_is_shut_once_the_crop_is_up():
    of = situation(farm(land(planted_on=date(2027, 4, 20), done=("plant",))))
    window = look(of, forecast(FIRST_DAY, [0.0] * 12)).windows[("low", "terminate")]
    assert window.closes < FIRST_DAY and window.closed_by in (Reason.TOO_LATE_DATE, Reason.TOO_LATE_STAGE)
    assert any("now past" in text or "Closed" in text for text in window.reasons)
    assert window.allowed_chance.max() < 0.05


def test_dates_of_the_farm_file_bound_the_window():
    spec = PassSpec(
        id="plant", operation=Operation.PLANT,
        window=WindowRule(first_date=date(2027, 5, 12), last_date=date(2027, 5, 14), ideal_to=date(2027, 5, 13)),
    )  # fmt: skip
    window = one_pass(spec)
    assert (window.opens, window.closes) == (date(2027, 5, 12), date(2027, 5, 14))
    assert (window.opened_by, window.closed_by) == (Reason.TOO_EARLY_DATE, Reason.TOO_LATE_DATE)
    assert window.allowed_chance.tolist() == [0, 0, 1, 1, 1, 0, 0]
    assert "Opens on Wed 12 May, the first date set for it." in window.reasons
    assert "Closes after Fri 14 May, the last date set for it." in window.reasons


def test_a_window_that_is_over_is_said_to_be_over():
    spec = PassSpec(id="plant", operation=Operation.PLANT, window=WindowRule(last_date=date(2027, 5, 1)))
    window = one_pass(spec)
    assert window.closes < FIRST_DAY
    assert window.allowed_chance.max() == 0
    assert any(text.startswith("Closed") for text in window.reasons)


def test_stages_of_the_farm_file_replace_the_default_ones():
    usual = one_pass(PassSpec(id="sd", operation=Operation.SIDE_DRESS), planted_on=EARLY_PLANTED)
    later = one_pass(
        PassSpec(id="sd", operation=Operation.SIDE_DRESS, window=WindowRule(stage_from="V9", stage_to="V12")),
        planted_on=EARLY_PLANTED,
    )
    assert later.opens > usual.opens
    assert later.closed_by is Reason.CROP_TOO_TALL and later.closes < later.opens
    assert "It shuts before it opens." in later.reasons
    assert any(text.startswith("Opens at V9") for text in later.reasons)


def test_a_variant_nobody_knows_is_refused_in_a_sentence():
    with pytest.raises(FitgroundError, match="no variant 'sideways'"):
        one_pass(PassSpec(id="sd", operation=Operation.SIDE_DRESS, window=WindowRule(variant="sideways")))


def test_losses_are_convex_never_fall_and_reach_past_the_horizon():
    for of in (situation(farm()), planted()):
        outlook = look(of, forecast(FIRST_DAY, [0.0] * 12))
        for key, window in outlook.windows.items():
            days = np.array([day.toordinal() for day, _ in window.loss_points], dtype=float)
            money = np.array([loss for _, loss in window.loss_points])
            slope = np.diff(money) / np.diff(days)
            assert (np.diff(days) > 0).all() and (slope >= -1e-9).all(), key
            assert (np.diff(slope) >= -1e-6).all(), key
            assert window.loss_points[-1][0] >= FIRST_DAY + timedelta(days=7), key
            assert window.loss_undone > 0, key


def test_late_planting_costs_what_the_published_table_says():
    """Illinois 2007-2013 (the table's own points, shared/tables/planting_yield.csv): loss relative to the best date."""
    from scheduler.stages import relative_yield, response_table

    of = situation(farm())
    points = dict(look(of, forecast(FIRST_DAY, [0.0] * 12)).windows[("low", "plant")].loss_points)
    table = response_table("plant", "corn", "illinois_2007_2013")
    value = crop_value(of.farm, of.farm.fields[0])
    best = np.nanmax([relative_yield(table, date(2027, 4, 1) + timedelta(days=k)) for k in range(60)])
    for day in (date(2027, 5, 10), date(2027, 5, 30)):
        assert points[day] == pytest.approx((best - relative_yield(table, day)) * value, rel=0.02)


def test_the_price_of_never_doing_it_is_the_farms_own_and_caps_the_curve():
    cheap = PassSpec(id="post", operation=Operation.SPRAY, loss_per_ha=10.0)
    window = one_pass(cheap, planted_on=EARLY_PLANTED)
    assert window.loss_undone == pytest.approx(300.0)
    at_close = max(loss for day, loss in window.loss_points if day <= window.closes)
    assert at_close <= 300.0 + 1e-6


def test_a_cancelled_pass_has_no_window():
    of = planted()
    gone = replace(of, passes=dict(of.passes) | {("low", "post"): PassState(cancelled=True)})
    assert ("low", "post") not in look(gone, forecast(FIRST_DAY, [0.0] * 12)).windows


def test_a_window_that_no_table_knows_is_said_when_the_files_are_read(tmp_path: Path) -> None:
    text = (WET_WEEK / "farm.toml").read_text().replace('"with interseeding"', '"with interseedin"')
    shutil.copytree(WET_WEEK, tmp_path / "farm")
    (tmp_path / "farm" / "farm.toml").write_text(
        text.replace("foot_ha_per_h = 30", "window = { stage_from = 'V99' }")
    )
    with pytest.raises(FarmFileError) as refusal:
        open_farm(tmp_path / "farm", quiet_log=True)
    said = [fault.sentence() for fault in refusal.value.faults]
    assert any("pass[6].window" in s and "no variant" in s and "'with interseeding'" in s for s in said)
    assert any("pass[3].window" in s and "'V99' is not a stage" in s for s in said)
