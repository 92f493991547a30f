"""`fitground whatif`: changes compared with today's plan, in money, dates and odds."""

from __future__ import annotations

import os
from pathlib import Path

import click

from scheduler.cli.bars import Bar
from scheduler.cli.frame import (
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_now,
    sentences,
)
from scheduler.whatif.page import study_page
from scheduler.whatif.study import Study, Way
from scheduler.whatif.tell import present_of, ranked, study_csv, study_text
from scheduler.wiring.whatif import (
    Tell,
    effort_s,
    open_study,
    run_ways,
    save_study,
    saved_studies,
    what_if_morning,
)
from shared.errors import FitgroundError

HELP = """Compare ways to go on: each is planned anew on a copy of the log; nothing is stored but what --save names.

\b
  fitground whatif FARM planter-down            a study in FARM/whatif/planter-down.toml
  fitground whatif FARM -c 'out planter until 2027-05-16'
  fitground whatif FARM -c 'hire "Lent planter" like planter cost "900 $/day"' -c 'hours all "05:00-22:00"'

Each -c is a way of its own; join changes of one way with ' + '. What can be changed:

\b
  out MACHINE [from T] [until T]      away OPERATOR [from T] [until T]     back NAME
  hire NEW like MACHINE [from T] [until T] [cost "900 $/day"|"16 $/ac"|"28 $/h"|"2500 $"]
  join NEW like OPERATOR [from T] [until T] [cost "24 $/h"]
  custom PASS "16 $/ac" [in FIELDS]   hours OPERATOR|all "05:00-22:00" [DAYS]
  longer OPERATOR|all "1 h"           shorter OPERATOR|all "1 h"
  off sun [OPERATOR]  on sun          change machine|operator|field|product|pass NAME KEY VALUE
  tracks MACHINE  wheels MACHINE      tile FIELD
  late PRODUCT DELIVERY DATE          drop PASS [in FIELDS]
  give-up FIELD                       crop FIELD PROGRAMME [CROP [YIELD]]
  rain +30%                           rain "1 in" on DATE
  must PASS [in FIELDS] by DATE|TIME  (in detail: fitground can)
"""


SECONDS = 1.5


@click.command(help=HELP)
@farm_argument
@click.argument("study", required=False)
@click.option(
    "-c", "--change", "changes", multiple=True, metavar="WORDS", help="A way of its own; repeat it."
)
@click.option("--save", default=None, metavar="NAME", help="Keep the ways as FARM/whatif/NAME.toml.")
@click.option(
    "--seconds",
    default=None,
    type=click.FloatRange(0.2, 600),
    help="Effort of each of the two searches per way (default: 1.5 for 15 fields, more for more).",
)
@click.option(
    "--processes", default=None, type=click.IntRange(1, 256), help="Ways worked at a time (default: cores)."
)
@click.option(
    "--csv", "csv_file", default=None, type=click.Path(path_type=Path), help="Write the table to this file."
)
@click.option(
    "--page", default=None, type=click.Path(path_type=Path), help="Write a page with pictures (HTML)."
)
@click.option("--who", is_flag=True, help="Say what each person does instead in the first two days.")
@json_option
@now_option
@sentences
def whatif(
    farm: Path, study: str | None, changes: tuple[str, ...], save: str | None, seconds: float | None,
    processes: int | None, csv_file: Path | None, page: Path | None, who: bool, as_json: bool, now: str | None,
) -> None:  # fmt: skip
    """Compare ways to go on (the help text is `HELP`)."""
    workspace = open_workspace(farm)
    if study is None and not changes:
        known = ", ".join(saved_studies(workspace)) or "none saved yet"
        raise FitgroundError(
            f"Name a study ({known}) or say a change with -c; fitground whatif --help shows how."
        )
    asked = open_study(workspace, study) if study is not None else Study()
    ways = tuple(
        Way(name=change[:80], changes=tuple(part.strip() for part in change.split(" + ")))
        for change in changes
    )
    asked = asked.model_copy(update={"ways": asked.ways + ways})
    if save is not None:
        click.echo(f"Saved as {save_study(workspace, save, asked)}", err=True)
    moment = read_now(now, workspace)
    morning = what_if_morning(workspace, moment, seconds or effort_s(len(workspace.farm.fields), SECONDS))
    found = run_ways(morning, asked.all_ways(), processes or os.cpu_count() or 1, _ways_bar())
    if csv_file is not None:
        csv_file.write_text(study_csv(found), encoding="utf-8")
    local = moment.astimezone(workspace.zone)
    as_of = f"{workspace.farm.name}, as of {local:%a %d %b %H:%M}, the coming {morning.horizon.days} days"
    if page is not None:
        page.parent.mkdir(parents=True, exist_ok=True)
        page.write_text(study_page(asked.question, found, workspace.farm.units, as_of), encoding="utf-8")
    if as_json:
        present = present_of(found)
        print_json(
            {
                "question": asked.question, "as_of": moment.isoformat(), "present": present.name,
                "ways": [one.model_dump(mode="json") for one in ranked(found)],
            }
        )  # fmt: skip
        return
    click.echo(study_text(asked.question, found, workspace.farm.units, as_of, who))


def _ways_bar() -> Tell:
    bar = Bar("searches")
    return lambda name, done, total: bar(done, total, name)
