"""Day lists: complete, in the person's language, safe to print and to open in a spreadsheet."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from datetime import date, timedelta
from io import StringIO
from pathlib import Path

import numpy as np
import pytest

from scheduler.crew.cautions import caution_table, in_lamp_time
from scheduler.crew.day_list import DayList, day_list, day_lists
from scheduler.crew.language import Words, catalogue
from scheduler.crew.page import morning_page
from scheduler.crew.paper import day_list_page
from scheduler.crew.show import day_list_csv, day_list_text, safe_cell
from scheduler.planning.diff import Change, Changes
from shared.vocabulary import Operation
from tests.crew.builders import morning

CREW = Path(__file__).resolve().parents[2] / "scheduler" / "crew"


def working_days() -> list[date]:
    """Return the days on which somebody works."""
    return sorted({block.start.date() for block in morning()[0].blocks})


def lists_with(operation: Operation) -> list[DayList]:
    """Return the lists of everybody who does an operation."""
    plan, situation, outlook = morning()
    found = []
    for day in working_days():
        for one in day_lists(plan, situation, outlook, day):
            specs = [situation.farm.spec(stop.field, stop.pass_id) for stop in one.stops]
            if any(spec is not None and operation in spec.operations for spec in specs):
                found.append(one)
    return found


def test_every_block_stands_on_the_list_of_each_of_its_people() -> None:
    plan, situation, outlook = morning()
    listed = {
        (one.operator, stop.block)
        for day in working_days()
        for one in day_lists(plan, situation, outlook, day)
        for stop in one.stops
    }
    wanted = {(name, block.id) for block in plan.blocks for name in (block.operator, block.support) if name}
    assert listed == wanted


def test_people_leave_before_they_work_and_come_home_after() -> None:
    plan, situation, outlook = morning()
    for day in working_days():
        for one in day_lists(plan, situation, outlook, day):
            if one.stops:
                assert one.leave_at is not None and one.home_by is not None
                assert one.leave_at < one.stops[0].start and one.home_by > one.stops[-1].end
                assert [stop.start for stop in one.stops] == sorted(stop.start for stop in one.stops)


def test_spraying_carries_its_cautions_and_the_label_decides() -> None:
    lists = lists_with(Operation.TERMINATE)
    assert lists
    for one in lists:
        text = day_list_text(one).lower()
        assert any(word in text for word in ("drift", "deriva"))
        assert any(word in text for word in ("labels, local law", "la etiqueta, la ley local"))


def test_lamps_are_asked_for_when_the_road_is_near_the_dark() -> None:
    from scheduler.crew.cautions import DayFacts

    plan, situation, _ = morning()
    noon = plan.blocks[0].start.replace(hour=12, minute=0)
    facts = DayFacts(frozenset(), True, False, noon, noon + timedelta(hours=2), noon, noon)
    # 10 May at 42 N: sunset shortly after 20:00 local summer time (almanac, from memory).
    late = DayFacts(frozenset(), True, False, noon, noon + timedelta(hours=9), noon, noon)
    assert not in_lamp_time(facts, situation.farm)
    assert in_lamp_time(late, situation.farm)


def test_heat_and_storms_are_named_and_block_nothing() -> None:
    """90 F at 70 % humidity feel like 106 F (US National Weather Service heat-index equation)."""
    plan, situation, outlook = morning()
    day = working_days()[0]
    cool = day_list(plan, situation, outlook, "ilse", day)
    hot_air = replace(
        outlook.weather,
        temp_c=np.full_like(outlook.weather.temp_c, 32.2222),
        rh_pct=np.full_like(outlook.weather.rh_pct, 70.0),
        rain_mm=np.full_like(outlook.weather.rain_mm, 2.0),
    )
    hot = day_list(plan, situation, replace(outlook, weather=hot_air), "ilse", day)
    assert any("106 °F" in line for line in hot.cautions) and any("thunder" in line for line in hot.cautions)
    assert not any("heat index" in line for line in cool.cautions)
    assert hot.stops == cool.stops


def test_nobody_is_told_to_wait_for_himself() -> None:
    plan, situation, outlook = morning()
    for day in working_days():
        for one in day_lists(plan, situation, outlook, day):
            for stop in one.stops:
                said = [*stop.waits_for, *stop.waited_for_by]
                assert len(said) == len(set(said))
                assert not any(text.startswith(f"{one.name} ") for text in stop.waited_for_by)


def test_a_day_off_says_so_and_asks_for_nothing() -> None:
    plan, situation, outlook = morning()
    sunday = date(2027, 5, 16)
    text = day_list_text(day_list(plan, situation, outlook, "benat", sunday))
    assert "Día libre." in text and "Cargar" not in text


def test_the_text_fits_a_narrow_screen() -> None:
    plan, situation, outlook = morning()
    for day in working_days():
        for one in day_lists(plan, situation, outlook, day):
            assert all(len(line) <= 100 for line in day_list_text(one).splitlines())


def test_no_cell_is_a_formula() -> None:
    plan, situation, outlook = morning()
    one = next(one for day in working_days() for one in day_lists(plan, situation, outlook, day) if one.stops)
    hostile = one.model_copy(update={"name": "=HYPERLINK(1)"})
    rows = list(csv.reader(StringIO(day_list_csv([hostile]))))
    assert all(not cell.startswith(("=", "+", "@", "\t")) for row in rows for cell in row)
    assert safe_cell("plain") == "plain"


def test_names_are_escaped_and_pages_need_no_network() -> None:
    plan, situation, outlook = morning()
    one = next(one for day in working_days() for one in day_lists(plan, situation, outlook, day) if one.stops)
    hostile = one.model_copy(update={"name": "<script>alert(1)</script>"})
    page = day_list_page([hostile])
    assert "<script>" not in page and "&lt;script&gt;" in page
    moved = Change(
        block="x",
        field="x",
        pass_id="plant",
        kinds=(),
        to_start=plan.made_at,
        text="<b>moved</b>",
        cause="<b>rain</b>",
    )
    changes = Changes(old_plan="a", new_plan="b", rows=(moved,))
    big = morning_page(plan, situation, outlook, changes, ["<i>news</i>"])
    assert "<b>moved</b>" not in big and "&lt;b&gt;moved" in big and "&lt;b&gt;rain" in big
    for text in (page, big):
        assert not re.search(r"(?:src|href)\s*=|url\(|https?://|@import", text)


def used_messages() -> set[str]:
    """Return every message that the room's code and templates ask for."""
    found: set[str] = set()
    for path in (*CREW.glob("*.py"), *CREW.glob("templates/*.html")):
        text = re.sub(r'"\s*\n\s*"', "", path.read_text(encoding="utf-8"))
        found |= set(re.findall(r'\b(?:words|w)\(\s*"([^"]+)"', text))
    found |= {operation.value.replace("-", " ") for operation in Operation}
    return found | {caution.text for caution in caution_table().values()}


def test_spanish_lacks_nothing() -> None:
    missing = sorted(used_messages() - set(catalogue("es")))
    assert not missing, missing


@pytest.mark.parametrize("message", sorted(catalogue("es")))
def test_spanish_keeps_the_places_for_values(message: str) -> None:
    assert set(re.findall(r"{\w+}", message)) == set(re.findall(r"{\w+}", catalogue("es")[message]))


def test_a_missing_word_shows_english() -> None:
    assert Words("es")("never translated {x}", x=1) == "never translated 1"


def test_days_are_written_as_each_language_writes_them() -> None:
    """Spanish writes days and months small within a sentence, with "de" between (Ortografía de la lengua española, from memory)."""
    day = date(2027, 5, 10)
    assert (Words("en").day(day), Words("en").day(day, opening=True)) == ("Monday 10 May", "Monday 10 May")
    assert (Words("es").day(day), Words("es").day(day, opening=True)) == (
        "lunes 10 de mayo",
        "Lunes 10 de mayo",
    )
    assert Words("es")("Week of {day}", day=Words("es").day(day)) == "Semana del lunes 10 de mayo"
