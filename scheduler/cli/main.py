"""The command `fitground`.

Exit codes: 0 done; 1 something else went wrong; 2 the farm files have faults, or the command was misspelt;
3 a report was refused; 4 the event log cannot be read or written; 5 no usable weather; 6 the checker refused
the plan.
"""

from __future__ import annotations

import click

from scheduler.cli.calibrate_command import calibrate
from scheduler.cli.can_command import can
from scheduler.cli.farm_commands import check
from scheduler.cli.ground_commands import fit, stages, workdays
from scheduler.cli.hand_out_commands import calendar, export, paper
from scheduler.cli.init_command import init
from scheduler.cli.news_commands import log, report
from scheduler.cli.plan_commands import changes, day, plan
from scheduler.cli.plot_command import plot
from scheduler.cli.records_command import records
from scheduler.cli.replay_command import replay
from scheduler.cli.season_command import season
from scheduler.cli.serve_command import serve
from scheduler.cli.service_commands import run, status
from scheduler.cli.sheet_commands import sheet_in, sheet_out
from scheduler.cli.soils_command import soils
from scheduler.cli.store_commands import backup, export_command, import_command, restore
from scheduler.cli.terminal_commands import import_work, taskdata
from scheduler.cli.weather_command import weather
from scheduler.cli.whatif_commands import whatif
from scheduler.cli.worth_command import worth


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="fitground", prog_name="fitground")
def main() -> None:
    """Plan a wet spring: which fields are fit, who goes where, what changed and why.

    FARM is a folder with farm.toml and fields.csv (or fields.geojson). fitground advises; people decide.
    """


for command in (
    init,
    soils,
    sheet_out,
    sheet_in,
    check,
    fit,
    plan,
    day,
    calendar,
    paper,
    export,
    plot,
    records,
    taskdata,
    import_work,
    report,
    log,
    changes,
    replay,
    workdays,
    stages,
    can,
    whatif,
    worth,
    season,
    calibrate,
    weather,
    serve,
    run,
    status,
    backup,
    restore,
    export_command,
    import_command,
):
    main.add_command(command)

if __name__ == "__main__":
    main()
