"""`fitground weather`: which weather is used, how old it is, and how far past forecasts could be trusted."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

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
from scheduler.windows.verification import WET_MM, Verification
from scheduler.wiring.weather_check import WeatherCheck, check_weather
from scheduler.wiring.workspace import Workspace
from shared.units import show

BAR = 30


@click.command()
@farm_argument
@json_option
@now_option
@sentences
def weather(farm: Path, as_json: bool, now: str | None) -> None:
    """Which weather is used, and how far past forecasts could be trusted on this farm."""
    workspace = open_workspace(farm)
    moment = read_now(now, workspace)
    found = check_weather(workspace, moment)
    if as_json:
        print_json(_plain(found))
        return
    click.echo("\n".join(_text(found, workspace, moment)))


def _plain(found: WeatherCheck) -> dict[str, Any]:
    ahead = found.forecast
    return {
        "observed": {"source": found.observed.source, "until": found.observed.end_utc, "notes": list(found.observed.notes)},
        "forecast": None if ahead is None else {
            "source": ahead.source, "issued_at": ahead.issued_at, "until": ahead.end_utc, "members": ahead.members,
            "notes": list(ahead.notes),
        },
        "past_years": found.past_years,
        "verified": [
            asdict(one) | {"leads": [asdict(lead) | {"bias_mm": lead.bias_mm, "skill": lead.skill} for lead in one.leads]}
            for one in found.verified
        ],
    }  # fmt: skip


def _text(found: WeatherCheck, workspace: Workspace, now: datetime) -> list[str]:
    zone, ahead = workspace.zone, found.forecast
    out = [
        f"Observed    {found.observed.source}, up to {found.observed.end_utc.astimezone(zone):%a %d %b %H:%M}"
    ]
    if ahead is None:
        out.append("Forecast    none: the usual weather of the season stands in for it")
    else:
        age = (
            "" if ahead.issued_at is None else f", {(now - ahead.issued_at).total_seconds() / 3600:.0f} h old"
        )
        days = (ahead.end_utc - now).total_seconds() / 86400
        out.append(f"Forecast    {ahead.source}{age}, {ahead.members} members, {days:.0f} days ahead")
    out.append(f"Past years  {found.past_years}")
    notes = dict.fromkeys((*found.observed.notes, *(() if ahead is None else ahead.notes)))
    out += [f"  - {note}" for note in notes]
    for one in found.verified:
        out += ["", *_verified(one, workspace.farm.units)]
    if not found.verified:
        out += ["", "No forecast has been kept yet, so none can be held against what fell."]
    return out


def _verified(one: Verification, units: str) -> list[str]:
    if not one.leads:
        return [f"Forecasts ({one.source}): too few days so far to say how good they were."]
    out = [
        f"Forecasts against what fell, {one.first_day:%d %b} to {one.last_day:%d %b} ({one.source})",
        f"{'':8}{'days':>5}{'rain said':>11}{'fell':>9}{'off by':>9}{'warmth':>9}   chance of a wet day",
    ]
    for lead in one.leads:
        name = "today" if lead.lead_days == 0 else f"day {lead.lead_days}"
        rain = [show(value, "rain_mm", units, 2) for value in (lead.said_mm, lead.fell_mm, lead.off_mm)]
        warm = lead.warmth_bias_c * (1.8 if units == "us" else 1.0)
        verdict = (
            f"{lead.skill:.0%} better than the usual chance"
            if lead.skill > 0
            else "no better than the usual chance"
        )
        out.append(
            f"{name:8}{lead.cases:>5}{rain[0]:>11}{rain[1]:>9}{rain[2]:>9}{warm:>+7.1f} {'F' if units == 'us' else 'C'}   {verdict}"
        )
    out += [
        "",
        f"When so much chance was given (a week ahead at most), it was wet ({show(WET_MM, 'rain_mm', units, 2)} or more):",
    ]
    for row in one.reliability:
        said, wet = round(row.said * BAR), round(row.wet * BAR)
        line = "".join("|" if k == said else "#" if k < wet else "." for k in range(BAR + 1))
        out.append(f"  said {row.said:>4.0%}  {line}  {row.wet:>4.0%} of {row.cases} days")
    out.append("  # how often it was wet   | what was said: the bar should end there")
    if one.useful_to is None:
        out.append("The chances of rain were no better than the usual ones of the season.")
    else:
        until = "today" if one.useful_to == 0 else f"day {one.useful_to}"
        out.append(f"The chances of rain were worth more than the usual ones up to {until}.")
    return out
