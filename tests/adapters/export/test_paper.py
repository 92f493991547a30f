"""Day lists on paper, read back by a program that was not written here (pypdf)."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from adapters.export.paper import LARGEST_PT, SIZES, SMALLEST_PT, _type_size, latin, sheets_pdf
from shared.sheet import Sheet, SheetJob


def sheet(name: str = "Beñat", jobs: int = 2, link: str = "", lines: int = 3) -> Sheet:
    """Return a sheet."""
    return Sheet(
        f"{name}, Lunes 10 mayo", "Three Alders", "Tenga cuidado", ("Lea la etiqueta.", "Líneas eléctricas: pliegue antes de girar."),
        (("Enganchar", ("Tanque lleno",)), ("Cargar", ())),
        tuple(SheetJob(f"0{k % 9}:00-0{k % 9}:45", f"Field {k}, 25 ac", tuple(f"line {n} of {k}: seed, rate and amount for this field" for n in range(lines))) for k in range(jobs)),
        "Nothing planned.", "Notas", "The plan advises.", link,
    )  # fmt: skip


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_one_page_a_person_in_the_right_size_with_every_word(size: str) -> None:
    """ISO 216 A4 is 210 x 297 mm; letter is 8.5 x 11 in (215.9 x 279.4 mm)."""
    reader = PdfReader(BytesIO(sheets_pdf([sheet("Beñat"), sheet("Ilse"), sheet("Tove", jobs=0)], size)))
    assert len(reader.pages) == 3
    wide, high = (float(side) / 72 * 25.4 for side in reader.pages[0].mediabox[2:])
    assert (wide, high) == pytest.approx(SIZES[size], abs=0.1)
    first, _, third = (page.extract_text() for page in reader.pages)
    for text in (
        "Beñat, Lunes 10 mayo",
        "Líneas eléctricas",
        "Tanque lleno",
        "Field 1, 25 ac",
        "line 2 of 1",
        "Notas",
        "The plan advises.",
    ):
        assert text in first
    assert first.index("Tenga cuidado") < first.index("Field 0")
    assert "Nothing planned." in third


def test_a_long_day_is_set_smaller_until_it_fits_and_a_short_one_large() -> None:
    assert _type_size(sheet(jobs=1), "letter") == LARGEST_PT
    sizes = [_type_size(sheet(jobs=k), "letter") for k in (2, 5, 8, 10)]
    assert sizes == sorted(sizes, reverse=True) and sizes[-1] > SMALLEST_PT
    page = PdfReader(BytesIO(sheets_pdf([sheet(jobs=10)], "letter"))).pages[0]
    below = [
        float(match.group(1))
        for match in re.finditer(r"([\d.]+) Td", page.get_contents().get_data().decode("latin-1"))
    ]  # type: ignore[union-attr]
    assert len(below) > 30 and min(below) > 30
    assert "line 2 of 9" in page.extract_text()


def test_it_is_black_and_white_and_the_code_is_there_only_with_a_link() -> None:
    with_code = PdfReader(BytesIO(sheets_pdf([sheet(link="http://office.example/crew/x")], "a4"))).pages[0]
    without = PdfReader(BytesIO(sheets_pdf([sheet()], "a4"))).pages[0]
    assert len(with_code.images) == 1 and not without.images
    colours = re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)", without.get_contents().get_data())  # type: ignore[union-attr]
    assert all(r == g == b for r, g, b in colours)


def test_letters_that_paper_does_not_know_are_written_plainly() -> None:
    assert latin("Łódź – niña 雨") == "?ódz - niña ?"
