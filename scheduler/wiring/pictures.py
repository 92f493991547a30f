"""Pictures of a farm by name, as files and for the pages."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from scheduler.crew import pictures as numbers
from scheduler.events.report import find
from scheduler.events.situation import Situation
from scheduler.events.state import State
from scheduler.planning.plan import Plan
from scheduler.windows.records import Outlook
from shared.errors import FitgroundError
from shared.pictures import Picture
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
    from adapters.export.pictures import draw

    farm = situation.farm
    if name not in NAMES or form not in FORMS:
        raise FitgroundError(
            f"picture {name}.{form} is not known; allowed: {', '.join(NAMES)} as {', '.join(FORMS)}."
        )
    if name in ("week", "machines"):
        if plan is None:
            raise FitgroundError("no plan was issued yet, so there is no week to draw; run: fitground plan.")
        made: Picture = numbers.days(situation, plan, name == "machines")
    elif name == "water":
        chosen = find("field", field, {one.id: one.label for one in farm.fields})
        made = numbers.water(situation, outlook, observed, chosen)
    elif name == "windows":
        made = numbers.windows(situation, outlook, plan)
    else:
        made = numbers.every_progress(situation, outlook, state, plan)
    return draw(made, form, farm.units, ZoneInfo(farm.time_zone))
