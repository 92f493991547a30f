"""Faults and notes of farm files as lines: one each, and one for many rows with the same fault in the same column."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby

from shared.errors import Fault

ROW = re.compile(r"row (\d+), (.+)")
ALONE_MOST = 3
"""So many rows with one fault stand each in its own line."""


def fault_lines(faults: Iterable[Fault]) -> list[str]:
    """Return a sentence for each fault; rows that share file, column and fault stand in one, with the first row's value."""
    by_kind: dict[object, list[Fault]] = {}
    for fault in faults:
        found = ROW.fullmatch(fault.key)
        kind = (fault.file, found[2], fault.problem, fault.allowed, fault.warning) if found else fault
        by_kind.setdefault(kind, []).append(fault)
    out: list[str] = []
    for alike in by_kind.values():
        told = alike if len(alike) <= ALONE_MOST else [_together(alike)]
        out += [f"{'note' if one.warning else 'fault'}: {one.sentence()}" for one in told]
    return out


def _together(alike: list[Fault]) -> Fault:
    rows = [(int(found[1]), found[2]) for fault in alike if (found := ROW.fullmatch(fault.key))]
    others = "(and others) " if len({fault.value for fault in alike}) > 1 else ""
    key = f"rows {_spans([row for row, _ in rows])}, {rows[0][1]}"
    return replace(alike[0], key=key, problem=others + alike[0].problem)


def _spans(rows: list[int]) -> str:
    """Return row numbers with runs drawn together: 2-29, 31."""
    out = []
    for _, run in groupby(enumerate(sorted(set(rows))), lambda pair: pair[1] - pair[0]):
        numbers = [row for _, row in run]
        out.append(f"{numbers[0]}-{numbers[-1]}" if len(numbers) > 1 else str(numbers[0]))
    return ", ".join(out)
