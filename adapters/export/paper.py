"""Sheets as PDF: black on white, one page a person, large type, boxes to tick, room for notes, a square code to the person's page.

The built-in fonts of PDF know Latin-1, which holds English and Spanish; other letters are written with their nearest ones.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from io import BytesIO

import segno
from fpdf import FPDF
from fpdf.enums import XPos, YPos

from shared.sheet import Sheet, SheetJob

SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN_MM, CODE_MM, BOX_MM = 14.0, 26.0, 4.5
LARGEST_PT, SMALLEST_PT = 13.0, 6.5
NOTES_MM = 24.0


def sheets_pdf(sheets: Iterable[Sheet], size: str) -> bytes:
    """Return a PDF with one page for each sheet.

    Parameters
    ----------
    size : str
        ``a4`` or ``letter``.
    """
    pdf = _paper(size)
    for sheet in sheets:
        _page(pdf, sheet, _type_size(sheet, size))
    return bytes(pdf.output())


def _paper(size: str) -> FPDF:
    pdf = FPDF(format=SIZES[size], unit="mm")
    pdf.set_margins(MARGIN_MM, MARGIN_MM, MARGIN_MM)
    pdf.set_auto_page_break(False)
    pdf.set_title("Day lists")
    return pdf


def _type_size(sheet: Sheet, size: str) -> float:
    """Return the largest type in which a sheet fits its page."""
    points = LARGEST_PT
    while points > SMALLEST_PT:
        trial = _paper(size)
        _page(trial, sheet, points)
        if trial.get_y() <= SIZES[size][1] - MARGIN_MM - NOTES_MM - 8:
            return points
        points -= 0.5
    return SMALLEST_PT


def _page(pdf: FPDF, sheet: Sheet, points: float) -> None:
    pdf.add_page()
    if sheet.link:
        _code(pdf, sheet.link)
    wide = pdf.epw - (CODE_MM + 4 if sheet.link else 0)
    _text(pdf, sheet.head, points + 6, bold=True, width=wide)
    _text(pdf, sheet.sub, points - 1, width=wide)
    if sheet.link:
        pdf.set_y(max(pdf.get_y(), MARGIN_MM + CODE_MM))
    if sheet.cautions:
        _rule(pdf)
        _text(pdf, sheet.cautions_title, points, bold=True)
        for line in sheet.cautions:
            _text(pdf, f"! {line}", points - 2)
    if sheet.news:
        _rule(pdf)
        _text(pdf, sheet.news_title, points, bold=True)
        for line in sheet.news:
            _text(pdf, line, points - 1)
    for title, lines in sheet.ticks:
        if lines:
            _rule(pdf)
            _text(pdf, title, points, bold=True)
            for line in lines:
                _ticked(pdf, line, points)
    _rule(pdf)
    for job in sheet.jobs:
        _job(pdf, job, points)
    if not sheet.jobs:
        _text(pdf, sheet.empty, points + 2)
    for line in sheet.watch:
        _text(pdf, f"! {line}", points - 1)
    _bottom(pdf, sheet, points)


def _job(pdf: FPDF, job: SheetJob, points: float) -> None:
    _ticked(pdf, f"{job.clock}  {job.title}", points + 1, bold=True)
    for line in job.lines:
        _text(pdf, line, points - 1, indent=BOX_MM + 3)
    pdf.ln(1.2)


def _bottom(pdf: FPDF, sheet: Sheet, points: float) -> None:
    """Draw the room for notes and the last line; the place of the text above is kept, since the type is fitted to it."""
    y = pdf.get_y()
    top = pdf.h - MARGIN_MM - NOTES_MM
    pdf.set_xy(MARGIN_MM, top - 5)
    _text(pdf, sheet.notes_title, min(points, 10), bold=True)
    pdf.rect(MARGIN_MM, top, pdf.epw, NOTES_MM - 6)
    pdf.set_xy(MARGIN_MM, pdf.h - MARGIN_MM - 4)
    _text(pdf, sheet.foot, 7.5)
    pdf.set_y(y)


def _text(
    pdf: FPDF, text: str, points: float, bold: bool = False, indent: float = 0.0, width: float = 0.0
) -> None:
    pdf.set_font("Helvetica", "B" if bold else "", points)
    pdf.set_x(MARGIN_MM + indent)
    wide = width or pdf.epw - indent
    pdf.multi_cell(wide, points * 0.45, latin(text), new_x=XPos.LMARGIN, new_y=YPos.NEXT, align="L")


def _ticked(pdf: FPDF, text: str, points: float, bold: bool = False) -> None:
    pdf.rect(MARGIN_MM, pdf.get_y() + 0.6, BOX_MM - 0.8, BOX_MM - 0.8)
    _text(pdf, text, points, bold, indent=BOX_MM + 1)


def _rule(pdf: FPDF) -> None:
    pdf.ln(1.5)
    pdf.set_line_width(0.5)
    pdf.line(MARGIN_MM, pdf.get_y(), pdf.w - MARGIN_MM, pdf.get_y())
    pdf.set_line_width(0.25)
    pdf.ln(1.0)


def _code(pdf: FPDF, link: str) -> None:
    picture = BytesIO()
    segno.make(link, error="m").save(picture, kind="png", scale=6, border=2)
    pdf.image(picture, pdf.w - MARGIN_MM - CODE_MM, MARGIN_MM - 2, CODE_MM, CODE_MM)


def latin(text: str) -> str:
    """Return a text in Latin-1, other letters by their nearest ones."""
    out = []
    for mark in text.replace("–", "-").replace("—", "-").replace("’", "'").replace("…", "..."):
        if ord(mark) < 256:
            out.append(mark)
            continue
        out.append("".join(part for part in unicodedata.normalize("NFKD", mark) if ord(part) < 256) or "?")
    return "".join(out)
