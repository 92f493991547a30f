"""`fitground soils`: the soil keys of the fields, from the US survey, a table or one texture class; shown, then written."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import farm_argument, json_option, open_workspace, print_json, sentences, utc_now
from shared.errors import FitgroundError

SHOWN = 40


@click.command()
@farm_argument
@click.option(
    "--us-survey", is_flag=True, help="Ask the US soil survey (network; answers are kept for a year)."
)
@click.option(
    "--table",
    type=click.Path(path_type=Path),
    help="A table: field, texture or sand_pct and clay_pct, ... (CSV, xlsx).",
)
@click.option("--texture", default=None, help="One USDA class for every field, e.g. 'silty clay loam'.")
@click.option(
    "--tiled/--not-tiled",
    default=None,
    help="For soils whose group depends on drainage: are the fields tiled? (default: each field's own word)",
)
@click.option("--contact", default="", help="Your address, told to the survey.")
@click.option("--write", is_flag=True, help="Write into the fields file; the old one is kept under before/.")
@click.option("--only-empty", is_flag=True, help="Keep every value that stands there already.")
@click.option("--survey-url", default="", hidden=True)
@json_option
@sentences
def soils(
    farm: Path, us_survey: bool, table: Path | None, texture: str | None, tiled: bool | None, contact: str, write: bool, only_empty: bool,
    survey_url: str, as_json: bool,
) -> None:  # fmt: skip
    """Fill in texture, hydrologic group, slope and water limits of the fields; without --write only show what would change."""
    from scheduler.wiring.soils import survey_changes, table_changes, texture_changes, write_soils

    if sum((us_survey, table is not None, texture is not None)) != 1:
        raise FitgroundError(
            "soils: say where from; allowed: one of --us-survey, --table FILE, --texture CLASS."
        )
    workspace = open_workspace(farm)
    if us_survey:
        changes = survey_changes(workspace, tiled, contact, _tell, survey_url)
    elif table is not None:
        changes = table_changes(workspace, table)
    else:
        changes = texture_changes(workspace, str(texture).strip().lower())
    kept = write_soils(workspace, changes, only_empty, utc_now()) if write else None
    if as_json:
        rows = [
            {
                "field": one.field.id,
                "changed": {k: list(v) for k, v in one.changed.items()},
                "said": one.said,
                "problem": one.problem,
            }
            for one in changes
        ]
        print_json({"fields": rows, "written": write, "kept": None if kept is None else str(kept)})
        return
    for one in changes[:SHOWN]:
        moved = ", ".join(
            f"{key.replace('_', ' ')} {old or '(none)'} -> {new or '(none)'}"
            for key, (old, new) in one.changed.items()
        )
        click.echo(
            f"{one.field.label}: {one.problem or moved or 'nothing changes'}"
            + (f"  [{one.said}]" if one.said else "")
        )
    if len(changes) > SHOWN:
        click.echo(f"... and {len(changes) - SHOWN} fields more.")
    if write:
        click.echo("Written." + (f" The old file is kept in {kept}." if kept else ""))
    else:
        click.echo("Nothing was written; --write does that.")


def _tell(number: int, of: int, name: str) -> None:
    click.echo(f"\r  {number} of {of}: {name:<40.40}", nl=number == of, err=True)
