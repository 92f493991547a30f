"""The week board as PDF, landscape, black on white: one page in the largest type that fits, more pages where the type would be too small."""

from __future__ import annotations

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, XPos, YPos

from adapters.export.paper import SIZES, latin
from shared.board import Board, BoardRow

MARGIN_MM, LABEL_MM, PAD_MM, LEAST_DAY_MM = 9.0, 26.0, 1.0, 16.0
LARGEST_PT, SMALLEST_PT, STEP_PT = 12.0, 6.5, 0.25
LINE_MM_PER_PT = 0.42


def board_pdf(board: Board, size: str) -> bytes:
    """Return the pages; `size` is ``a4`` or ``letter``.

    Notes
    -----
    Days on which nobody works take less room than the others.
    """
    fits, steps = 0, int((LARGEST_PT - SMALLEST_PT) / STEP_PT)
    low, high = 1, steps
    while low <= high:
        middle = (low + high) // 2
        if _drawn(board, size, SMALLEST_PT + middle * STEP_PT).pages_count == 1:
            fits, low = middle, middle + 1
        else:
            high = middle - 1
    return bytes(_drawn(board, size, SMALLEST_PT + fits * STEP_PT).output())


def _drawn(board: Board, size: str, points: float) -> FPDF:
    pdf = FPDF(format=SIZES[size], orientation="landscape", unit="mm")
    pdf.set_margins(MARGIN_MM, MARGIN_MM, MARGIN_MM)
    pdf.set_auto_page_break(False)
    pdf.set_title("Week board")
    widths = _widths(pdf, board)
    _head(pdf, board, widths, points)
    for title, rows in board.parts:
        if rows:
            pdf.ln(1)
            _text(pdf, title, min(points + 1, 10), bold=True)
        for row in rows:
            for part in _fitting(pdf, row, widths, points, _room(pdf) - pdf.t_margin - 24):
                if pdf.get_y() + _height(pdf, part, widths, points) > _room(pdf):
                    _head(pdf, board, widths, points)
                _row(pdf, part, widths, points)
    return pdf


def _room(pdf: FPDF) -> float:
    """Return how far down a page may be written [mm]."""
    return pdf.h - MARGIN_MM - 5


def _head(pdf: FPDF, board: Board, widths: list[float], points: float) -> None:
    """Begin a page: the last line first, so that the place is kept for the rows."""
    pdf.add_page()
    pdf.set_y(pdf.h - MARGIN_MM - 3)
    _text(pdf, board.foot, 7)
    pdf.set_y(MARGIN_MM)
    _text(pdf, board.title, 15, bold=True)
    _text(pdf, board.sub, 9)
    pdf.ln(1)
    _row(pdf, BoardRow("", tuple((column,) for column in board.columns)), widths, points, bold=True)


def _widths(pdf: FPDF, board: Board) -> list[float]:
    """Return the width of each day [mm]: by the square root of its lines, so that a full day gets more room but not all."""
    lines = [
        sum(len(row.cells[k]) for _, rows in board.parts for row in rows) for k in range(len(board.columns))
    ]
    weight = [max(1.0, line) ** 0.5 for line in lines]
    room = pdf.epw - LABEL_MM - LEAST_DAY_MM * len(weight)
    return [LEAST_DAY_MM + room * one / sum(weight) for one in weight]


def _fitting(pdf: FPDF, row: BoardRow, widths: list[float], points: float, room: float) -> list[BoardRow]:
    """Return a row in so many pieces that each fits a page."""
    if _height(pdf, row, widths, points) <= room or max((len(cell) for cell in row.cells), default=0) < 2:
        return [row]
    half = max(len(cell) for cell in row.cells) // 2
    first, second = (
        BoardRow(row.label, tuple(cell[part] for cell in row.cells))
        for part in (slice(None, half), slice(half, None))
    )
    return _fitting(pdf, first, widths, points, room) + _fitting(pdf, second, widths, points, room)


def _height(pdf: FPDF, row: BoardRow, widths: list[float], points: float) -> float:
    """Return how high a row is [mm]."""
    most = 1
    for place, (width, lines) in enumerate(zip([LABEL_MM, *widths], [(row.label,), *row.cells], strict=True)):
        pdf.set_font("Helvetica", "" if place else "B", points)
        count = 0
        for line in lines:
            found = pdf.multi_cell(
                width - PAD_MM, points, latin(line), dry_run=True, output=MethodReturnValue.LINES
            )
            count += len(found)  # type: ignore[arg-type]
        most = max(most, count)
    return most * points * LINE_MM_PER_PT + PAD_MM


def _row(pdf: FPDF, row: BoardRow, widths: list[float], points: float, bold: bool = False) -> None:
    top, lowest = pdf.get_y(), pdf.get_y() + points * LINE_MM_PER_PT + PAD_MM
    x = MARGIN_MM
    for place, (width, lines) in enumerate(zip([LABEL_MM, *widths], [(row.label,), *row.cells], strict=True)):
        pdf.set_y(top + PAD_MM / 2)
        pdf.set_font("Helvetica", "B" if bold or place == 0 else "", points)
        for line in lines:
            pdf.set_x(x + PAD_MM / 2)
            pdf.multi_cell(
                width - PAD_MM,
                points * LINE_MM_PER_PT,
                latin(line),
                new_x=XPos.LMARGIN,
                new_y=YPos.NEXT,
                align="L",
            )
        lowest = max(lowest, pdf.get_y() + PAD_MM / 2)
        x += width
    x = MARGIN_MM
    for width in [LABEL_MM, *widths]:
        pdf.rect(x, top, width, lowest - top)
        x += width
    pdf.set_xy(MARGIN_MM, lowest)


def _text(pdf: FPDF, text: str, points: float, bold: bool = False) -> None:
    pdf.set_font("Helvetica", "B" if bold else "", points)
    pdf.cell(0, points * 0.45, latin(text), new_x=XPos.LMARGIN, new_y=YPos.NEXT)
