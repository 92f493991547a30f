"""A day list in two text messages."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.crew.day_list import DayList
from scheduler.crew.short_text import GSM, MOST, plain, short_text
from scheduler.crew.stop import DRIVE, Stop
from tests.events.builders import at


def stop(number: int, name: str = "North Bench", job: str = "Band nitrogen") -> Stop:
    start = at(0, "07:00") + timedelta(hours=number)
    return Stop(
        block=f"b{number}", role=DRIVE, start=start, end=start + timedelta(hours=1), field=f"f{number}", field_name=name, pass_id="band",
        job=job, area_ha=10, area_text="25 ac",
    )  # fmt: skip


def day(*stops: Stop, language: str = "en") -> DayList:
    return DayList(
        farm="Three Alders", plan="p", operator="ilse", name="Ilse", language=language, day=at(0, "00:00").date(), yard="Home yard",
        leave_at=at(0, "06:50"), home_by=at(0, "19:00"), stops=stops,
    )  # fmt: skip


def test_a_short_day_is_told_whole_first_things_first() -> None:
    assert short_text(day(stop(0), stop(1, "Mill Flat"))) == (
        "Monday 10 May. 06:50 Home yard. 07:00 North Bench, Band nitrogen, 25 ac. 08:00 Mill Flat, Band nitrogen, 25 ac. "
        "Read the full list and its cautions."
    )


def test_a_long_day_says_how_much_is_missing_and_still_points_to_the_cautions() -> None:
    text = short_text(day(*(stop(k, "The long field behind the old mill") for k in range(9))))
    assert len(text) <= MOST
    shown = text.count("old mill")
    assert f" +{9 - shown} " in text and text.endswith("Read the full list and its cautions.")


def test_letters_that_would_halve_the_message_are_written_plainly() -> None:
    assert plain("Niña – “Größe” camión ñ ü …") == 'Niña - "Größe" camion ñ ü ...'
    assert short_text(day(stop(0, job="Sembrar maíz"), language="es")).endswith(
        "Lea la lista completa y sus cuidados."
    )


def test_a_free_day_is_told() -> None:
    free = DayList(
        farm="f",
        plan="p",
        operator="t",
        name="T",
        language="en",
        day=at(0, "00:00").date(),
        free_reason="Nothing planned.",
    )
    assert short_text(free) == "Monday 10 May: Nothing planned."


@settings(max_examples=80, deadline=None)
@given(st.lists(st.text(min_size=1, max_size=60), max_size=12), st.sampled_from(["en", "es"]))
def test_never_more_than_320_plain_letters(names: list[str], language: str) -> None:
    text = short_text(day(*(stop(k, name, name[::-1]) for k, name in enumerate(names)), language=language))
    assert len(text) <= MOST
    assert set(text) <= GSM
