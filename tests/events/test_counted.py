"""What is counted goes before the books: from then on deliveries add to it and work takes from it."""

from __future__ import annotations

import pytest

from scheduler.events.describe import describe
from tests.events.builders import Told, at


def stock(told: Told, day: int, clock: str) -> float:
    return told.at(at(day, clock)).supplies["n32"].stock


def test_a_count_goes_before_the_books_and_the_books_go_on_from_it() -> None:
    told = Told()
    told.say(at(0, "09:00"), "done", "f1", "side-dress", "10 ha")
    before = stock(told, 0, "10:00")
    assert before < 10000
    told.say(at(0, "11:00"), "counted", "n32", "4000 L")
    assert stock(told, 0, "12:00") == pytest.approx(4000)
    assert stock(told, 0, "10:00") == pytest.approx(before), "what was true before the count stays"
    told.say(at(0, "15:00"), "done", "f1", "side-dress", "10 ha")
    assert stock(told, 0, "16:00") == pytest.approx(4000 - (10000 - before)), "the same area takes the same"
    told.say(at(1, "09:00"), "delivered", "n32", "5000 L", "first")
    assert stock(told, 1, "10:00") == pytest.approx(9000 - (10000 - before))
    told.say(at(1, "12:00"), "counted", "n32", "0")
    assert stock(told, 1, "13:00") == 0.0, "what came may be gone as well"


def test_the_last_word_on_what_is_there_holds() -> None:
    told = Told()
    counted = told.say(at(0, "11:00"), "counted", "n32", "4000 L")
    told.say(at(0, "12:00"), "change", "product", "n32", "stock", "7000 L")
    assert stock(told, 0, "13:00") == pytest.approx(7000)
    told.say(at(0, "14:00"), "counted", "n32", "3000 L", why="dip stick")
    assert stock(told, 0, "15:00") == pytest.approx(3000)
    told.say(at(0, "16:00"), "correct", counted.id, "counted", "n32", "2000 L")
    assert stock(told, 0, "17:00") == pytest.approx(3000), (
        "an earlier count that was wrong changes no later one"
    )
    last = list(told.state.facts.values())[-1]
    assert describe(last, told.farm) == "counted: 793 gal of n32 there (dip stick)"
