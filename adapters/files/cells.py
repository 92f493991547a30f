"""Rows of a table that nobody here wrote: CSV with whatever separator, or the first sheet of a workbook."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import date, datetime, time
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

from adapters.files.archive import read_archive
from adapters.files.bounded import decode, fault_of, read_bytes

MOST_ROWS, MOST_COLUMNS = 100_000, 200
SEPARATORS = ",;\t|"


def read_rows(path: Path) -> tuple[list[str], list[tuple[int, list[Any]]], list[str]]:
    """Read a table.

    Returns
    -------
    headings : list of str
    rows : list of (row number, cells)
        As many cells as headings; empty ones are None or ``""``.
    notes : list of str

    Raises
    ------
    FarmFileError
        It is no table, empty, too long, or has a heading twice.
    """
    lines, notes = _sheet(path) if path.suffix.lower() == ".xlsx" else _csv(path)
    if not lines:
        raise fault_of(path.name, "holds no row", "a line of headings and a line for each field")
    headings = ["" if cell is None else str(cell).strip() for cell in lines[0][1]]
    while headings and not headings[-1]:
        headings.pop()
    doubled = sorted({name for name in headings if name and headings.count(name) > 1})
    if doubled:
        raise fault_of(path.name, "stands there twice", "each heading once", "headings", ", ".join(doubled))
    if len(lines) - 1 > MOST_ROWS or len(headings) > MOST_COLUMNS:
        raise fault_of(
            path.name,
            f"holds {len(lines) - 1:,} rows and {len(headings)} columns",
            f"at most {MOST_ROWS:,} and {MOST_COLUMNS}",
        )
    rows = []
    for number, cells in lines[1:]:
        spare = [cell for cell in cells[len(headings) :] if cell not in (None, "")]
        if spare:
            raise fault_of(
                path.name,
                "has more cells than the headings",
                f"{len(headings)} cells",
                f"row {number}",
                str(spare[0])[:40],
            )
        rows.append((number, list(cells[: len(headings)]) + [None] * (len(headings) - len(cells))))
    return headings, rows, notes


def _csv(path: Path) -> tuple[list[tuple[int, list[Any]]], list[str]]:
    text, letters = decode(read_bytes(path))
    notes = (
        []
        if letters.startswith("utf")
        else [f"{path.name} is not UTF-8; its letters were read as Western (code page 1252)."]
    )
    if "\0" in text:
        raise fault_of(path.name, "is no text", "comma-separated values")
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(SEPARATORS, key=first.count)
    reader = csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        lines = [
            (reader.line_num, [cell.strip() for cell in row])
            for row in reader
            if any(cell.strip() for cell in row)
        ]
    except csv.Error as error:
        raise fault_of(
            path.name, f"is not CSV ({error})", "comma-separated values", f"line {reader.line_num}"
        ) from error
    return lines, notes


def _sheet(path: Path) -> tuple[list[tuple[int, list[Any]]], list[str]]:
    book = open_book(path)
    try:
        sheet = book.worksheets[0]
        lines = [
            (number, [plain(cell) for cell in row])
            for number, row in enumerate(sheet.iter_rows(values_only=True), 1)
            if number <= MOST_ROWS + 2 and any(cell not in (None, "") for cell in row)
        ]
        more = [one.title for one in book.worksheets[1:]]
    finally:
        book.close()
    return lines, [f"Only the first sheet ({sheet.title}) was read."] if more else []


def open_book(path: Path) -> Any:
    """Open a workbook for reading: values, never formulas.

    Raises
    ------
    FarmFileError
        It is none, or an archive that would swell.
    """
    read_archive(path, lambda _: False)
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        return load_workbook(BytesIO(read_bytes(path)), read_only=True, data_only=True)
    except (
        BadZipFile,
        InvalidFileException,
        KeyError,
        ValueError,
        TypeError,
        OSError,
        SyntaxError,
        AttributeError,
    ) as error:
        raise fault_of(path.name, "is no workbook, or a damaged one", "an .xlsx workbook") from error
    except Exception as error:
        # XML with entities is refused by defusedxml with errors of its own; nothing of them is worth a traceback.
        raise fault_of(
            path.name, "holds XML that is not read (entities or damage)", "an .xlsx workbook"
        ) from error


def plain(cell: Any) -> Any:
    """Return a cell's value as text or number; whole floats as whole numbers, days as ISO dates."""
    if isinstance(cell, datetime):
        return (
            cell.date().isoformat() if cell.time() == time(0) else cell.isoformat(sep=" ", timespec="minutes")
        )
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, time):
        return cell.strftime("%H:%M")
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return int(cell)
    return cell.strip() if isinstance(cell, str) else cell


def as_dict(headings: Sequence[str], cells: Sequence[Any]) -> dict[str, Any]:
    """Return the cells of a row that hold something, by heading."""
    return {name: cell for name, cell in zip(headings, cells, strict=True) if name and cell not in (None, "")}
