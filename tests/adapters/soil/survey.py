"""The US survey's answers in their published shape, with invented numbers; `formats.md` section 5 and the samples beside it."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from tests.adapters.weather.fault_server import Answer, Service

PATH = "/tabular/post.rest"
COMPONENTS = (
    "mukey",
    "musym",
    "muname",
    "cokey",
    "compname",
    "comppct_r",
    "drainagecl",
    "hydgrp",
    "drclassdcd",
    "hydgrpdcd",
    "slopegradwta",
    "pondfreqprs",
)
HORIZONS = (
    "cokey",
    "hzdept_r",
    "hzdepb_r",
    "wthirdbar_r",
    "wfifteenbar_r",
    "sandtotal_r",
    "claytotal_r",
    "om_r",
    "texcl",
)
CLAY_LOAM = (
    "999001",
    "55",
    "Exampleville clay loam",
    "9990011",
    "Exampleville",
    "88",
    "Somewhat poorly drained",
    "C/D",
    "Somewhat poorly drained",
    "C/D",
    "2",
    "0",
)
SILTY = (
    "999002",
    "107",
    "Samplefield silty clay loam",
    "9990021",
    "Samplefield",
    "94",
    "Poorly drained",
    "B/D",
    "Poorly drained",
    "B/D",
    "1",
    "94",
)


def table(head: tuple[str, ...], *rows: tuple[Any, ...]) -> dict[str, Any]:
    return {"Table": [list(head), *[list(row) for row in rows]]} if rows else {}


def rectangle(west: float, south: float, east: float, north: float) -> str:
    return f"POLYGON (({west} {south}, {east} {south}, {east} {north}, {west} {north}, {west} {south}))"


def answers(
    service: Service, units: list[tuple[str, str]], components: tuple[tuple[str, ...], ...] = (CLAY_LOAM, SILTY),
    horizons: tuple[tuple[Any, ...], ...] = (),
) -> list[str]:  # fmt: skip
    """Let the service answer the three questions; return the list that fills with what it is asked."""
    asked: list[str] = []

    def reply(query: dict[str, list[str]]) -> Answer:
        text = query["query"][0]
        asked.append(text)
        if "mupolygongeo" in text:
            return Answer(table(("mukey", "wkt"), *units))
        if "FROM mapunit" in text:
            return Answer(table(COMPONENTS, *[row for row in components if row[0] in text]))
        return Answer(table(HORIZONS, *[row for row in horizons if str(row[0]) in text]))

    service.answers[PATH] = reply
    return asked


def broken(body: Any, status: int = 200) -> Callable[[dict[str, list[str]]], Answer]:
    content = body if isinstance(body, bytes) else json.dumps(body).encode()
    return lambda _: Answer(content, status)
