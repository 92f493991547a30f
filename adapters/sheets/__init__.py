"""A farm's lists as one workbook, out and back in."""

from adapters.sheets.columns import NoCell, cell_of, split_unit, text_of, unit_of
from adapters.sheets.read import SheetRows, read_workbook
from adapters.sheets.write import SheetPlan, workbook_bytes

__all__ = [
    "NoCell",
    "SheetPlan",
    "SheetRows",
    "cell_of",
    "read_workbook",
    "split_unit",
    "text_of",
    "unit_of",
    "workbook_bytes",
]
