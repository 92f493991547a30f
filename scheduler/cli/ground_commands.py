"""`fitground fit`, `workdays` and `stages`: is the ground fit, was the day suitable, where does the crop stand."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from textwrap import wrap

import click

from scheduler.cli.frame import (
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_now,
    sentences,
)
from scheduler.planning.wording import first_few
from scheduler.stages import CornSetting, Scouted, StageOptions, stages_report
from scheduler.windows.ledger import fit_table, ledger
from scheduler.windows.why import why_lines
from scheduler.wiring.daily_weather import read_daily_weather, stretch_at
from scheduler.wiring.mornings import look_ahead
from scheduler.workability.district import TYPICAL_GROUND, typical_ground
from scheduler.workability.workdays import workdays as judge_days
from scheduler.workability.workdays import workdays_report
from shared.vocabulary import Texture
from shared.weather_records import Place

WIDTH, NAME_WIDTH = 100, 17
ROWS_MOST, FIELDS_MOST = 40, 8
"""A table with more rows is told shorter: rows that are alike once, and not every field of which nothing can be done."""


@click.command()
@farm_argument
@click.option("--field", "fields", multiple=True, help="Only this field (may be repeated).")
@click.option("--pass", "passes", multiple=True, help="Only this pass (may be repeated).")
@click.option("--days", default=7, show_default=True, help="How many days.")
@click.option("--why", is_flag=True, help="Every stretch of hours with its reason.")
@json_option
@now_option
@sentences
def fit(
    farm: Path,
    fields: tuple[str, ...],
    passes: tuple[str, ...],
    days: int,
    why: bool,
    as_json: bool,
    now: str | None,
) -> None:
    """Which fields are fit, when, how surely, and why not."""
    workspace = open_workspace(farm)
    situation, outlook = look_ahead(workspace, read_now(now, workspace))
    if why:
        if as_json:
            print_json(ledger(outlook, situation, fields=fields, passes=passes, days=days))
            return
        for line in why_lines(outlook, situation, fields=fields, passes=passes, days=days):
            click.echo(line)
        click.echo(
            "\nodds: that the work can run in an hour, the least and the best of the hours told together"
        )
        return
    table = fit_table(outlook, situation, fields=fields, passes=passes, days=days)
    if as_json:
        print_json({"made_at": outlook.made_at, "notes": outlook.notes, "rows": table})
        return
    for line in fit_lines(table):
        click.echo(line)
    click.echo("")
    shown = dict.fromkeys(str(row["field_name"]) for row in table)
    for one in situation.farm.fields:
        if one.label in shown and outlook.fields[one.id].learned:
            click.echo(f"  {one.label}: {outlook.fields[one.id].learned}")
    for note in outlook.notes:
        click.echo(f"  {note}")


def fit_lines(table: list[dict[str, object]]) -> list[str]:
    """Return the fit table as text: a line per field and pass, a column per day (odds, hours).

    What is fit on none of the days stands below, by reason; a closed day among open ones is a dash, with the reasons at
    the end of the line.
    """
    if not table:
        return ["Nothing is left to do in these fields."]
    days = sorted({str(row["date"]) for row in table})
    rows: dict[tuple[str, str, str], dict[str, dict[str, object]]] = {}
    for row in table:
        key = str(row["field_name"]), str(row["pass"]), str(row.get("stage", ""))
        rows.setdefault(key, {})[str(row["date"])] = row
    open_rows = {key: cells for key, cells in rows.items() if any(_is_open(row) for row in cells.values())}
    out = []
    if open_rows:
        head = f"{'field':<18}{'pass':<13}{'stage':<8}" + "".join(
            f"{date.fromisoformat(d):%a %d}".center(10) for d in days
        )
        out += [head.rstrip(), "-" * len(head)]
        lines = {key: _fit_line(key, [cells.get(day) for day in days]) for key, cells in open_rows.items()}
        out += _alike(lines) if len(lines) > ROWS_MOST else list(lines.values())
        out += [
            "",
            "odds at the best hour and the fit hours to expect; - none (--why for every stretch of hours)",
        ]
    most = FIELDS_MOST if len(rows) > ROWS_MOST else len(rows)
    return out + _closed_lines({key: cells for key, cells in rows.items() if key not in open_rows}, most)


def _alike(lines: Mapping[tuple[str, str, str], str]) -> list[str]:
    """Return each line once, with the names of all fields of which it holds: many fields have ground that is alike."""
    fields: dict[tuple[str, str], list[str]] = {}
    first: dict[tuple[str, str], str] = {}
    for (name, pass_id, _), line in lines.items():
        same = pass_id, line[NAME_WIDTH:]
        first.setdefault(same, line)
        fields.setdefault(same, []).append(name)
    out = []
    for same, names in fields.items():
        out.append(first[same])
        if len(names) > 1:
            out += wrap(f"and {', '.join(names[1:])}", WIDTH, initial_indent="    ", subsequent_indent="    ")
    return out


def _is_open(row: dict[str, object]) -> bool:
    return float(str(row["fit_hours"])) >= 0.5


def _fit_line(key: tuple[str, str, str], cells: list[dict[str, object] | None]) -> str:
    name, pass_id, stage = key
    line = f"{name:<{NAME_WIDTH}.{NAME_WIDTH}} {pass_id:<12.12} {stage:<7.7} "
    against = []
    for row in cells:
        text = ""
        if row is not None and _is_open(row):
            text = f"{float(str(row['chance'])):.0%} {float(str(row['fit_hours'])):.0f} h"
        elif row is not None:
            text = "-"
            against.append(str(row["reason"]))
        line += text.center(10)
    reasons = ", ".join(dict.fromkeys(against))
    return f"{line}  {reasons}".rstrip()


def _closed_lines(rows: dict[tuple[str, str, str], dict[str, dict[str, object]]], most: int) -> list[str]:
    """Return what is fit on none of the days: by reason and pass, the fields, `most` of them by name."""
    found: dict[str, dict[str, list[str]]] = {}
    for (name, pass_id, _), cells in rows.items():
        reasons = ", ".join(dict.fromkeys(str(row["reason"]) for row in cells.values()))
        found.setdefault(reasons, {}).setdefault(pass_id, []).append(name)
    out = ["", "On none of these days:"] if found else []
    for reasons, by_pass in found.items():
        out.append(f"  {reasons}")
        for pass_id, names in by_pass.items():
            start = f"    {pass_id:<12} "
            out += wrap(
                first_few(names, most), WIDTH, initial_indent=start, subsequent_indent=" " * len(start)
            )
    return out


@click.command()
@click.option(
    "--weather", "file", required=True, type=click.Path(path_type=Path), help="Daily weather (CSV)."
)
@click.option("--latitude", required=True, type=click.FloatRange(-66, 66))
@click.option("--elevation-m", default=250.0, show_default=True, type=click.FloatRange(-400, 5000))
@click.option("--texture", default=None, type=click.Choice([texture.value for texture in Texture]))
@click.option("--tiled/--not-tiled", default=None, help="Tile drainage.")
@click.option("--residue-pct", default=None, type=click.FloatRange(0, 100), help="Ground covered by residue.")
@json_option
@sentences
def workdays(
    file: Path, latitude: float, elevation_m: float, texture: str | None, tiled: bool | None,
    residue_pct: float | None, as_json: bool,
) -> None:  # fmt: skip
    """Which days were suitable for fieldwork in a district, from daily weather.

    Columns: date,rain_mm,tmax_c,tmin_c and, if known, solar_mj_m2,rh_max_pct,rh_min_pct,wind_m_s. What is missing is
    filled and said; after a hole of more than a month the ground starts anew.
    """
    days = read_daily_weather(file)
    ground = typical_ground(None if texture is None else Texture(texture), tiled, residue_pct)
    place = Place(latitude, 0.0, elevation_m)
    result = judge_days(days, place, None if ground == TYPICAL_GROUND else ground)
    report = workdays_report(result)
    report["notes"] = list(dict.fromkeys([*days[0].notes, *report["notes"]]))
    if as_json:
        print_json(report)
        return
    click.echo(f"{'date':<12}{'surface':>9}{'subsoil':>9}{'soil degC':>11}{'suitable':>10}")
    for row in report["days"]:
        click.echo(
            f"{row['date']:<12}{row['surface_wetness']:>9.2f}{row['subsoil_wetness']:>9.2f}"
            f"{row['soil_temp_c']:>11.1f}{row['suitable_chance']:>10.0%}"
        )
    for note in report["notes"]:
        click.echo(f"  {note}")


@click.command()
@click.option(
    "--weather", "file", required=True, type=click.Path(path_type=Path), help="Daily weather (CSV)."
)
@click.option("--crop", required=True, type=click.Choice(["corn", "soybean", "rye"]))
@click.option("--planted", required=True, metavar="DATE", help="Planting date, e.g. 2027-05-01.")
@click.option(
    "--collar-rate", default="nielsen", show_default=True, type=click.Choice(["nielsen", "abendroth"]),
    help="Published school of leaf collars (corn).",
)  # fmt: skip
@click.option(
    "--depth-cm", default=5.08, show_default=True, type=click.FloatRange(1, 15), help="Seed depth (corn)."
)
@click.option(
    "--residue-pct", default=0.0, show_default=True, type=click.FloatRange(0, 100), help="Residue (corn)."
)
@click.option(
    "--texture", default=None, type=click.Choice([texture.value for texture in Texture]), help="Soil (corn)."
)
@click.option(
    "--scouted", multiple=True, metavar="STAGE@DATE", help="What a scout saw, e.g. V4@2027-06-05; repeat it."
)
@json_option
@sentences
def stages(
    file: Path, crop: str, planted: str, collar_rate: str, depth_cm: float, residue_pct: float, texture: str | None,
    scouted: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """When a crop reaches its stages, with odds, from daily weather."""
    day = _day("--planted", planted)
    corn = CornSetting(
        school=collar_rate, seed_depth_m=depth_cm / 100, residue_pct=residue_pct,
        texture=None if texture is None else Texture(texture),
    )  # fmt: skip
    seen = [_scouted(text) for text in scouted]
    options = StageOptions(corn=corn, scouted=seen)
    report = stages_report(stretch_at(read_daily_weather(file), day), crop, day, options)
    if as_json:
        print_json(report)
        return
    click.echo(f"{crop} planted {day}: first day with a chance of 10, 50 and 90 % that the stage is reached")
    for row in report["stages"]:
        dates = "  ".join(f"{row[key] or 'later':<12}" for key in ("date_10", "date_50", "date_90"))
        click.echo(f"  {row['stage']:<12}{dates}")
    for note in report["notes"]:
        click.echo(f"  {note}")


def _day(name: str, text: str) -> date:
    try:
        return datetime.fromisoformat(text).date()
    except ValueError as error:
        raise click.BadParameter(
            f"{name} {text!r} is not a date; allowed: a date such as 2027-05-01"
        ) from error


def _scouted(text: str) -> Scouted:
    stage, mark, day = text.partition("@")
    if not mark or not stage:
        raise click.BadParameter(
            f"--scouted {text!r} is no sighting; allowed: a stage and a date such as V4@2027-06-05"
        )
    return Scouted(_day("--scouted", day), stage.strip())
