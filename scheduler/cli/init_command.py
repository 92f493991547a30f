"""`fitground init`: a farm folder out of boundaries or a list of fields, by a short conversation or by flags."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import click

from scheduler.cli.frame import json_option, print_json, read_date, sentences
from scheduler.cli.plan_commands import plan
from shared.counted import counted
from shared.errors import FitgroundError
from shared.units import show

COVERS, CROPS = ("none", "rye", "clover", "mix"), ("corn", "soybean")
NOTES_MOST = 12


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option(
    "--from",
    "source",
    type=click.Path(path_type=Path),
    help="Boundaries (GeoJSON, zipped shapefile, KML) or a list (CSV, xlsx).",
)
@click.option("--name", default=None, help="Name of the farm.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="KEY=HEADING",
    help="Which column is what, e.g. name=FIELDNAME, crop=CRP27.",
)
@click.option("--crop", type=click.Choice(CROPS), default=None, help="Crop of fields that do not say theirs.")
@click.option(
    "--cover", type=click.Choice(COVERS), default=None, help="Cover crop on fields that do not say theirs."
)
@click.option(
    "--texture", default=None, help="Soil texture of fields that do not say theirs, e.g. 'silt loam'."
)
@click.option("--latitude", type=click.FloatRange(-66, 66), default=None, help="Of the yard, in degrees.")
@click.option("--longitude", type=click.FloatRange(-180, 180), default=None, help="Of the yard, in degrees.")
@click.option("--elevation-m", type=click.FloatRange(-400, 5000), default=250.0, show_default=True)
@click.option("--time-zone", default="", help="IANA name; guessed from the place where not said.")
@click.option("--units", type=click.Choice(["us", "metric"]), default=None, help="How values are written.")
@click.option("--crs", default="", help="Projection of a file that does not say it, e.g. EPSG:26915.")
@click.option("--repair", is_flag=True, help="Mend outlines that cross themselves.")
@click.option("--swap-axes", is_flag=True, help="The file has latitude before longitude.")
@click.option(
    "--contact",
    default="",
    help="Your address, told to live weather services; without it the weather is invented.",
)
@click.option(
    "--begin",
    default=None,
    metavar="DATE",
    help="Day that the invented weather forecasts (default: 10 May to come).",
)
@click.option(
    "--plan", "plan_too", is_flag=True, help="Make the first plan at once (with --json: that plan)."
)
@click.option(
    "--seconds", type=click.FloatRange(0.1, 3600), default=None, help="How long that plan may think."
)
@click.option(
    "--ask/--no-ask",
    default=None,
    help="Hold the conversation (default: when a person sits at the terminal).",
)
@json_option
@sentences
def init(
    folder: Path | None, source: Path | None, name: str | None, columns: tuple[str, ...], plan_too: bool, seconds: float | None,
    ask: bool | None, as_json: bool, **said: Any,
) -> None:  # fmt: skip
    """Make a farm folder that plans at once: from your field boundaries, a list, or four invented fields.

    \b
      fitground init myfarm                              a conversation, or with flags alone:
      fitground init myfarm --from fields.zip            boundaries as a zipped shapefile
      fitground init myfarm --from fields.geojson --crop corn --cover rye --plan
      fitground init myfarm --from list.csv --column name=Piece --latitude 42.0 --longitude=-93.0

    Nothing is written unless all of it is sound; existing files are never touched.
    """
    from scheduler.wiring.intake import Wish, read_intake, write_farm

    asks = (sys.stdin.isatty() if ask is None else ask) and not as_json
    folder, source, name = _opening(folder, source, name, asks)
    intake = None if source is None else _read(source, said, columns, asks, read_intake)
    defaults = _defaults(said, intake, asks)
    place = (
        None
        if said["latitude"] is None or said["longitude"] is None
        else (said["latitude"], said["longitude"])
    )
    if asks and intake is not None and place is None:
        place = _ask_place("the middle of the fields" if intake.spot is None else repr(intake.spot.name))
    units = said["units"] or (
        click.prompt("Units", type=click.Choice(["us", "metric"]), default="us") if asks else "us"
    )
    begins = _begin(said["begin"])
    wish = Wish(name, place, said["time_zone"], said["elevation_m"], units, defaults, said["contact"], begins)
    written, notes = write_farm(folder, wish, intake)
    if not (as_json and plan_too):
        _tell(folder, written, notes, intake, wish, as_json)
    if plan_too:
        now = None if wish.contact else f"{begins} 05:00"
        click.get_current_context().invoke(
            plan, farm=folder, seconds=seconds, page=None, keep=True, as_json=as_json, now=now
        )


def _opening(
    folder: Path | None, source: Path | None, name: str | None, asks: bool
) -> tuple[Path, Path | None, str]:
    if folder is None:
        if not asks:
            raise FitgroundError(
                "init: FOLDER is missing; allowed: the folder to make, e.g. fitground init myfarm."
            )
        folder = Path(click.prompt("Folder for the farm", default="myfarm"))
    if asks and name is None:
        name = click.prompt("Name of the farm", default="Our farm")
    if asks and source is None:
        answer = click.prompt(
            "File with your fields: boundaries (.geojson, .zip, .kml) or a list (.csv, .xlsx); Enter for four invented ones", default="", show_default=False
        )  # fmt: skip
        source = Path(answer.strip("'\" ")).expanduser() if answer.strip() else None
    return folder, source, name or "Our farm"


def _read(source: Path, said: dict[str, Any], columns: tuple[str, ...], asks: bool, read_intake: Any) -> Any:
    """Read the file; in a conversation, what the user's word can mend is asked for, one thing after the other."""
    from scheduler.wiring.intake import Words, is_mendable

    pairs = [one.partition("=") for one in columns]
    if any(not (key and mark and heading) for key, mark, heading in pairs):
        raise FitgroundError(
            f"--column {' '.join(columns)!r} cannot be read; allowed: KEY=HEADING, e.g. --column name=FIELDNAME."
        )
    near = (
        None
        if said["latitude"] is None or said["longitude"] is None
        else (said["latitude"], said["longitude"])
    )
    words = Words(
        said["repair"],
        said["swap_axes"],
        said["crs"],
        {key.strip(): heading.strip() for key, _, heading in pairs},
        near,
    )
    while True:
        try:
            intake = read_intake(source, words)
            more = _ask_columns(intake.guesses) if asks else {}
            return read_intake(source, replace(words, columns={**words.columns, **more})) if more else intake
        except FitgroundError as error:
            mends = is_mendable(error)
            if not asks or not mends:
                raise
            click.echo(str(error))
            words = _ask_mend(words, mends, error)


def _ask_columns(guesses: Any) -> dict[str, str]:
    """Return the columns that the user says are what their values look like."""
    return {
        key: name
        for key, name in guesses.items()
        if click.confirm(f"Column {name!r} looks like the {key} of a field. Take it?", default=True)
    }


def _ask_mend(words: Any, mends: frozenset[str], error: FitgroundError) -> Any:
    changes: dict[str, Any] = {}
    if "crs" in mends:
        answer = click.prompt("Projection of the file (e.g. EPSG:4326 for degrees, EPSG:26915 for UTM 15 north; Enter stops)", default="", show_default=False)  # fmt: skip
        if not answer.strip():
            raise error
        changes["crs"] = answer.strip()
    for mend, question in (
        ("swap", "Turn latitude and longitude round?"),
        ("repair", "Mend these outlines?"),
    ):
        if mend in mends:
            if not click.confirm(question, default=False):
                raise error
            changes[mend] = True
    return replace(words, **changes)


def _defaults(said: dict[str, Any], intake: Any, asks: bool) -> dict[str, str]:
    out = {key: said[key] for key in ("crop", "cover", "texture") if said[key]}
    if asks and intake is not None:
        click.echo(
            f"{counted(len(intake.fields), 'field')}, {show(intake.area_ha, 'area_ha', 'us', 0)} ({show(intake.area_ha, 'area_ha', 'metric', 0)})."
        )
        for key, choices, question in (
            ("crop", CROPS, "Crop of the fields that do not say theirs"),
            ("cover", COVERS, "Cover crop standing on them"),
        ):
            if key not in out and any(not one.values.get(key) for one in intake.fields):
                out[key] = click.prompt(question, type=click.Choice(choices), default=choices[0])
    return out


def _ask_place(otherwise: str) -> tuple[float, float] | None:
    answer = click.prompt(
        f"Where is the yard (latitude, longitude; Enter for {otherwise})",
        default="",
        show_default=False,
    )
    if not answer.strip():
        return None
    try:
        latitude, longitude = (float(part) for part in answer.replace(";", ",").split(","))
        if not (-66 <= latitude <= 66 and -180 <= longitude <= 180):
            raise ValueError
        return latitude, longitude
    except ValueError as error:
        raise FitgroundError(
            f"{answer!r} is no place; allowed: latitude and longitude in degrees, such as 42.01, -92.97."
        ) from error


def _begin(text: str | None) -> date:
    """Return the day that the story begins: the next 10 May where none is said."""
    today = date.today()
    return read_date("--begin", text) or date(today.year + (today > date(today.year, 5, 10)), 5, 10)


def _tell(folder: Path, written: list[Path], notes: list[str], intake: Any, wish: Any, as_json: bool) -> None:
    if as_json:
        fields = 4 if intake is None else len(intake.fields)
        print_json({"written": [str(path) for path in written], "fields": fields, "notes": notes})
        return
    for path in written:
        click.echo(f"wrote {path}")
    if intake is not None:
        click.echo(
            f"{counted(len(intake.fields), 'field')}, {show(intake.area_ha, 'area_ha', wish.units, 1)}, measured on the ellipsoid where there is an outline."
        )
    for note in notes[:NOTES_MOST]:
        click.echo(f"note: {note}")
    if len(notes) > NOTES_MOST:
        click.echo(f"note: {len(notes) - NOTES_MOST} notes more (--json shows all).")
    now = "" if wish.contact else f" --now '{wish.begins} 05:00'"
    click.echo(
        f"Look around first: fitground plan {folder}{now}"
        + ("" if wish.contact else "  (weather/ holds invented weather)")
    )
    what = "machines and people" if intake is not None else "fields, machines, people and weather"
    click.echo(f"Then put in your own {what}, and run: fitground check {folder}")
