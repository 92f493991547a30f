"""Working time and clock time: sums over opening hours.

Question answered: *work of so many minutes begins now; when is it done, given when the place is open?* A
calendar is a sorted tuple of half-open intervals ``[open, close)`` that do not touch; None means always open.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence

from scheduler.solver.problem import Task
from scheduler.solver.resources import FAR, Interval

Calendar = tuple[Interval, ...] | None


def tidy(spans: Iterable[Interval]) -> tuple[Interval, ...]:
    """Return the intervals sorted, without empty ones, touching and overlapping ones joined."""
    out: list[Interval] = []
    for a, b in sorted(spans):
        if b <= a:
            continue
        if out and a <= out[-1][1]:
            out[-1] = (out[-1][0], max(b, out[-1][1]))
        else:
            out.append((a, b))
    return tuple(out)


def closed_to_open(breaks: Iterable[Interval], horizon: int) -> tuple[Interval, ...]:
    """Return the opening hours up to `horizon` that closures leave."""
    out, at = [], 0
    for a, b in tidy(breaks):
        if a > at:
            out.append((at, min(a, horizon)))
        at = max(at, b)
    if at < horizon:
        out.append((at, horizon))
    return tidy(out)


def meet(*calendars: Calendar) -> Calendar:
    """Return when all of the calendars are open."""
    found: Calendar = None
    for spans in calendars:
        if spans is None:
            continue
        found = spans if found is None else _meet_two(found, spans)
    return found


def _meet_two(first: Sequence[Interval], second: Sequence[Interval]) -> tuple[Interval, ...]:
    out, i, j = [], 0, 0
    while i < len(first) and j < len(second):
        a, b = max(first[i][0], second[j][0]), min(first[i][1], second[j][1])
        if a < b:
            out.append((a, b))
        if first[i][1] <= second[j][1]:
            i += 1
        else:
            j += 1
    return tuple(out)


def next_open(start: int, spans: Calendar) -> int | None:
    """Return the first open time at or after `start`; None when it never opens again."""
    if spans is None:
        return start
    k = bisect_right(spans, (start, FAR)) - 1
    if k >= 0 and start < spans[k][1]:
        return start
    return spans[k + 1][0] if k + 1 < len(spans) else None


def add_work(start: int, minutes: int, spans: Calendar) -> int | None:
    """Return when `minutes` of work are done that begin at `start` and stop at every closure.

    Work that begins while closed waits for the next opening. Work that fills an open interval exactly is done at
    its closing. None: the calendar ends before the work does.
    """
    if spans is None or minutes == 0:
        return start + minutes
    left = minutes
    k = max(0, bisect_right(spans, (start, FAR)) - 1)
    for a, b in spans[k:]:
        room = b - max(a, start)
        if room <= 0:
            continue
        if left <= room:
            return max(a, start) + left
        left -= room
    return None


def work_between(start: int, end: int, spans: Calendar) -> int:
    """Return the open time between two clock times."""
    if spans is None:
        return max(0, end - start)
    return sum(max(0, min(b, end) - max(a, start)) for a, b in spans)


def resumed_end(task: Task, minutes: int, start: int, calendars: Iterable[Calendar]) -> int | None:
    """Return the end of a block of a task, with or without stops at closures; None when it cannot be done.

    A task that may not stop ends `minutes` after its start, open or not: whether that lies in opening hours is
    for the caller to ask.
    """
    if not task.resumable:
        return start + minutes
    spans = meet(*calendars)
    if minutes and next_open(start, spans) != start:
        return None
    return add_work(start, minutes, spans)


def pauses(spans: tuple[Interval, ...], minutes: int) -> list[tuple[int, int, int]]:
    """Return, for work that stops at closures, the closed time it meets by when it begins.

    Returns
    -------
    list of (first, last, pause)
        Work that begins between `first` and `last` (both open, inclusive) ends after ``minutes + pause``.
    """
    out: list[tuple[int, int, int]] = []
    done = 0
    before = []
    for a, b in spans:
        before.append(done)
        done += b - a
    for k, (a, b) in enumerate(spans):
        at = a
        for j in range(k, len(spans)):
            last = min(b - 1, a + before[j] + (spans[j][1] - spans[j][0]) - minutes - before[k])
            if last >= at:
                out.append((at, last, (spans[j][0] - before[j]) - (a - before[k])))
                at = last + 1
            if at >= b:
                break
    return out
