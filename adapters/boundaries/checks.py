"""Rows of a file into fields: every fault at once, and everything that a person should know before trusting the areas."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from adapters.boundaries.columns import HEADINGS, guessed, which
from adapters.boundaries.found import BoundaryFaults, FoundField, Intake, RawFeature, RawFile, Words
from adapters.boundaries.one_field import Sieve, one_field
from adapters.boundaries.shapes import apart_km, overlaps
from shared.errors import Fault
from shared.slug import slug

WIDE_KM, SHARED_NOTE, SHARED_FAULT = 200.0, 0.02, 0.5
MOST_FAULTS, SHOWN_UNNAMED = 30, 3


def checked(raw: RawFile, file: str, words: Words) -> Intake:
    """Return the fields of a file.

    Raises
    ------
    BoundaryFaults
        Every fault at once; `mends` holds what the user's word would mend, when that would mend all.
    """
    sieve = Sieve(file, words, notes=list(raw.notes))
    headings = list(dict.fromkeys(name for row in raw.rows for name in row.values))
    _said_columns(words, headings, sieve)
    if sieve.faults:
        # What the rows lack is then often only the column that was meant.
        raise BoundaryFaults(sieve.faults, ())
    columns = which(headings, words.columns)
    guesses = guessed([row.values for row in raw.rows], headings, columns)
    _unused(headings, columns, guesses, sieve)
    rows = [row for row in raw.rows if not _without_shape(row, raw.listed, sieve)]
    found = [one_field(row, number, columns, sieve) for number, row in enumerate(rows, 1)]
    kept = [
        (row, one, ground)
        for row, item in zip(rows, found, strict=True)
        if item is not None
        for one, ground in [item]
    ]
    _names(kept, sieve)
    _neighbours(kept, sieve)
    if sieve.faults:
        raise BoundaryFaults(_some(sieve), sieve.mends if all(sieve.mends) else ())
    if not kept:
        raise BoundaryFaults(
            [Fault(file, "the file", "", "holds no field to plan", "at least one field in corn or soybean")]
        )
    _wide(kept, sieve)
    _unnamed(sieve)
    fields = tuple(_with_ids([one for _, one, _ in kept]))
    return Intake(fields, tuple(dict.fromkeys(sieve.notes)), guesses, raw.spot)


def _said_columns(words: Words, headings: list[str], sieve: Sieve) -> None:
    """Refuse a key that no field has, and a heading that the file has not."""
    for key, name in words.columns.items():
        if key not in HEADINGS:
            sieve.fault("--column", f"{key}={name}", "is about nothing of a field", ", ".join(HEADINGS))
        elif name not in headings:
            sieve.fault("--column", name, "is no column of the file", ", ".join(headings[:30]) or "(none)")


def _unused(
    headings: list[str], columns: Mapping[str, str], guesses: Mapping[str, str], sieve: Sieve
) -> None:
    """Say which columns mean nothing here, and which of them look as if they should."""
    unused = [name for name in headings if name not in columns.values() and name.lower() != "id"]
    if unused:
        sieve.notes.append(
            f"Columns that were not used: {', '.join(unused[:12])}{' ...' if len(unused) > 12 else ''}."
        )
    for key, name in guesses.items():
        sieve.notes.append(
            f"{name} looks like the {key} of a field: --column {shlex.quote(f'{key}={name}')} takes it."
        )


def _unnamed(sieve: Sieve) -> None:
    """Say which fields got a name that nobody gave them; of many, the first and the last."""
    if len(sieve.unnamed) > SHOWN_UNNAMED:
        first, last = sieve.unnamed[0][1], sieve.unnamed[-1][1]
        sieve.notes.append(f"{len(sieve.unnamed)} fields have no name and are called {first!r} to {last!r}.")
        return
    sieve.notes += [f"{label} has no name and is called {name!r}." for label, name in sieve.unnamed]


def _some(sieve: Sieve) -> list[Fault]:
    alike = _alike(sieve.faults)
    shown = alike[:MOST_FAULTS]
    if len(alike) > MOST_FAULTS:
        shown.append(Fault(sieve.file, "and", "", f"{len(alike) - MOST_FAULTS} faults more", ""))
    return shown


def _alike(faults: list[Fault]) -> list[Fault]:
    """Return each fault once: of rows that all lack the same, the first one with the count of the others."""
    same: dict[tuple[str, str, str], list[Fault]] = {}
    for one in faults:
        same.setdefault((one.value, one.problem, one.allowed), []).append(one)
    return [
        first if not more else replace(first, key=f"{first.key} and {len(more)} more")
        for first, *more in same.values()
    ]


def _without_shape(row: RawFeature, listed: bool, sieve: Sieve) -> bool:
    if row.geometry is None and not listed:
        sieve.notes.append(f"{row.label} has no outline and was left out.")
        return True
    return False


def _names(kept: list[Any], sieve: Sieve) -> None:
    """Refuse names that stand twice: a report about one of them would be about both."""
    counted = Counter(one.name.casefold() for _, one, _ in kept)
    for name, times in counted.items():
        if times > 1:
            rows = ", ".join(row.label for row, one, _ in kept if one.name.casefold() == name)
            shown = next(one.name for _, one, _ in kept if one.name.casefold() == name)
            sieve.fault(
                rows,
                shown,
                f"is the name of {times} fields",
                "every name once; --column name=COLUMN takes another column",
            )


def _neighbours(kept: list[Any], sieve: Sieve) -> None:
    measured = [(one, ground) for _, one, ground in kept if ground is not None]
    for a, b, share in overlaps([ground.surface for _, ground in measured], SHARED_NOTE):
        left, right = measured[a][0].name, measured[b][0].name
        if share > SHARED_FAULT:
            sieve.fault(
                f"{left} and {right}",
                "",
                f"share {share:.0%} of the smaller one's ground",
                "each piece of ground in one field",
            )
        else:
            sieve.notes.append(f"{left} and {right} share {share:.0%} of the smaller one's ground.")


def _wide(kept: list[Any], sieve: Sieve) -> None:
    east = [one.longitude_deg for _, one, _ in kept]
    north = [one.latitude_deg for _, one, _ in kept]
    wide = apart_km((min(east), min(north)), (max(east), max(north)))
    if wide > WIDE_KM:
        sieve.notes.append(f"The fields spread over {wide:,.0f} km; is every one of them yours?")


def _with_ids(fields: list[FoundField]) -> list[FoundField]:
    """Give every field an id for reports: the file's own where it is a word, else made from its name."""
    out, taken = [], set()
    for one in fields:
        wish = one.id if one.id and not one.id.replace(".", "").isdigit() else one.name
        base = slug(wish) or slug(one.name) or "field"
        name, more = base, 2
        while name in taken:
            name, more = f"{base}-{more}", more + 1
        taken.add(name)
        out.append(
            FoundField(
                name, one.name, one.area_ha, one.latitude_deg, one.longitude_deg, one.geometry, one.values
            )
        )
    return out
