"""Days as people write them; which of day and month comes first is told by the column, by the user, or asked.

Orders of day and month: common practice, no source. ISO 8601 for the rest.
"""

from __future__ import annotations

from datetime import date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.files.days import DayReader, read_clock, reader_of
from shared.errors import FarmFileError
from shared.vocabulary import DayOrder

DAY_FIRST, MONTH_FIRST = DayOrder.DAY_FIRST, DayOrder.MONTH_FIRST

MAY_11 = date(2027, 5, 11)


@pytest.mark.parametrize(
    "text",
    [
        "2027-05-11", "2027-5-11", "2027-05-11 00:00", "2027-05-11T07:30:00", "11 May 2027", "11-May-27", "11th May 2027", "May 11, 2027",
        "May 11 2027", "Tue 11 May 2027", "Tuesday, May 11, 2027", "5/11/2027", "05/11/27", "5/11/2027 0:00", "5/11/2027 2:30:00 PM", "5-11-2027",
    ],
)  # fmt: skip
def test_one_day_in_many_words(text: str) -> None:
    assert DayReader(MONTH_FIRST).read(text) == MAY_11


@pytest.mark.parametrize("text", ["11/5/2027", "11.05.27", "11.5.2027", "11 May 2027", "2027-05-11"])
def test_the_day_first(text: str) -> None:
    assert DayReader(DAY_FIRST).read(text) == MAY_11


@pytest.mark.parametrize(
    "text", ["", "spring", "11 Mai 2027", "31 Apr 2027", "13/13/2027", "5/11", "5/11.2027", "2027", "46153", "5/11/2027 noon"]
)  # fmt: skip
def test_what_is_no_day(text: str) -> None:
    with pytest.raises(ValueError):
        DayReader(MONTH_FIRST).read(text)


@given(st.dates(date(1990, 1, 1), date(2060, 12, 31)))
def test_what_other_programs_write_is_read_back(day: date) -> None:
    """Python's own `strftime` as the other program."""
    for form, order in (
        ("%Y-%m-%d", None), ("%m/%d/%Y", MONTH_FIRST), ("%d/%m/%Y", DAY_FIRST), ("%d.%m.%Y", DAY_FIRST), ("%d %B %Y", None),
        ("%B %d, %Y", None), ("%A, %b %d, %Y", None), ("%d-%b-%Y", None),
    ):  # fmt: skip
        assert DayReader(order).read(day.strftime(form)) == day, form
    assert DayReader(None).read(datetime.combine(day, time(5))) == day


def test_one_day_above_twelve_tells_the_order_of_all() -> None:
    assert reader_of(["5/11/2027", "5/13/2027"], "w.csv").read("5/11/2027") == MAY_11
    assert reader_of(["11/5/2027", "13/5/2027"], "w.csv").read("11/5/2027") == MAY_11


def test_work_is_not_done_in_days_to_come() -> None:
    assert reader_of(["5/11/2027"], "w.csv", latest=date(2027, 5, 12)).order == MONTH_FIRST
    assert reader_of(["11/5/2027"], "w.csv", latest=date(2027, 5, 12)).order == DAY_FIRST
    # In neither order a day that has been: says nothing of the others, and is refused in its own row.
    assert reader_of(["5/11/2027", "6/7/2028"], "w.csv", latest=date(2027, 5, 12)).order == MONTH_FIRST


def test_days_that_mean_the_same_need_no_order() -> None:
    assert reader_of(["5/5/2027", "2027-05-06", "spring"], "w.csv").order is None


@pytest.mark.parametrize(
    ("column", "said"),
    [
        (["5/5/2027", "5/11/2027"], r"w.csv: date: '5/11/2027' can be read in two ways; allowed: --dates month-first or --dates day-first says which\."),
        (["5/13/2027", "14/5/2027"], "put day and month in two orders"),
    ],
)  # fmt: skip
def test_the_order_is_asked_for_and_never_guessed(column: list[str], said: str) -> None:
    with pytest.raises(FarmFileError, match=said):
        reader_of(column, "w.csv")
    assert reader_of(column, "w.csv", order=DAY_FIRST).order == DAY_FIRST


def test_hours() -> None:
    """Twelve at noon is 12 pm, twelve at night 12 am (common practice, no source)."""
    said = ("13:30", "1:30 PM", "7:05", "12 am", "12 p.m.")
    assert [read_clock(text) for text in said] == [time(13, 30), time(13, 30), time(7, 5), time(0), time(12)]
