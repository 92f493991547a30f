"""The farm as a whole: contradictions between records, the right row beside spoilt ones, and pairs that share lines."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.farm.build import build_farm
from scheduler.farm.pairing import matching_rigs, share_lines
from scheduler.farm.rig import pace, rigs_of
from shared.errors import FarmFileError
from tests.farm.written import Place, changed_farm, sentences, starter_as_written

TODAY = date(2027, 5, 10)
PASS = ("programme", 0, "pass")


def told(*changes: Any, today: date | None = None) -> list[str]:
    """Return what is said of the starter farm with values put in."""
    try:
        return [fault.sentence() for fault in build_farm(changed_farm(*changes), today)[1]]
    except FarmFileError as error:
        return sentences(error)


CASES: list[tuple[str, Place, Any, tuple[str, ...]]] = [
    ("unknown time zone", ("time_zone",), "America/Chicgo", ("time_zone", "did you mean 'America/Chicago'")),
    ("zone is no text", ("time_zone",), 7, ("time_zone", "is no time zone")),
    ("zone is a list", ("time_zone",), [], ("time_zone", "is no time zone")),
    ("prices are no table", ("price",), 3, ("price", "not a table")),
    ("negative price", ("price", "corn"), "-4 $/bu", ("price", "corn", "more than 0")),
    ("weekday in full", ("operator", 0, "shift", 0, "days"), ["monday"], ("'monday'", "did you mean 'mon'")),
    ("weekday twice", ("operator", 0, "shift", 0, "days"), ["mon", "mon"], ("'mon'", "is in shift[0] too")),
    ("more hours than a day", ("operator", 0, "most_hours"), "30 h", ("most_hours", "at most 24 h")),
    ("clock with a zone", ("operator", 0, "shift", 0, "end"), "20:00Z", ("not a time of day", "06:30")),
    ("clock at 25", ("operator", 0, "shift", 0, "end"), "25:00", ("not a time of day",)),
    ("a moment is no date", ("operator", 0, "days_off"), [datetime(2027, 5, 9, 3, tzinfo=UTC)], ("not a date",)),
    ("planted without a day", ("fields", 0, "done"), ["terminate", "band", "plant"], ("planted_on", "is missing")),
    ("a day without planting", ("fields", 0, "planted_on"), "2027-05-01", ("planted_on", "not among the passes done")),
    ("programme of the other crop", ("fields", 0, "programme"), "beans", ("is for soybean", "crop is corn")),
    ("absurd seed rate", (*PASS, 2, "product", 0, "rate"), "3400000 seeds/ac", ("rate", "cannot be right", "seeds/ac")),
    ("rate of nothing", (*PASS, 1, "product", 0, "rate"), "0 gal/ac", ("rate", "is not above 0")),
    ("lines of itself", (*PASS, 2, "same_lines_as"), "plant", ("same_lines_as", "is the pass itself")),
    ("same job twice", (*PASS, 1, "also"), "band-nitrogen", ("also", "is the operation itself")),
    ("limits of no operation", ("fit_limits",), {"plnt": {}}, ("fit_limits.plnt", "did you mean 'plant'")),
    ("tissue levels crossed", ("tissue",), {"short_pct": 4.0, "enough_pct": 3.0}, ("short_pct", "less than 3")),
    ("tissue of no pass", ("tissue",), {"passes": ["sidedress"]}, ("tissue.passes", "did you mean 'side-dress'")),
    ("spring in September", ("latitude",), -34.0, ("latitude", "northern spring")),
    ("name that cannot be printed", ("machine", 0, "name"), "a\x07b", ("machine[0].name", "cannot be printed")),
]  # fmt: skip


@pytest.mark.parametrize(("place", "value", "parts"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_contradictions_are_told(place: Place, value: Any, parts: tuple[str, ...]) -> None:
    found = told(place, value)
    assert any(all(part in line for part in parts) for line in found), found


def test_a_tender_needs_a_second_person() -> None:
    one = [person for person in starter_as_written().values["operator"] if person["id"] == "first"]
    found = told(("operator",), one)
    assert any("band-nitrogen" in line and "tender driver" in line for line in found), found


def test_row_numbers_hold_beside_spoilt_rows() -> None:
    """A spoilt first field is left out of the cross-check; the fault of the third still stands at its own row."""
    found = told(("fields", 0, "area"), "-1 ac", ("fields", 2, "yard"), "hoem")
    assert any(line.startswith("fields.csv: row 2, area") for line in found), found
    assert any(line.startswith("fields.csv: row 4, yard: 'hoem'") and "'home'" in line for line in found), (
        found
    )


def test_a_spoilt_machine_makes_no_other_fault() -> None:
    """With the planter's width wrong, nobody is told that no rig can plant."""
    found = told(("machine", 2, "width"), "20 mph")
    assert len(found) == 1 and "machine[2].width" in found[0], found


def test_spoilt_settings_hide_no_other_fault() -> None:
    found = told(("price",), 3, ("time_zone",), "Nowhere", ("operator", 0, "normal_hours"), "13.5 h")
    text = " ".join(found)
    assert "price" in text and "Nowhere" in text and "above most_hours" in text, found


def test_what_is_past_or_ahead_is_a_warning() -> None:
    found = told(
        ("product", 0, "delivery", 0, "date"), "2027-05-01",
        ("fields", 0, "done"), ["terminate", "band", "plant"], ("fields", 0, "planted_on"), "2027-06-01", today=TODAY,
    )  # fmt: skip
    assert any("2027-05-01" in line and "is past" in line for line in found), found
    assert any("2027-06-01" in line and "lies ahead" in line for line in found), found


# ---- lines shared by banding and planting (common practice, no source) ---------------------------------------------
def _rigs(**bar: Any) -> list[tuple[str, str]]:
    changes: list[Any] = []
    for key, value in bar.items():
        changes += [("machine", 3, key), value]
    farm, _ = build_farm(changed_farm(*changes, (*PASS, 2, "same_lines_as"), ""))
    plant, band = farm.programmes[0].find("plant"), farm.programmes[0].find("band")
    assert plant is not None and band is not None
    return [(one.id, other.id) for one, other in matching_rigs(farm, plant, band)]


@pytest.mark.parametrize(
    ("width", "rows", "matches"),
    [("20 ft", 8, 1), ("40 ft", 16, 1), ("10 ft", 4, 1), ("30 ft", 12, 0), ("25 ft", 10, 0)],
)
def test_equal_width_or_whole_multiple(width: str, rows: int, matches: int) -> None:
    assert len(_rigs(width=width, rows=rows)) == matches


def test_rows_must_lie_the_same() -> None:
    assert _rigs(rows=12, row_spacing="20 in") == []


def test_line_sharing_is_mutual() -> None:
    farm, _ = build_farm(starter_as_written())
    rigs = rigs_of(farm)
    assert all(share_lines(a, b) == share_lines(b, a) for a in rigs for b in rigs)


def test_pace_of_the_starter_planter() -> None:
    """Effective field capacity = speed x width / 8.25 x efficiency (Iowa State University PM 696, rev. 2001)."""
    farm, _ = build_farm(starter_as_written())
    rig = next(rig for rig in rigs_of(farm) if rig.worker.id == "planter")
    spec = farm.programmes[0].find("plant")
    assert spec is not None
    rate = pace(farm, rig, spec, farm.fields[0]).work_rate_ha_per_h / 0.40468564224
    assert rate == pytest.approx(5.0 * 20.0 / 8.25 * 0.68, rel=1e-3)


# ---- whatever stands in a file, the answer is a farm or a list of faults ---------------------------------------------
def _places(value: Any, place: Place = ()) -> list[Place]:
    found = [place] if place else []
    if isinstance(value, dict):
        return found + [p for key in value for p in _places(value[key], (*place, key))]
    if isinstance(value, list):
        return found + [p for number, item in enumerate(value) for p in _places(item, (*place, number))]
    return found


PLACES = _places(starter_as_written().values)
ODD = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 10**9), st.floats(), st.text(max_size=12), st.dates(), st.times(),
    st.times(timezones=st.just(UTC)), st.datetimes(), st.lists(st.text(max_size=4), max_size=2),
    st.sampled_from(["", "0", "1//", "-5 ac", "1e999 ft", "nan gal/ac", "12 h", "06:00Z", "mon", "plant", {}, {"a": 1}, [[]], [{}]]),
    st.builds(lambda number, unit: f"{number} {unit}", st.integers(-9, 9999), st.sampled_from(["ac", "ft", "%", "$/h", "h", "gal"])),
)  # fmt: skip


@settings(max_examples=120, deadline=None)
@given(place=st.sampled_from(PLACES), value=ODD, today=st.sampled_from([None, TODAY]))
def test_no_value_raises_anything_but_faults(place: Place, value: Any, today: date | None) -> None:
    try:
        build_farm(changed_farm(place, value), today)
    except FarmFileError as error:
        assert error.faults
        assert all(fault.file and fault.key and fault.problem for fault in error.faults)


def test_time_of_day_from_toml() -> None:
    farm, _ = build_farm(changed_farm(("operator", 0, "shift", 0, "start"), time(6, 15)))
    assert farm.operators[0].shifts[0].start == time(6, 15)
