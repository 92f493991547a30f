"""The workbook read back: rows by key with the cell that each value stands in; formulas count only with their value."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from adapters.files.bounded import fault_of, read_bytes
from adapters.files.cells import open_book, plain
from adapters.sheets.columns import HEADING, NoCell, text_of
from shared.errors import FarmFileError, Fault

MOST_ROWS, MOST_COLUMNS = 5_000, 200


@dataclass(frozen=True)
class SheetRows:
    """One sheet: values by key for each row, and where each stands.

    Attributes
    ----------
    cells : tuple of mapping
        Key -> address such as ``C7``, for each row; the empty key is the row's first cell.
    """

    title: str
    rows: tuple[dict[str, Any], ...]
    cells: tuple[dict[str, str], ...]


def read_workbook(
    path: Path, known: Mapping[str, Collection[str]], numbers: Collection[str], needed: Collection[str] = ()
) -> dict[str, SheetRows]:  # fmt: skip
    """Read the sheets of a workbook.

    Parameters
    ----------
    known : mapping of sheet title to its keys
    numbers : collection of str
        Keys that are bare numbers.
    needed : collection of str
        Sheets that must be there; others that lack are passed over.

    Raises
    ------
    FarmFileError
        Every fault at once, each with sheet and cell.
    """
    book, formulas = (
        open_book(path),
        load_workbook(BytesIO(read_bytes(path)), read_only=True, data_only=False),
    )
    faults: list[Fault] = []
    try:
        titles = {title.strip().casefold(): title for title in book.sheetnames}
        missing = [title for title in needed if title.casefold() not in titles]
        if missing:
            raise fault_of(path.name, "is missing", ", ".join(known), "the sheet", missing[0])
        out = {}
        for title, keys in known.items():
            if (own := titles.get(title.casefold())) is not None:
                out[title] = _sheet(path.name, title, book[own], formulas[own], keys, numbers, faults)
    finally:
        book.close()
        formulas.close()
    if faults:
        raise FarmFileError(faults[:50])
    return out


def _sheet(
    file: str, title: str, sheet: Any, formulas: Any, keys: Collection[str], numbers: Collection[str], faults: list[Fault]
) -> SheetRows:  # fmt: skip
    rows: list[dict[str, Any]] = []
    cells: list[dict[str, str]] = []
    heads: list[tuple[str, str]] = []
    pairs = zip(sheet.iter_rows(values_only=True), formulas.iter_rows(values_only=True), strict=False)
    for number, (values, written) in enumerate(pairs, 1):
        if number == 1:
            heads = _heads(file, title, values, keys, faults)
            continue
        if number > MOST_ROWS:
            raise fault_of(
                file, f"holds more than {MOST_ROWS:,} rows", f"at most {MOST_ROWS:,}", f"the sheet {title}"
            )
        if all(value in (None, "") for value in (*values, *written)):
            continue
        row, where = _row(file, title, number, heads, values, written, numbers, faults)
        rows.append(row)
        cells.append(where)
    return SheetRows(title, tuple(rows), tuple(cells))


def _heads(
    file: str, title: str, values: tuple[Any, ...], keys: Collection[str], faults: list[Fault]
) -> list[tuple[str, str]]:
    """Return key and unit of each column; an empty heading has no key."""
    out: list[tuple[str, str]] = []
    for column, value in enumerate(values[:MOST_COLUMNS], 1):
        found = HEADING.fullmatch(str(value).strip()) if value not in (None, "") else None
        key, unit = (found["key"].strip(), (found["unit"] or "").strip()) if found else ("", "")
        where = f"{title}!{get_column_letter(column)}1"
        if value not in (None, "") and key not in keys:
            faults.append(Fault(file, where, str(value)[:40], "is no heading that is known", ", ".join(keys)))
        elif key and key in [name for name, _ in out]:
            faults.append(Fault(file, where, key, "stands there twice", "each heading once"))
        out.append((key if key in keys else "", unit))
    return out


def _row(
    file: str, title: str, number: int, heads: list[tuple[str, str]], values: tuple[Any, ...], written: tuple[Any, ...],
    numbers: Collection[str], faults: list[Fault],
) -> tuple[dict[str, Any], dict[str, str]]:  # fmt: skip
    row: dict[str, Any] = {}
    where = {"": f"A{number}"}
    for column, value in enumerate(values[:MOST_COLUMNS], 1):
        key, unit = heads[column - 1] if column <= len(heads) else ("", "")
        address, formula = (
            f"{get_column_letter(column)}{number}",
            written[column - 1] if column <= len(written) else None,
        )
        if key:
            where[key] = address
        is_formula = isinstance(formula, str) and formula.startswith("=") and value != formula
        if is_formula and value is None:
            faults.append(
                Fault(
                    file,
                    f"{title}!{address}",
                    str(formula)[:40],
                    "is a formula without its value",
                    "a value, or a workbook saved by the spreadsheet",
                )
            )
            continue
        if not key:
            if value not in (None, ""):
                faults.append(
                    Fault(
                        file,
                        f"{title}!{address}",
                        str(value)[:40],
                        "stands under no heading",
                        "a heading in row 1",
                    )
                )
            continue
        try:
            found = text_of(plain(value), unit, key in numbers)
        except NoCell as error:
            faults.append(Fault(file, f"{title}!{address}", str(value)[:40], error.problem, error.allowed))
            continue
        if found is not None:
            row[key] = found
    return row, where
