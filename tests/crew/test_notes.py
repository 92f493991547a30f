"""What to watch in the fields of a day: in English as the plan says it, in Spanish from the same values."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from scheduler.crew.day_list import day_list
from scheduler.crew.language import Words, catalogue
from scheduler.crew.notes import notes_of
from scheduler.planning.plan import Plan, Worry
from scheduler.planning.worries import CLOSED, DOUBTFUL, DOUBTFUL_PINNED, NO_ROOM, OF_PASSES, SKIPPED, TIGHT
from tests.crew.builders import morning

DAY = date(2027, 5, 12)
SPANISH = {
    SKIPPED: ({}, ": nadie lo ha anotado como hecho, aunque sí un trabajo posterior."),
    CLOSED: ({"closes": "2027-05-12", "left_ha": "8.09"}, ": la ventana cerró el miércoles 12 de mayo y quedan 20\u00a0ac."),
    NO_ROOM: ({"closes": "2027-05-12", "left_ha": "0.81"}, ": la ventana cierra el miércoles 12 de mayo; 2.0\u00a0ac no caben en el plan."),
    TIGHT: (
        {"closes": "2027-05-12", "ends": "2027-05-11"},
        ": previsto terminar el martes 11 de mayo; la ventana cierra el miércoles 12 de mayo.",
    ),
    DOUBTFUL: ({"start": "2027-05-12T07:30:00-05:00", "chance": "0.55"}, ", miércoles 12 de mayo, 07:30: probabilidad de solo 55\u00a0%."),
    DOUBTFUL_PINNED: (
        {"start": "2027-05-12T07:30:00-05:00", "chance": "0.55"},
        ", miércoles 12 de mayo, 07:30: probabilidad de solo 55\u00a0%, fijado a mano.",
    ),
}  # fmt: skip


def of_fields(plan: Plan) -> list[Worry]:
    return [worry for worry in plan.worries if worry.field is not None]


def test_every_line_about_a_pass_is_known_in_spanish() -> None:
    assert set(OF_PASSES) <= set(catalogue("es"))
    assert set(SPANISH) == set(OF_PASSES)


@pytest.mark.parametrize("line", OF_PASSES)
def test_a_note_in_spanish_says_days_areas_and_odds_as_spanish_does(line: str) -> None:
    plan, situation, _ = morning()
    farm = situation.farm
    block = plan.blocks[0]
    values, end = SPANISH[line]
    worry = Worry(severity=2, text="-", field=block.field, pass_id=block.pass_id, line=line, values=values)
    found = notes_of(plan.model_copy(update={"worries": (worry,)}), farm, {block.field}, Words("es"))
    (said,) = found
    assert said.endswith(f" en {farm.field_by_id[block.field].label}{end}")
    assert said[0].isupper() and "{" not in said


def test_the_plan_says_its_own_worries_from_the_same_values() -> None:
    """English is written from the line that translations start from; what comes back from a file is the same."""
    plan, situation, _ = morning()
    worries = of_fields(plan)
    assert worries, "a wet week without a doubtful hour or a closing window"
    for worry in worries:
        assert worry.line in OF_PASSES
        label = situation.farm.field_by_id[worry.field or ""].label
        assert f" in {label}" in worry.text and "{" not in worry.text
        for name, text in worry.values.items():
            if name in ("closes", "ends"):
                date.fromisoformat(text)
            elif name == "start":
                assert datetime.fromisoformat(text).tzinfo is not None
            else:
                float(text)
    assert Plan.model_validate_json(plan.model_dump_json()).worries == plan.worries


def test_a_driver_who_reads_spanish_gets_as_many_notes_as_one_who_reads_english() -> None:
    plan, situation, outlook = morning()
    seen = 0
    for person in situation.farm.operators:
        for day in sorted({b.start.date() for b in plan.of_operator(person.id)}):
            lists: list[tuple[str, ...]] = []
            fields = {b.field for b in plan.of_operator(person.id) if b.start.date() == day}
            for language in ("en", "es"):
                people = tuple(
                    p.model_copy(update={"language": language}) if p.id == person.id else p
                    for p in situation.farm.operators
                )
                farm = situation.farm.model_copy(update={"operators": people})
                notes = notes_of(plan, farm, fields, Words(language))
                one = day_list(plan, replace(situation, farm=farm), outlook, person.id, day)
                # Poor odds stand below each job instead.
                assert set(one.notes) <= set(notes)
                lists.append(notes)
            english, spanish = lists
            assert len(english) == len(spanish)
            assert not set(english) & set(spanish)
            seen += len(spanish)
    assert seen
