"""The words of the trade that files, events, plans and pages share. One spelling each, used everywhere."""

from __future__ import annotations

from enum import StrEnum


class Operation(StrEnum):
    """What is done on one trip over a field."""

    TERMINATE = "terminate"
    STRIP_TILL = "strip-till"
    BAND_NITROGEN = "band-nitrogen"
    PLANT = "plant"
    SPRAY = "spray"
    SCOUT = "scout"
    TISSUE_SAMPLE = "tissue-sample"
    SIDE_DRESS = "side-dress"
    INTERSEED = "interseed"
    SEED_COVER = "seed-cover"


class Crop(StrEnum):
    """Cash crops with a stage model."""

    CORN = "corn"
    SOYBEAN = "soybean"


class Cover(StrEnum):
    """Living cover on a field in spring."""

    NONE = "none"
    RYE = "rye"
    CLOVER = "clover"
    MIX = "mix"


class Texture(StrEnum):
    """USDA soil texture classes."""

    SAND = "sand"
    LOAMY_SAND = "loamy sand"
    SANDY_LOAM = "sandy loam"
    LOAM = "loam"
    SILT_LOAM = "silt loam"
    SILT = "silt"
    SANDY_CLAY_LOAM = "sandy clay loam"
    CLAY_LOAM = "clay loam"
    SILTY_CLAY_LOAM = "silty clay loam"
    SILTY_CLAY = "silty clay"
    SANDY_CLAY = "sandy clay"
    CLAY = "clay"


class LoadClass(StrEnum):
    """How hard a rig presses on the ground; decides how dry the surface must be."""

    LIGHT = "light"
    MEDIUM = "medium"
    HEAVY = "heavy"


class Guidance(StrEnum):
    """How closely a machine can follow a stored line."""

    NONE = "none"
    METRE = "metre"
    DECIMETRE = "decimetre"
    CENTIMETRE = "centimetre"


class Fitness(StrEnum):
    """The verdict on a field for one pass at one hour."""

    FIT = "fit"
    MARGINAL = "marginal"
    UNFIT = "unfit"


class Reason(StrEnum):
    """Why an hour, a window or a pass is refused. The catalogue of texts is keyed on these."""

    FIT = "fit"
    TOO_WET = "too wet"
    SUBSOIL_WET = "standing water or saturated below"
    RAINING = "rain at the time"
    STICKY = "sticky after rain"
    DEW = "dew on the leaves"
    FROZEN = "frozen or snow-covered"
    SOIL_COLD = "seed zone too cold"
    WIND_HIGH = "wind too strong"
    WIND_LOW = "calm air, inversion likely"
    AIR_COLD = "air too cold for the product"
    AIR_HOT = "air too hot for the product"
    RAIN_SOON = "rain expected too soon after"
    DARK = "dark"
    TOO_EARLY_DATE = "before the first date"
    TOO_LATE_DATE = "after the last date"
    TOO_EARLY_STAGE = "crop not far enough"
    TOO_LATE_STAGE = "crop past the stage"
    CROP_TOO_TALL = "crop too tall for the rig"
    WAITS_FOR_PASS = "an earlier pass is not done"
    REENTRY = "re-entry interval after spraying"
    NO_RIG = "no rig can do it"
    RIG_DOWN = "rig down"
    RIG_BUSY = "rig busy elsewhere"
    NO_OPERATOR = "nobody with the skill"
    LICENCE = "licence missing or expired"
    OPERATOR_BUSY = "people busy elsewhere"
    HOURS = "daily or weekly hours used up"
    OFF_SHIFT = "outside working hours"
    NO_SUPPORT = "no tender driver free"
    STOCK = "product not in stock"
    LINES = "guidance lines or widths do not match"
    NO_FIT_HOURS = "not enough fit hours"
    PRICE = "other work is worth more"
    CANCELLED = "cancelled"
    UNKNOWN_WEATHER = "weather not known"
    PAST = "already past"


class EventKind(StrEnum):
    """What can happen. Past tense; an event is never changed."""

    RAIN_MEASURED = "rain_measured"
    FORECAST_RECEIVED = "forecast_received"
    PASS_STARTED = "pass_started"
    PASS_PAUSED = "pass_paused"
    PASS_PROGRESSED = "pass_progressed"
    PASS_FINISHED = "pass_finished"
    PASS_CANCELLED = "pass_cancelled"
    PASS_ADDED = "pass_added"
    MACHINE_DOWN = "machine_down"
    MACHINE_BACK = "machine_back"
    MACHINE_ADDED = "machine_added"
    OPERATOR_ABSENT = "operator_absent"
    OPERATOR_BACK = "operator_back"
    OPERATOR_ADDED = "operator_added"
    SUPPLY_DELIVERED = "supply_delivered"
    SUPPLY_DELAYED = "supply_delayed"
    SUPPLY_COUNTED = "supply_counted"
    STAGE_SCOUTED = "stage_scouted"
    GROUND_CHECKED = "ground_checked"
    TISSUE_SAMPLED = "tissue_sampled"
    BLOCK_PINNED = "block_pinned"
    BLOCK_UNPINNED = "block_unpinned"
    GROUND_CALIBRATED = "ground_calibrated"
    FARM_CHANGED = "farm_changed"
    PLAN_ISSUED = "plan_issued"
    EVENT_CORRECTED = "event_corrected"


class DayOrder(StrEnum):
    """Which comes first in a day in figures, such as 5/11/2027."""

    MONTH_FIRST = "month-first"
    DAY_FIRST = "day-first"


LIST_KEYS = frozenset({
    "days_off", "done", "driven_by", "hazards", "only_fields", "operations", "pulled_by", "rates", "skills", "tender",
})  # fmt: skip
"""Keys of farm files that hold several values; one cell of a table has them with ``;`` between."""
