"""The fold: parts equal the whole, an id counts once, poison is kept aside, corrections are exact."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.events.codec import PoisonEvent, current_version, decode, encode
from scheduler.events.derive import situation
from scheduler.events.kinds import KINDS
from scheduler.events.state import State, fold
from shared.event_record import EventRecord
from shared.vocabulary import EventKind
from tests.events.builders import at, farm

FARM = farm()
MONDAY = at(0, "06:00")


def record(
    name: str, kind: str, body: dict[str, Any], happened: datetime = MONDAY, **more: Any
) -> EventRecord:
    """Return a stored event."""
    return EventRecord(name, kind, happened, happened, body, **more)


_FIELDS = st.sampled_from(["f1", "f2", "f3"])
_PASSES = st.sampled_from(["terminate", "band", "plant", "nonsense"])
_IDS = st.sampled_from([f"e{n}" for n in range(12)])
_NEWS = st.one_of(
    st.builds(lambda f, r: ("rain_measured", {"field": f, "rain_mm": r}), _FIELDS, st.floats(-5, 90)),
    st.builds(
        lambda f, p, a: ("pass_progressed", {"field": f, "pass_id": p, "area_ha": a}),
        _FIELDS,
        _PASSES,
        st.floats(0, 30),
    ),
    st.builds(lambda f, p: ("pass_finished", {"field": f, "pass_id": p}), _FIELDS, _PASSES),
    st.builds(lambda f, p: ("pass_cancelled", {"field": f, "pass_id": p}), _FIELDS, _PASSES),
    st.builds(lambda m: ("machine_down", {"machine": m}), st.sampled_from(["big", "bar"])),
    st.builds(lambda m: ("machine_back", {"machine": m}), st.sampled_from(["big", "bar"])),
    st.builds(
        lambda a: ("supply_delivered", {"product": "n32", "amount": a, "delivery": "first"}),
        st.floats(0, 9000),
    ),
    st.builds(lambda e: ("event_corrected", {"event_id": e}), _IDS),
    st.builds(
        lambda e, r: ("event_corrected", {"event_id": e, "body": {"field": "f1", "rain_mm": r}}),
        _IDS,
        st.floats(0, 50),
    ),
    st.just(("a_kind_from_nowhere", {"x": 1})),
    st.just(("rain_measured", {"rain_mm": "a lot"})),
)


@st.composite
def histories(draw: st.DrawFn) -> list[EventRecord]:
    """Return a log of true, repeated, poisoned and correcting events."""
    said = draw(st.lists(st.tuples(_IDS, _NEWS, st.integers(0, 96)), max_size=14))
    return [
        record(name, kind, body, MONDAY + timedelta(hours=hour), sequence=place)
        for place, (name, (kind, body), hour) in enumerate(said, 1)
    ]


@settings(max_examples=150, deadline=None)
@given(histories(), st.integers(0, 14))
def test_folding_in_two_parts_equals_folding_at_once(log: list[EventRecord], cut: int) -> None:
    whole = fold(State(), log)
    parts = fold(fold(State(), log[:cut]), log[cut:])
    assert parts == whole
    assert list(parts.facts) == list(whole.facts)


@settings(max_examples=100, deadline=None)
@given(histories())
def test_the_same_log_told_again_changes_nothing(log: list[EventRecord]) -> None:
    once = fold(State(), log)
    again = fold(once, log)
    assert again.facts == once.facts
    assert again.corrected == once.corrected


@settings(max_examples=100, deadline=None)
@given(histories(), st.integers(0, 100))
def test_any_log_gives_a_situation_with_sane_sums(log: list[EventRecord], hour: int) -> None:
    """However the log was torn about: no area above the field's, no negative stock, spans in order and apart."""
    now = situation(FARM, fold(State(), log), MONDAY + timedelta(hours=hour))
    for (field_id, pass_id), state in now.passes.items():
        if field_id in FARM.field_by_id:
            assert 0 <= state.done_ha <= FARM.field_by_id[field_id].area_ha + 1e-9
            assert now.left_ha(field_id, pass_id) >= 0
    assert all(supply.stock >= 0 for supply in now.supplies.values())
    for spans in now.machine_down.values():
        for one, other in pairwise(spans):
            assert one.end is not None
            assert one.end < other.start


def test_poison_is_kept_aside_with_its_reason_and_the_rest_goes_on() -> None:
    state = fold(
        State(),
        [
            record("a", "rain_measured", {"rain_mm": 5.0}, sequence=1),
            record("b", "moon_landed", {}, sequence=2),
            record("c", "rain_measured", {"rain_mm": "a lot"}, sequence=3),
            record("d", "rain_measured", {"rain_mm": 6.0, "colour": "blue"}, sequence=4),
            record("e", "rain_measured", {"rain_mm": 7.0}, happened=datetime(2027, 5, 10), sequence=5),
            record("f", "rain_measured", {"rain_mm": float("nan")}, sequence=6),
            record("g", "machine_down", {"machine": "big", "until": "2027-05-11T12:00:00"}, sequence=7),
            record("z", "rain_measured", {"rain_mm": 8.0}, sequence=8),
        ],
    )
    assert list(state.facts) == ["a", "z"]
    assert state.sequence == 8
    assert [text.split(":")[0] for text in state.refused] == [f"event {name}" for name in "bcdefg"]
    assert "'moon_landed' is not known" in state.refused[0]


def test_an_id_told_again_with_another_body_keeps_the_first() -> None:
    one, two = (record("a", "rain_measured", {"rain_mm": rain}, sequence=1) for rain in (5.0, 50.0))
    state = fold(fold(State(), [one, two]), [two])
    assert [event.body.rain_mm for event in state.facts.values()] == [5.0]  # type: ignore[attr-defined]


def test_more_area_than_the_field_has_uses_no_more_product_than_the_field_takes() -> None:
    """An import may say 15 ha twice of f1, which has 20 ha: 20 ha x 100 L/ha of the side-dress are used."""
    body = {"field": "f1", "pass_id": "side-dress", "area_ha": 15.0}
    state = fold(State(), [record(name, "pass_progressed", body) for name in "ab"])
    now = situation(FARM, state, MONDAY)
    assert now.passes[("f1", "side-dress")].done_ha == 20.0
    assert now.supplies["n32"].used == pytest.approx(2000.0)


def test_a_correction_replaces_in_place_or_takes_out() -> None:
    log = [
        record("a", "rain_measured", {"rain_mm": 5.0}, sequence=1),
        record("b", "rain_measured", {"rain_mm": 50.0}, sequence=2),
        record("c", "rain_measured", {"rain_mm": 7.0}, sequence=3),
        record("x", "event_corrected", {"event_id": "b", "body": {"rain_mm": 6.0}}, sequence=4),
        record("y", "event_corrected", {"event_id": "c"}, sequence=5),
        record("w", "event_corrected", {"event_id": "nobody"}, sequence=6),
    ]
    state = fold(State(), log)
    assert [event.body.rain_mm for event in state.facts.values()] == [5.0, 6.0]  # type: ignore[attr-defined]
    assert dict(state.corrected) == {"b": "x", "c": "y"}
    assert state.told["b"].body.rain_mm == 50.0  # type: ignore[attr-defined]
    assert state.refused == ("event w: corrects nobody, which is no event of this log",)


def test_every_kind_has_a_body() -> None:
    assert set(KINDS) == set(EventKind)


def test_an_event_survives_the_way_to_the_envelope_and_back() -> None:
    """The time comes back as the same instant, in UTC."""
    event = decode(record("a", "machine_down", {"machine": "big", "until": "2027-05-11T12:00:00-05:00"}))
    back = decode(encode(event))
    assert back.body == event.body
    assert back.happened_at == event.happened_at
    assert encode(event).happened_at.utcoffset() == timedelta(0)


def _inches(body: dict[str, Any]) -> dict[str, Any]:
    return {"field": body["field"], "rain_in": body["inches"]}


def _millimetres(body: dict[str, Any]) -> dict[str, Any]:
    return {"field": body["field"], "rain_mm": body["rain_in"] * 25.4}


STEPS = {("rain_measured", 1): _inches, ("rain_measured", 2): _millimetres}


@pytest.mark.parametrize(
    ("version", "body"), [(1, {"field": "f1", "inches": 2.0}), (2, {"field": "f1", "rain_in": 2.0}), (3, {"field": "f1", "rain_mm": 50.8})]
)  # fmt: skip
def test_old_bodies_are_brought_up_step_by_step(version: int, body: dict[str, Any]) -> None:
    event = decode(record("a", "rain_measured", body, version=version), STEPS)
    assert event.body.rain_mm == pytest.approx(50.8)  # type: ignore[attr-defined]
    assert current_version("rain_measured", STEPS) == 3


@pytest.mark.parametrize(
    ("version", "said"),
    [(4, "version 4 of rain_measured is not known"), (0, "version 0"), (1, "cannot be brought up")],
)
def test_a_body_from_the_future_or_one_that_cannot_be_brought_up_is_poison(version: int, said: str) -> None:
    with pytest.raises(PoisonEvent, match=said):
        decode(record("a", "rain_measured", {"field": "f1"}, version=version), STEPS)


def test_reading_an_event_does_not_change_the_stored_body() -> None:
    stored = record("a", "rain_measured", {"field": "f1", "inches": 2.0}, version=1)
    decode(stored, STEPS)
    assert stored == replace(stored, body={"field": "f1", "inches": 2.0})
