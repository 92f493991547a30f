"""`fitground report` and `fitground log`: plain news in, and the story so far."""

from __future__ import annotations

from pathlib import Path

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
from scheduler.wiring.news import history_rows, take_report

NEWS_HELP = """Take plain news and keep it. What can be said:

\b
  rain [FIELD] "0.8 in"               gauge reading; without a field on the whole farm
  started FIELD PASS                  somebody is at work on it     paused FIELD PASS
  done FIELD PASS ["40 ac"]           area done since the last report; without an area all of it; with --since
                                      TIME how long it took, which teaches the machine's pace
  finished FIELD PASS                 the same as done without an area
  cancel FIELD PASS                   it will not be done
  down MACHINE [--until TIME]         machine out of order      back MACHINE
  away OPERATOR [--until TIME]        somebody is off           back OPERATOR
  delivered PRODUCT "5000 gal"        late PRODUCT DELIVERY DATE
  counted PRODUCT "20 bags"           what is there, whatever the books say
  hire NEW like MACHINE [--at START] [--until TIME]   a machine hired or bought
  join NEW like OPERATOR [--at START] [--until TIME]  somebody more on the crew
  hours OPERATOR "06:00-21:00" [mon,tue | today]      longer or shorter days: each week, or once
  change machine planter width "40 ft"                a key of a farm file reads otherwise
  again FIELD PASS NEW                one more pass like another one
  ground FIELD fit|marginal|unfit     a spade was put in it
  stage FIELD V4 | height FIELD "10 in" | tissue FIELD "3.4 %"
  pin FIELD PASS --at TIME            this block stands         unpin PIN
  correct EVENT WORDS...              an earlier report was wrong: say it anew
  correct EVENT nothing               it was wrong: take it out

Times are farm-local: "14:30", "2 pm", "2027-05-12 14:30", "fri 14:30", or a day (fri, tomorrow): its start.
Quotation marks may be left out where it stays clear: done Home Piece plant 40 ac
Or say it as you would: planter broke, back fri noon; planted far west 40 ac yesterday; oskari off wed-fri; kiln too wet;
ilse is done with kiln (the plan knows of which pass); oskari works sunday until 4 pm; 60 bags of seed corn left; nitrogen comes fri
instead of thu; neighbour lends us a sprayer until sat.
Several at once: planted heron and far west yesterday; rain 0.8 in, planter broke. All of it is noted, or nothing.
What is not wholly clear is refused, with the reason; what was noted is told back.
"""


@click.command(help=NEWS_HELP)
@farm_argument
@click.argument("words", nargs=-1, required=True)
@click.option("--until", default=None, metavar="TIME", help="End of an outage or absence.")
@click.option("--at", "at", default=None, metavar="TIME", help="When it happened, or ended (default: now).")
@click.option(
    "--since",
    default=None,
    metavar="TIME",
    help="When the work that is done began; from when a gauge counts.",
)
@click.option("--by", default="", help="Who says it.")
@click.option("--rig", default=None, help="Rig that did the work (machine ids joined by +).")
@click.option("--operator", default=None, help="Who did the work.")
@click.option("--why", default="", help="Reason in words.")
@click.option("--id", "event_id", default=None, help="Sender's id; the same id again counts once.")
@json_option
@now_option
@sentences
def report(
    farm: Path, words: tuple[str, ...], until: str | None, at: str | None, since: str | None, by: str, rig: str | None,
    operator: str | None, why: str, event_id: str | None, as_json: bool, now: str | None,
) -> None:  # fmt: skip
    """Take plain news (the help text is `NEWS_HELP`)."""
    workspace = open_workspace(farm)
    options = {
        "until": until,
        "at": at,
        "since": since,
        "by": by,
        "rig": rig,
        "operator": operator,
        "why": why,
        "id": event_id,
    }
    noted = take_report(workspace, words, options, read_now(now, workspace))
    if as_json:
        rows = [
            {
                "id": one.record.id, "kind": one.record.kind, "known_before": one.known, "text": one.label,
                "notes": one.notes, "body": one.record.body,
            }
            for one in noted
        ]  # fmt: skip
        print_json(rows[0] if len(rows) == 1 else rows)
        return
    for one in noted:
        for note in one.notes:
            click.echo(f"  note: {note}")
        click.echo(("Known already: " if one.known else "Noted: ") + one.label)
        click.echo(f"  (event {one.record.id}; wrong? fitground report {farm} correct {one.record.id} ...)")


@click.command()
@farm_argument
@click.option("--last", default=20, show_default=True, help="How many, newest last.")
@json_option
@sentences
def log(farm: Path, last: int, as_json: bool) -> None:
    """Show what was reported, by whom, and what was corrected."""
    workspace = open_workspace(farm)
    rows = history_rows(workspace)[-last:]
    if as_json:
        print_json(rows)
        return
    for row in rows:
        mark = "  (corrected)" if row["corrected"] else ""
        click.echo(f"{row['when']}  {row['text']}{mark}  [{row['id']}]")
    if not rows:
        click.echo("Nothing was reported yet.")
