"""The stage report behind `fitground stages`: from daily weather to stage dates, as plain JSON-ready values.

Shape of the result::

    {"crop": "corn", "planted": "2020-05-01",
     "heat": {"rule": "86/50", "unit": "degF-day"},
     "days": [{"date", "heat", "heat_since_planting", "stage", "stage_number", "from_normals",
               "height_m": {"10", "50", "90"}}, ...],
     "stages": [{"stage", "heat_needed", "heat_sd", "date_10", "date_50", "date_90"}, ...],
     "notes": ["...", ...]}

``days`` runs from planting to the end of the weather (and of the normals, where given); ``stage`` is the
median at the day's end; ``height_m`` is there for corn and rye. ``date_q`` is the first day by whose end the
stage is reached with a chance of q %; null when that lies beyond the record. Heat is the mean over members.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.stages.corn import CornSetting, corn_curve
from scheduler.stages.cover import RyeSetting, rye_curve
from scheduler.stages.curve import StageCurve
from scheduler.stages.degree_days import daily_heat
from scheduler.stages.height import HEIGHT_CROPS, MeasuredHeight, height_odds
from scheduler.stages.names import SettingRefused
from scheduler.stages.normals import HeatNormals, extend_heat
from scheduler.stages.progress import Scouted, StageOdds, stage_dates
from scheduler.stages.soybean import SoybeanSetting, soybean_curve
from shared.weather_records import DailyWeather

#: Missing days in a row that are filled from the days around them; a longer hole is refused.
FILL_DAYS_MAX = 5


RYE_SOWN_FROM_MONTH = 7
"""Rye sown from July on stands over winter."""


@dataclass(frozen=True)
class StageOptions:
    """What may be set for a stage report.

    Attributes
    ----------
    corn, soybean, rye : setting
        Crop settings; only the one of the crop counts.
    normals : HeatNormals or None
        Usual heat, to go on after the weather ends.
    until : date or None
        Last date wanted when `normals` is given; 120 days after planting by default.
    scouted, measured : sequences
        Stages seen and heights measured in the field.
    height_curve : str
        Name of the corn height curve.
    """

    corn: CornSetting = field(default_factory=CornSetting)
    soybean: SoybeanSetting = field(default_factory=SoybeanSetting)
    rye: RyeSetting = field(default_factory=RyeSetting)
    normals: HeatNormals | None = None
    until: date | None = None
    scouted: Sequence[Scouted] = ()
    measured: Sequence[MeasuredHeight] = ()
    height_curve: str = "trade"


def curve_for(crop: str, options: StageOptions) -> StageCurve:
    """Return the stage curve of a crop under these options."""
    if crop == "corn":
        return corn_curve(options.corn)
    if crop == "soybean":
        return soybean_curve(options.soybean)
    if crop == "rye":
        return rye_curve(options.rye)
    raise SettingRefused(f"crop {crop!r} has no stage model; allowed: corn, soybean, rye.")


def stages_report(
    days: DailyWeather, crop: str, planted: date, options: StageOptions | None = None
) -> dict[str, Any]:
    """Return the stages of a crop over daily weather (shape in the module's head).

    Parameters
    ----------
    days : DailyWeather
        Must begin on or before `planted` and reach beyond it.
    crop : str
        ``corn``, ``soybean`` or ``rye``.
    planted : date
        Planting date; rye counts heat from green-up in spring on, the next one after it was sown.
    options : StageOptions or None
        Settings; None for the documented defaults.
    """
    options = options or StageOptions()
    curve = curve_for(str(crop), options)
    _check_planted(days, planted)
    sown, planted = planted, counted_from(str(crop), planted, options)
    _check_planted(days, planted)
    heat, notes = fill_heat(daily_heat(days, curve.rule), days.first_day, planted)
    known = heat.shape[1]
    if options.normals is not None:
        if options.normals.rule != curve.rule:
            raise SettingRefused(
                f"the normals count heat by {options.normals.rule.name}, {crop} by {curve.rule.name}."
            )
        until = options.until or planted + timedelta(days=120)
        heat = extend_heat(heat, days.first_day, until, options.normals)
        if heat.shape[1] > known:
            notes.append(
                f"after {days.first_day + timedelta(days=known - 1)} past years stand in for the weather"
            )
    if sown != planted:
        notes.append(f"rye sown on {sown}: heat counts from {planted}, when it greens up")
    odds = stage_dates(curve, planted, days.first_day, heat, options.scouted, (*days.notes, *notes))
    return {
        "crop": str(crop),
        "planted": sown.isoformat(),
        "heat": {"rule": curve.rule.name, "unit": curve.rule.unit},
        "days": _day_rows(odds, heat, known, options),
        "stages": _stage_rows(odds),
        "notes": list(odds.notes),
    }


def counted_from(crop: str, planted: date, options: StageOptions) -> date:
    """Return the day from which heat counts: planting, for rye the green-up of the spring that follows sowing."""
    if crop != "rye":
        return planted
    year = planted.year + 1 if planted.month >= RYE_SOWN_FROM_MONTH else planted.year
    return max(planted, options.rye.green_up(year))


def fill_heat(
    heat: NDArray[np.float64], first_day: date, planted: date
) -> tuple[NDArray[np.float64], list[str]]:
    """Fill short holes in daily heat (members, days) straight from the days around; refuse long ones."""
    filled = np.array(heat, dtype=np.float64)
    start = max((planted - first_day).days, 0)
    holes: NDArray[np.bool_] = np.asarray(np.isnan(filled).any(axis=0))
    longest, run = 0, 0
    for k in range(start, holes.size):
        run = run + 1 if holes[k] else 0
        longest = max(longest, run)
    if longest > FILL_DAYS_MAX:
        raise SettingRefused(
            f"temperature is missing {longest} days in a row from planting on; "
            f"allowed: at most {FILL_DAYS_MAX}."
        )
    x = np.arange(holes.size, dtype=np.float64)
    for row in filled:
        gap = np.isnan(row)
        if gap.any() and not gap.all():
            row[gap] = np.interp(x[gap], x[~gap], row[~gap])
    count = int(holes[start:].sum())
    return filled, [
        f"temperature missing on {count} days after planting: heat taken from the days around"
    ] * bool(count)


def _check_planted(days: DailyWeather, planted: date) -> None:
    if not days.first_day <= planted <= days.last_day:
        raise SettingRefused(
            f"planted {planted} lies outside the weather; allowed: {days.first_day} to {days.last_day}."
        )


def _day_rows(
    odds: StageOdds, heat: NDArray[np.float64], known: int, options: StageOptions
) -> list[dict[str, Any]]:
    start = (odds.planted - odds.first_day).days
    stage = odds.stage_on()
    tall = None
    if odds.curve.scale.crop in HEIGHT_CROPS:
        tall = height_odds(odds, options.measured, options.height_curve).quantiles()
    rows = []
    for k in range(start, odds.days):
        row: dict[str, Any] = {
            "date": (odds.first_day + timedelta(days=k)).isoformat(),
            "heat": round(float(heat[:, k].mean()), 3),
            "heat_since_planting": round(float(heat[:, start : k + 1].mean(axis=0).sum()), 3),
            "stage": odds.curve.name_at(float(stage[k])),
            "stage_number": round(float(stage[k]), 3),
            "from_normals": k >= known,
        }
        if tall is not None:
            row["height_m"] = {name: round(float(tall[q, k]), 3) for q, name in enumerate(("10", "50", "90"))}
        rows.append(row)
    return rows


def _stage_rows(odds: StageOdds) -> list[dict[str, Any]]:
    rows = []
    for name in odds.curve.names[1:]:
        mean, sd = odds.need(name)
        dates = {f"date_{q}": odds.date_at(name, q / 100.0) for q in (10, 50, 90)}
        rows.append(
            {
                "stage": name,
                "heat_needed": round(mean, 1),
                "heat_sd": round(sd, 1),
                **{key: day.isoformat() if day else None for key, day in dates.items()},
            }
        )
    return rows
