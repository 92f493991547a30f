"""News as people type it: names and quantities without quotation marks, weekdays for dates.

No outside source: a farm by hand; that people leave quotation marks out is common practice, no source.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from scheduler.events.joined import joined
from scheduler.events.report import read_time, weekday
from scheduler.events.words import report_from_words
from scheduler.farm.farm import Farm
from shared.errors import ReportRefused
from tests.events.builders import at, farm


def named() -> Farm:
    """Return the farm with names of several words."""
    base = farm()
    fields = tuple(
        one.model_copy(update={"name": name})
        for one, name in zip(base.fields, ("Home Piece", "Home", "Back Hill Forty"), strict=True)
    )
    people = tuple(one.model_copy(update={"name": f"{one.id.title()} Lee"}) for one in base.operators)
    return base.model_copy(update={"fields": fields, "operators": people})


def body_of(*words: str, **options: str) -> dict[str, Any]:
    return dict(report_from_words(words, options, named(), at(0, "12:00")).body)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("done Home Piece plant 40 ac", ("done", "Home Piece", "plant", "40 ac")),
        ("done back hill forty plant 8 ha", ("done", "Back Hill Forty", "plant", "8 ha")),
        ("done Home plant 4 ha", ("done", "Home", "plant", "4 ha")),
        ("finished Home Piece band", ("finished", "Home Piece", "band")),
        ("rain 0.8 in", ("rain", "all", "0.8 in")),
        ("rain Home Piece 12 mm", ("rain", "Home Piece", "12 mm")),
        ("away Ann Lee", ("away", "ann")),
        ("hours Ann Lee 06:00-21:00", ("hours", "ann", "06:00-21:00")),
        ("hours Ann Lee 6am-9pm mon,tue", ("hours", "ann", "06:00-21:00", "mon,tue")),
        ("delivered n32 5,000 L", ("delivered", "n32", "5,000 L")),
        ("correct-me", ()),
    ],
)  # fmt: skip
def test_words_typed_apart_mean_the_same(typed: str, meant: tuple[str, ...]) -> None:
    if not meant:
        with pytest.raises(ReportRefused, match="no kind of news"):
            body_of(*typed.split())
        return
    assert body_of(*typed.split()) == body_of(*meant)


def test_what_is_understood_as_it_stands_is_read_no_other_way() -> None:
    """`Home` is a field of its own beside `Home Piece`; a list with every word in its place stays as it is."""
    assert body_of("done", "Home", "plant", "4 ha")["field"] == "f2"
    assert joined(["f1", "plant", "20 ha"], named()) == ["f1", "plant", "20 ha"]
    assert joined(["Home", "Piece", "40", "ac", "x"], named()) == ["Home Piece", "40 ac", "x"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("done Home Pice plant 4 ha", "takes other words"), ("rain Home Piece 12", "'12' has no unit"),
        ("rain", "write: rain"), ("done Home plant ", "area ''"), ("done Home Piece plnt 4 ha", "did you mean 'plant'"),
    ],
)  # fmt: skip
def test_what_cannot_be_put_together_is_refused_in_one_sentence(typed: str, said: str) -> None:
    with pytest.raises(ReportRefused, match=said):
        body_of(*typed.split(" "))


@pytest.mark.parametrize(
    ("text", "day", "clock"),
    [("fri", 4, "00:00"), ("Friday 14:30", 4, "14:30"), ("tues", 1, "00:00"), ("mon", 7, "00:00"), ("2027-05-12", 2, "00:00")],
)  # fmt: skip
def test_a_weekday_is_the_next_one_after_today(text: str, day: int, clock: str) -> None:
    """10 May 2027 is a Monday (ISO 8601 calendar, `datetime.weekday`)."""
    zone = at(0).tzinfo
    assert read_time(text, at(0, "12:00"), zone) == at(day, clock)  # type: ignore[arg-type]


def test_what_is_no_day_is_no_day() -> None:
    assert [weekday(text) for text in ("fr", "freitag", "", "14:30", "sunday", "SUN")] == [
        None,
        None,
        None,
        None,
        6,
        6,
    ]
    for text in ("fri 25:00", "fri night", "someday"):
        with pytest.raises(ReportRefused, match=r"cannot be read; allowed: 14:30, .* fri or fri 14:30"):
            read_time(text, at(0), at(0).tzinfo)  # type: ignore[arg-type]


def test_a_delivery_may_be_late_until_a_weekday() -> None:
    assert body_of("late", "n32", "second", "fri")["new_date"] == "2027-05-14"
    with pytest.raises(ReportRefused, match="the date '14:30' cannot be read"):
        body_of("late", "n32", "second", "14:30")


def test_an_end_may_be_a_weekday() -> None:
    until = body_of("away", "ann", until="thu 07:00")["until"]
    assert datetime.fromisoformat(until) == at(3, "07:00")
