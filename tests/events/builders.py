"""The farm of the planning tests, with deliveries and a side-dress pass, and words for telling it news."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from scheduler.events.decide import Decision, decide
from scheduler.events.derive import situation
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.events.words import report_from_words
from scheduler.farm.farm import Farm
from scheduler.farm.product import Delivery, Form, Product, ProductRate
from scheduler.farm.programme import PassSpec, Programme
from shared.event_record import EventRecord
from shared.vocabulary import Operation
from tests.planning import builders

at = builders.at
"""Farm-local time on a day of the week of 10 May 2027 (Monday is 0)."""


def farm(**more: Any) -> Farm:
    """Return three fields f1 (20 ha), f2 (27 ha), f3 (34 ha); n32 comes in two deliveries."""
    base = builders.programme()
    side_dress = PassSpec(
        id="side-dress",
        operation=Operation.SIDE_DRESS,
        products=(ProductRate(product="n32", rate="100 L/ha"),),
    )
    products = [one for one in builders.products() if one.id != "n32"]
    n32 = Product(
        id="n32",
        form=Form.LIQUID,
        density_kg_per_l=1.33,
        nitrogen_share=0.32,
        stock="10000 L",
        deliveries=(
            Delivery(id="first", date=at(1).date(), amount="5000 L"),
            Delivery(id="second", date=at(3).date(), amount="6000 L"),
        ),
    )
    programme = Programme(id="corn", crop="corn", passes=(*base.passes, side_dress))
    parts: dict[str, Any] = {"programmes": (programme,), "products": (*products, n32)}
    return builders.farm(3, **(parts | more))


class Told:
    """A log that grows by words, for tests."""

    def __init__(self, of: Farm | None = None) -> None:
        self.farm = of or farm()
        self.state = State()
        self.records: list[EventRecord] = []
        self.last: Decision | None = None

    def say(self, now: datetime, *words: str, **options: str) -> EventRecord:
        """Tell news at a moment; return the stored event."""
        before = self.at(now)
        report = report_from_words(words, options, before.farm, now)
        self.last = decide(report, self.state, before)
        if self.last.known:
            return self.last.record
        return self.put(self.last.record)

    def put(self, record: EventRecord) -> EventRecord:
        """Store an event as it is."""
        stored = replace(record, sequence=len(self.records) + 1)
        self.records.append(stored)
        self.state = fold(self.state, [stored])
        return stored

    def at(self, now: datetime) -> Situation:
        """Return what is true at a moment."""
        return situation(self.farm, self.state, now)
