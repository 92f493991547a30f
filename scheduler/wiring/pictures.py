"""Pictures of a farm by name, as files and for the pages."""

from __future__ import annotations

from scheduler.crew import pictures as numbers
from scheduler.events.situation import Situation
from scheduler.events.state import State
from scheduler.planning.plan import Plan
from scheduler.windows.records import Outlook
from shared.errors import FitgroundError
from shared.weather_records import HourlyWeather

NAMES = ("week", "machines", "water", "windows", "progress")
FORMS = ("svg", "png", "pdf")


def picture(
    name: str, form: str, situation: Situation, outlook: Outlook, state: State, observed: HourlyWeather, plan: Plan | None, field: str = ""
) -> bytes:  # fmt: skip
    """Return a picture.

    Parameters
    ----------
    name : str
        One of `NAMES`; `water` needs a field.
    form : str
        One of `FORMS`.

    Raises
    ------
    FitgroundError
        Unknown name, form or field, or no plan was issued yet.
    """
    from zoneinfo import ZoneInfo

    from adapters.export.pictures import draw

    farm = situation.farm
    if name not in NAMES or form not in FORMS:
        raise FitgroundError(
            f"picture {name}.{form} is not known; allowed: {', '.join(NAMES)} as {', '.join(FORMS)}."
        )
    if name in ("week", "machines") and plan is None:
        raise FitgroundError("no plan was issued yet, so there is no week to draw; run: fitground plan.")
    if name == "water":
        if field not in farm.field_by_id:
            raise FitgroundError(f"the field {field!r} is not known; allowed: {', '.join(farm.field_by_id)}.")
        return draw(
            numbers.water(situation, outlook, observed, field), form, farm.units, ZoneInfo(farm.time_zone)
        )
    if name == "windows":
        return draw(numbers.windows(situation, outlook, plan), form, farm.units, ZoneInfo(farm.time_zone))
    if name == "progress":
        passes = dict.fromkeys(pass_id for _, pass_id in situation.passes)
        lines = tuple(
            one for p in passes if (one := numbers.progress(situation, outlook, state, plan, p)) is not None
        )
        return draw(lines, form, farm.units, ZoneInfo(farm.time_zone))
    assert plan is not None
    return draw(numbers.days(situation, plan, name == "machines"), form, farm.units, ZoneInfo(farm.time_zone))
