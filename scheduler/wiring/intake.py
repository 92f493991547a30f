"""A farm folder out of what a manager has already: boundaries or a list of fields. All of it is written, or nothing."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from adapters.boundaries import BoundaryFaults, Intake, Words, read_fields
from adapters.storage.farm_files import OUTLINES
from scheduler.farm.starter import STORY_BEGINS, OwnFarm, OwnField, starter_farm
from scheduler.wiring.workspace import check_farm
from shared.errors import FarmFileError, Fault, FitgroundError

US_EDGES = (
    (-114.0, "America/Los_Angeles"),
    (-102.0, "America/Denver"),
    (-86.0, "America/Chicago"),
    (-66.0, "America/New_York"),
)
"""Rough meridians between the time zones of the contiguous states; only a first guess, and said so."""


@dataclass(frozen=True)
class Wish:
    """What the user said of the farm to be.

    Attributes
    ----------
    place : (latitude, longitude) or None
        Where the yard is [deg]; the middle of the fields where not said.
    time_zone, contact : str
        Empty: guessed from the place; no live weather.
    defaults : mapping
        Row keys for fields that do not say them.
    """

    name: str = "Our farm"
    place: tuple[float, float] | None = None
    time_zone: str = ""
    elevation_m: float = 250.0
    units: str = "us"
    defaults: Mapping[str, str] = field(default_factory=dict)
    contact: str = ""
    begins: date = STORY_BEGINS


BASE = {
    "crop": "corn", "cover": "none", "texture": "silt loam", "tiled": "no", "hydrologic_group": "B", "slope": "1 %", "residue": "60 %",
    "row_spacing": "30 in",
}  # fmt: skip
"""What a field is taken for until somebody says better: common practice in the western Corn Belt, no source."""


def read_intake(path: Path, words: Words) -> Intake:
    """Read a file of fields.

    Raises
    ------
    adapters.boundaries.BoundaryFaults
        Every fault at once.
    """
    return read_fields(path, words)


def is_mendable(error: FitgroundError) -> frozenset[str]:
    """Return what a word of the user would mend of a refusal: ``repair``, ``swap``, ``crs``."""
    return error.mends if isinstance(error, BoundaryFaults) else frozenset()


def write_farm(folder: Path, wish: Wish, intake: Intake | None) -> tuple[list[Path], list[str]]:
    """Write a farm folder, checked before anything of it appears.

    Parameters
    ----------
    intake : Intake or None
        The fields; four invented ones where None.

    Returns
    -------
    list of Path, list of str
        Files written, and notes a person should read.

    Raises
    ------
    FitgroundError
        A file of that name is there already, or what would be written has faults (as `FarmFileError`).
    """
    own, notes = (None, []) if intake is None else _own(wish, intake)
    texts = starter_farm(wish.name, wish.begins, own)
    if intake is not None and any(one.geometry for one in intake.fields):
        texts[OUTLINES] = _outlines(intake)
    taken = [name for name in texts if (folder / name).exists()]
    if taken:
        raise FitgroundError(f"{folder / taken[0]} exists already; choose an empty folder.")
    folder.parent.mkdir(parents=True, exist_ok=True)
    draft = Path(tempfile.mkdtemp(prefix=".fitground-init-", dir=folder.parent))
    try:
        for name, text in texts.items():
            (draft / name).parent.mkdir(parents=True, exist_ok=True)
            (draft / name).write_text(text, encoding="utf-8")
        notes += _judged(draft, intake, wish.begins)
        return _moved(draft, folder, list(texts)), notes
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _judged(draft: Path, intake: Intake | None, today: date) -> list[str]:
    """Check the farm before it appears; faults of fields are named as in the user's own file."""
    faults, _ = check_farm(draft, today)
    errors = [fault for fault in faults if not fault.warning]
    if errors:
        raise FarmFileError([_told(fault, intake) for fault in errors])
    return [fault.sentence() for fault in faults]


def _told(fault: Fault, intake: Intake | None) -> Fault:
    row, _, key = fault.key.partition(", ")
    if intake is None or fault.file != "fields.csv" or not row.startswith("row "):
        return fault
    number = int(row.removeprefix("row ")) - 2
    return replace(
        fault,
        file="the fields",
        key=f"{intake.fields[number].name}, {key}" if number < len(intake.fields) else fault.key,
    )


def _moved(draft: Path, folder: Path, names: list[str]) -> list[Path]:
    """Put the files in their place: the whole folder at once where it is new, else one by one, taken back when one fails."""
    if not folder.exists():
        draft.rename(folder)
        folder.chmod(0o755)
        return [folder / name for name in names]
    done: list[Path] = []
    try:
        for name in names:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (draft / name).rename(folder / name)
            done.append(folder / name)
    except OSError as error:
        for path in done:
            path.unlink(missing_ok=True)
        raise FitgroundError(
            f"{folder} cannot be written ({error.strerror}); nothing was left there."
        ) from error
    return done


def _own(wish: Wish, intake: Intake) -> tuple[OwnFarm, list[str]]:
    notes = list(intake.notes)
    marked = None if intake.spot is None else (intake.spot.latitude_deg, intake.spot.longitude_deg)
    place = wish.place or marked or _middle(intake)
    if wish.place is None and intake.spot is not None:
        notes.append(
            f"The yard stands at {intake.spot.name!r}, the only place that the file marks (farm.toml)."
        )
    elif wish.place is None:
        notes.append(
            "Nobody said where the yard is: it stands in the middle of the fields. Put its place into farm.toml."
        )
    zone = wish.time_zone or guess_zone(*place)
    if not wish.time_zone:
        notes.append(f"The time zone {zone} was guessed from the place; farm.toml says it.")
    defaults = BASE | {key: value for key, value in wish.defaults.items() if value}
    for key, what in (("crop", "crop"), ("texture", "soil texture"), ("cover", "cover")):
        lacking = sum(1 for one in intake.fields if not one.values.get(key))
        if lacking and key not in wish.defaults:
            notes.append(
                f"{lacking} of {len(intake.fields)} fields do not say their {what}: taken for {defaults[key]!r} (fields.csv)."
            )
    fields = tuple(
        OwnField(one.id, one.name, one.area_ha, one.latitude_deg, one.longitude_deg, one.values)
        for one in intake.fields
    )
    own = OwnFarm(fields, place[0], place[1], zone, wish.elevation_m, wish.units, defaults, wish.contact)
    if own.seeds:
        names = ", ".join(one.name for one in own.seeds.values())
        notes.append(
            f"Seeds that fields name got a stock as large as these fields want (farm.toml): {names}."
        )
    return own, notes


def _middle(intake: Intake) -> tuple[float, float]:
    """Return the area-weighted middle of the fields."""
    total = intake.area_ha
    return (
        sum(one.latitude_deg * one.area_ha for one in intake.fields) / total,
        sum(one.longitude_deg * one.area_ha for one in intake.fields) / total,
    )


def guess_zone(latitude: float, longitude: float) -> str:
    """Return a first guess of the time zone: of the contiguous United States by meridians, else the nautical one."""
    if 24 <= latitude <= 50 and -125 <= longitude <= -66:
        return next(zone for edge, zone in US_EDGES if longitude <= edge)
    hours = round(longitude / 15.0)
    return "UTC" if hours == 0 else f"Etc/GMT{-hours:+d}"


def _outlines(intake: Intake) -> str:
    features = [
        {
            "type": "Feature",
            "id": one.id,
            "geometry": one.geometry,
            "properties": {"id": one.id, "name": one.name},
        }
        for one in intake.fields
        if one.geometry
    ]
    lines = ",\n".join(json.dumps(one, ensure_ascii=False) for one in features)
    return '{"type": "FeatureCollection", "features": [\n' + lines + "\n]}\n"


__all__ = ["Wish", "Words", "guess_zone", "is_mendable", "read_intake", "write_farm"]
