"""Stretches of time in which a machine or a person is not there: made, ended, joined."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from scheduler.events.codec import Event
from scheduler.events.situation import Span


def absences(event: Event, start: datetime | None, until: datetime | None, why: str) -> list[Span]:
    """Return when somebody or something that joined for a time is not there."""
    spans = []
    if start is not None and start > event.happened_at:
        spans.append(Span(event.happened_at, start, why, event.id))
    if until is not None:
        spans.append(Span(until, None, why, event.id))
    return spans


def closed(spans: list[Span], at: datetime) -> list[Span]:
    """End every span that is open or runs past `at`."""
    return [
        replace(span, end=at) if span.start <= at and (span.end is None or span.end > at) else span
        for span in spans
    ]


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return spans in order with overlapping ones joined."""
    out: list[Span] = []
    for span in sorted(spans, key=lambda one: one.start):
        if span.end is not None and span.end <= span.start:
            continue
        if out and (out[-1].end is None or out[-1].end >= span.start):
            last = out[-1]
            end = None if last.end is None or span.end is None else max(last.end, span.end)
            out[-1] = replace(last, end=end, why=last.why or span.why)
        else:
            out.append(span)
    return tuple(out)
