"""Every command of `fitground`: in which module it is, and its one line, by what people want when they type it.

Kept as a table so that help costs nothing and a command loads only what it needs.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """A command: its module below `scheduler.cli`, its name there, and its line in the help."""

    module: str
    attribute: str
    line: str


TABLE: dict[str, dict[str, Entry]] = {
    "Every day": {
        "plan": Entry("plan_commands", "plan", "Make the plan: who takes which rig where, when, for the best season."),
        "fit": Entry("ground_commands", "fit", "Which fields are fit, when, how surely, and why not."),
        "report": Entry("news_commands", "report", "Take plain news and keep it."),
        "changes": Entry("changes_command", "changes", "What moved between the last two plans, from whom to whom, and why."),
        "day": Entry("plan_commands", "day", "Each person's day list from the issued plan."),
        "status": Entry("service_commands", "status", "How things stand, and what needs a person."),
        "log": Entry("news_commands", "log", "What was reported, by whom, and what was corrected."),
    },
    "Questions": {
        "can": Entry("can_command", "can", "Can it be done by then? Who, when, how surely; or what stands against it."),
        "whatif": Entry("whatif_commands", "whatif", "Compare ways to go on, each planned anew; nothing is stored."),
        "worth": Entry("worth_command", "worth", "What one more hour, day, person, machine, width or tank is worth."),
        "season": Entry("season_command", "season", "Play the coming weeks under many weathers, and compare ways."),
    },
    "Hand out and keep": {
        "paper": Entry("hand_out_commands", "paper", "Everybody's day list, or the week board, as PDF."),
        "calendar": Entry("hand_out_commands", "calendar", "Calendar files (.ics) of the issued plans."),
        "plot": Entry("plot_command", "plot", "Draw the week, machines, water, windows or progress."),
        "export": Entry("hand_out_commands", "export", "Plan, fit hours and fields as CSV, Parquet, JSON and GeoJSON."),
        "records": Entry("records_command", "records", "Planting, acreage, applications and nitrogen as CSV and PDF."),
        "taskdata": Entry("terminal_commands", "taskdata", "The plan's tasks for tractor terminals (ISO 11783-10)."),
        "import-work": Entry("terminal_commands", "import_work", "Note work done from a table or a terminal's TASKDATA."),
    },
    "The farm": {
        "init": Entry("init_command", "init", "Make a farm folder: from boundaries, a list, or invented fields."),
        "check": Entry("farm_commands", "check", "Say everything that is wrong with the farm's files, all at once."),
        "soils": Entry("soils_command", "soils", "Fill in texture, hydrologic group, slope and water limits."),
        "sheet-out": Entry("sheet_commands", "sheet_out", "Fields, machines, people and products into an .xlsx workbook."),
        "sheet-in": Entry("sheet_commands", "sheet_in", "Take a workbook back into the farm's files."),
        "calibrate": Entry("calibrate_command", "calibrate", "Fit the farm's own ground to what is known of it."),
        "weather": Entry("weather_command", "weather", "Which weather is used, and how far forecasts could be trusted."),
    },
    "Run by itself": {
        "serve": Entry("serve_command", "serve", "Open the pages for manager and crew, and run the service."),
        "run": Entry("service_commands", "run", "The service alone: weather, news, plans, hand-outs, reminders."),
        "backup": Entry("store_commands", "backup", "Copy log and issued plans to a file while others write."),
        "restore": Entry("store_commands", "restore", "Put a backup into a farm folder that has no log."),
        "export-log": Entry("store_commands", "export_command", "The whole log as JSON lines, oldest first."),
        "import-log": Entry("store_commands", "import_command", "Take events that the log does not hold; each counts once."),
    },
    "Without a farm": {
        "replay": Entry("replay_command", "replay", "Play a scenario day by day; its folder stays as it is."),
        "workdays": Entry("ground_commands", "workdays", "Which days were suitable in a district, from daily weather."),
        "stages": Entry("ground_commands", "stages", "When a crop reaches its stages, with odds, from daily weather."),
    },
}  # fmt: skip


def entries() -> dict[str, Entry]:
    """Return every command by its name."""
    return {name: entry for section in TABLE.values() for name, entry in section.items()}
