"""The workbook: a sheet for each list, headings with notes, drop-downs, the first row and column standing still."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from adapters.sheets.columns import cell_of, unit_of

SPARE_ROWS = 200
"""Drop-downs go on so far below the last row, for what is added."""
WIDEST = 44
AUTHOR = "fitground"
GREY = PatternFill("solid", fgColor="E4E9EC")


@dataclass(frozen=True)
class SheetPlan:
    """One sheet to be written.

    Attributes
    ----------
    title : str
    keys : tuple of str
        Columns in order.
    rows : sequence of mapping
        Values by key, nested ones already as text.
    notes : mapping of key to text
        What stands in the note of a heading.
    choices : mapping of key to words
        What a drop-down offers.
    """

    title: str
    keys: tuple[str, ...]
    rows: Sequence[Mapping[str, Any]]
    notes: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, Sequence[str]] = field(default_factory=dict)


def workbook_bytes(plans: Sequence[SheetPlan], about: Sequence[str]) -> bytes:
    """Return the workbook; `about` are lines of a first sheet that says how it is used."""
    book = Workbook()
    first = book.active
    assert first is not None
    first.title = "Read me"
    for number, line in enumerate(about, 1):
        _put(first, number, 1, line)
    first.column_dimensions["A"].width = 110
    lists = book.create_sheet("Lists")
    places: dict[tuple[str, ...], str] = {}
    for plan in plans:
        _sheet(book.create_sheet(plan.title, index=len(book.sheetnames) - 1), plan, lists, places)
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def _sheet(sheet: Any, plan: SheetPlan, lists: Any, places: dict[tuple[str, ...], str]) -> None:
    for column, key in enumerate(plan.keys, 1):
        values = [row.get(key) for row in plan.rows]
        unit = unit_of(values)
        cell = _put(sheet, 1, column, f"{key} [{unit}]" if unit else key)
        cell.font, cell.fill = Font(bold=True), GREY
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        if plan.notes.get(key):
            cell.comment = Comment(plan.notes[key], AUTHOR, height=110, width=300)
        for number, value in enumerate(values, 2):
            if value not in (None, ""):
                _put(sheet, number, column, cell_of(value, unit))
        if plan.choices.get(key):
            _drop_down(sheet, column, len(plan.rows), tuple(plan.choices[key]), lists, places)
        longest = max([len(key) + 4, *(len(str(cell_of(v, unit))) for v in values if v not in (None, ""))])
        sheet.column_dimensions[get_column_letter(column)].width = min(WIDEST, longest + 2)
    sheet.freeze_panes = "B2"
    if plan.rows:
        sheet.auto_filter.ref = f"A1:{get_column_letter(len(plan.keys))}{len(plan.rows) + 1}"


def _put(sheet: Any, row: int, column: int, value: Any) -> Any:
    """Write a cell; text stays text, whatever it begins with."""
    cell = sheet.cell(row=row, column=column, value=value)
    if isinstance(value, str):
        cell.value, cell.data_type, cell.quotePrefix = value, "s", value.startswith(("=", "+", "-", "@"))
    return cell


def _drop_down(
    sheet: Any, column: int, rows: int, words: tuple[str, ...], lists: Any, places: dict[tuple[str, ...], str]
) -> None:
    """Offer words in a column; they stand on the sheet of lists, since a rule of its own holds 255 letters only."""
    if words not in places:
        free = len(places) + 1
        for number, word in enumerate(words, 1):
            _put(lists, number, free, word)
        letter = get_column_letter(free)
        places[words] = f"Lists!${letter}$1:${letter}${len(words)}"
    rule = DataValidation(type="list", formula1=places[words], allow_blank=True, showErrorMessage=True)
    rule.errorTitle, rule.error = "Not known", "Choose one of the list."
    letter = get_column_letter(column)
    rule.add(f"{letter}2:{letter}{rows + SPARE_ROWS}")
    sheet.add_data_validation(rule)
