"""Tables to be kept as CSV and as one PDF: black on white, landscape, headings on every page, room to sign."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from io import StringIO
from pathlib import Path

from fpdf import FPDF
from fpdf.enums import TableBordersLayout
from fpdf.fonts import FontFace

from adapters.export.paper import SIZES, latin
from adapters.export.tables import safe
from adapters.files.whole import write_whole
from shared.record_table import Cell, RecordTable

MARGIN_MM = 10.0
MOST_POINTS, LEAST_POINTS = 9.0, 4.5
WIDEST_LETTERS = 34


def write_records(folder: Path, tables: Iterable[RecordTable], head: str, foot: str, size: str) -> list[Path]:
    """Write every table as CSV and all of them as ``records.pdf``."""
    made = list(tables)
    contents = {f"{table.name}.csv": table_csv(table).encode("utf-8") for table in made}
    contents["records.pdf"] = records_pdf(made, head, foot, size)
    return [write_whole(folder / name, content) for name, content in contents.items()]


def table_csv(table: RecordTable) -> str:
    """Return a table as CSV; no cell is taken for a formula."""
    out = StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows([[safe(cell) for cell in row] for row in table.rows])
    return out.getvalue()


def records_pdf(tables: Sequence[RecordTable], head: str, foot: str, size: str) -> bytes:
    """Return a PDF with every table on pages of its own.

    Parameters
    ----------
    size : str
        ``a4`` or ``letter``.
    """
    width, height = SIZES[size]
    pdf = _Pages(head, foot, format=(width, height), orientation="landscape", unit="mm")
    pdf.set_margins(MARGIN_MM, MARGIN_MM + 8, MARGIN_MM)
    pdf.set_auto_page_break(True, MARGIN_MM + 8)
    pdf.set_title("Records")
    for table in tables:
        _table(pdf, table)
    return bytes(pdf.output())


class _Pages(FPDF):
    """Pages that say whose they are and how many there are."""

    def __init__(self, head: str, foot: str, **options: object) -> None:
        super().__init__(**options)  # type: ignore[arg-type]
        self.head_text, self.foot_text = latin(head), latin(foot)

    def header(self) -> None:
        """Write the line above."""
        self.set_font("Helvetica", "", 8)
        self.set_y(MARGIN_MM - 2)
        self.cell(0, 4, self.head_text, new_x="LMARGIN", new_y="NEXT")
        self.set_y(MARGIN_MM + 8)

    def footer(self) -> None:
        """Write the line below."""
        self.set_font("Helvetica", "", 7)
        self.set_y(-MARGIN_MM)
        self.cell(
            0,
            4,
            f"{self.foot_text}   Page {self.page_no()} of {{nb}}   Signed: ____________________  Date: ____________",
        )


def _table(pdf: FPDF, table: RecordTable) -> None:
    pdf.add_page()
    pdf.set_font("Helvetica", "B", 13)
    pdf.cell(0, 7, latin(table.title), new_x="LMARGIN", new_y="NEXT")
    if table.note:
        pdf.set_font("Helvetica", "", 8)
        pdf.multi_cell(0, 4, latin(table.note), new_x="LMARGIN", new_y="NEXT")
    pdf.ln(2)
    if not table.rows:
        pdf.set_font("Helvetica", "", 10)
        pdf.cell(0, 6, "Nothing yet.")
        return
    heads, rows = _on_paper(table)
    letters = [
        min(WIDEST_LETTERS, max(_longest(heads[k]), *(len(row[k]) for row in rows))) + 3
        for k in range(len(heads))
    ]
    points = max(LEAST_POINTS, min(MOST_POINTS, pdf.epw / sum(letters) / 0.19))
    pdf.set_font("Helvetica", "", points)
    with pdf.table(
        col_widths=tuple(letters), borders_layout=TableBordersLayout.HORIZONTAL_LINES, headings_style=FontFace(emphasis="BOLD"),
        line_height=points * 0.55, text_align="LEFT",
    ) as grid:  # fmt: skip
        grid.row(heads)
        for row in rows:
            grid.row(row)


def _on_paper(table: RecordTable) -> tuple[list[str], list[list[str]]]:
    """Return headings and cells as they stand on paper."""
    together = table.paper or tuple((column.replace("_", " "), (column,)) for column in table.columns)
    where = {column: k for k, column in enumerate(table.columns)}
    rows = [
        [latin(" ".join(filter(None, (_shown(row[where[c]]) for c in columns)))) for _, columns in together]
        for row in table.rows
    ]
    return [latin(heading) for heading, _ in together], rows


def _longest(heading: str) -> int:
    return max(len(word) for word in heading.split())


def _shown(cell: Cell) -> str:
    if cell is None:
        return ""
    return f"{cell:,.2f}".rstrip("0").rstrip(".") if isinstance(cell, float) else str(cell)
