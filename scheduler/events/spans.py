"""Stretches of time in which a machine or a person is not there: made, ended, joined."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from scheduler.events.codec import Event
from scheduler.events.situation import Span

NOT_HIRED, NOT_WITH_US = "not hired then", "not with us then"
"""Why something or somebody that joined for a time is not there outside of it."""


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
    return [replace(span, end=at) if _runs(span, at) else span for span in spans]


def going_on(spans: Iterable[Span], at: datetime) -> Span | None:
    """Return the absence that is going on at a moment, as it was told; times before and after a hire are none."""
    return next((one for one in spans if _goes_on(one, at)), None)


def told(spans: list[Span], new: Span, at: datetime) -> list[Span]:
    """Return the spans with one more, told at `at`: of an absence that is going on the end that was told last counts."""
    if new.start <= at:
        spans = [replace(one, end=at) if _goes_on(one, at) else one for one in spans]
    return [*spans, new]


def _goes_on(span: Span, at: datetime) -> bool:
    return span.why not in (NOT_HIRED, NOT_WITH_US) and _runs(span, at)


def _runs(span: Span, at: datetime) -> bool:
    return span.start <= at and (span.end is None or span.end > at)


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
