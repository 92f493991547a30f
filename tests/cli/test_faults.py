"""Faults of farm files as lines: each fault is told, rows alike in one line."""

from __future__ import annotations

from scheduler.cli.faults import fault_lines
from shared.errors import Fault


def ahead(row: int, value: str = "2027-05-08") -> Fault:
    return Fault(
        "fields.csv", f"row {row}, planted_on", value, "lies ahead", "today or earlier", warning=True
    )


def test_a_few_rows_stand_alone_and_many_in_one_line_with_every_row_named():
    few = fault_lines([ahead(2), ahead(3), ahead(9)])
    assert (
        len(few) == 3
        and few[2]
        == "note: fields.csv: row 9, planted_on: '2027-05-08' lies ahead; allowed: today or earlier."
    )
    other = Fault("farm.toml", "machine.0.width", "x", "is not a length", "a length")
    many = fault_lines([*(ahead(row) for row in (2, 3, 4, 5)), ahead(9, "2027-05-09"), other])
    assert many == [
        "note: fields.csv: rows 2-5, 9, planted_on: '2027-05-08' (and others) lies ahead; allowed: today or earlier.",
        "fault: farm.toml: machine.0.width: 'x' is not a length; allowed: a length.",
    ]


def test_rows_with_other_faults_are_not_drawn_together():
    wrong = [Fault("fields.csv", f"row {row}, area", "", "is missing", "an area") for row in (2, 3)]
    assert len(fault_lines([*wrong, ahead(2), ahead(3)])) == 4
