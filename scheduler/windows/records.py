"""What the windows room hands to planning and pages: fit hours with odds, and pass windows, with reasons.

Hours are counted from ``Outlook.start_utc`` (the first local midnight of the horizon), UTC hours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache

import numpy as np
from numpy.typing import NDArray

from shared.vocabulary import LoadClass, Reason
from shared.weather_records import HourlyWeather

FieldPass = tuple[str, str]
RigKey = tuple[LoadClass, bool]
"""Load class and tracks: all that fitness knows of a rig. People on foot use (LIGHT, False)."""
GOLDEN = 0.5 * (5.0**0.5 - 1.0)
"""Steps of the golden section spread evenly however many there are."""


@dataclass(frozen=True)
class FitHours:
    """Fitness of one field for one pass and kind of rig, hour by hour.

    Attributes
    ----------
    chance : float array (hours,)
        Odds that the pass may run in the hour: ground fit, weather for the job, daylight or lights, stage and
        date window; over members and over the uncertainty of the limit [0..1].
    odds_pct : uint8 array (members, hours)
        The same per member, over the uncertainty of the limit alone, rounded down [%].
    reason : int array (hours,)
        Index into ``list(Reason)``: the main reason against (`Reason.FIT` where the chance is at least a half).
    margin_mm : float array (hours,)
        Median water above (+) or below (-) the limit [mm].
    """

    chance: NDArray[np.float64]
    odds_pct: NDArray[np.uint8]
    reason: NDArray[np.int_]
    margin_mm: NDArray[np.float64]

    @property
    def fit(self) -> NDArray[np.bool_]:
        """Fitness (members, hours) when each member has a limit of its own, the same for all its hours.

        The members share out the uncertainty of the limit evenly, in an order that has nothing to do with their weather; one
        member alone has the central limit.
        """
        return self.odds_pct >= _limits_pct(self.odds_pct.shape[0])[:, None]

    def together(self, first: int, last: int) -> float:
        """Return the odds that all hours from `first` to before `last` are fit; never above those of the worst.

        What is not known of the limit is the same in all of them: who can run in the worst hour of a member can in the others.
        """
        return float(self.odds_pct[:, first:last].min(axis=1).mean()) / 100.0


@cache
def _limits_pct(members: int) -> NDArray[np.float64]:
    """Return the odds from which on an hour is fit in each member: the middles of as many equal shares, mixed."""
    order = np.argsort(np.argsort(np.arange(members) * GOLDEN % 1.0))
    return (order + 0.5) * 100.0 / members


@dataclass(frozen=True)
class PassWindow:
    """From when to when a pass is allowed and best in a field, before anybody asks whether the ground is fit.

    Attributes
    ----------
    opens, closes : date or None
        First and last allowed day in the middle case; None when unbounded or not yet known.
    opens_span, closes_span : (date, date) or None
        10 % and 90 % dates.
    ideal_from, ideal_to : date or None
        Best days.
    allowed_chance : float array (days,)
        Chance that a horizon day lies inside the window.
    loss_points : tuple of (date, money)
        Expected cost of having the whole field's pass done at the end of that day rather than in time: convex,
        non-decreasing from the best days on; reaches past the horizon.
    loss_undone : float
        Cost of never doing it [money].
    reasons : tuple of str
        Sentences: what sets the opening and the closing.
    opened_by, closed_by : Reason or None
        What holds it shut before `opens`, and shuts it after `closes`.
    """

    opens: date | None
    closes: date | None
    ideal_from: date | None
    ideal_to: date | None
    allowed_chance: NDArray[np.float64]
    loss_points: tuple[tuple[date, float], ...]
    loss_undone: float
    opens_span: tuple[date, date] | None = None
    closes_span: tuple[date, date] | None = None
    reasons: tuple[str, ...] = ()
    opened_by: Reason | None = None
    closed_by: Reason | None = None


@dataclass(frozen=True)
class FieldView:
    """The state of a field's ground and crop over the horizon, for pages and lists.

    Attributes
    ----------
    surface_wetness : float array (3, hours)
        10, 50 and 90 % of the surface wetness [fraction of field capacity].
    soil_temp_c : float array (hours,)
        Median at 5 cm [degC].
    stage_now : str
        Most likely stage today; empty before planting.
    height_now_m : float or None
    """

    surface_wetness: NDArray[np.float64]
    soil_temp_c: NDArray[np.float64]
    stage_now: str = ""
    height_now_m: float | None = None
    learned: str = ""


@dataclass(frozen=True)
class Outlook:
    """Everything the windows room knows, for one moment.

    Attributes
    ----------
    start_utc : datetime
        First hour: local midnight of `first_day`.
    fit : mapping of (field, pass) to mapping of rig key to FitHours
    windows : mapping of (field, pass) to PassWindow
    fields : mapping of field to FieldView
    weather : HourlyWeather
        Members over the horizon: past hours of today observed, the rest forecast.
    known_hours : int
        Hours covered by the forecast; behind them the chances are climatological.
    season_fit_share : mapping of operation to float array (weeks,)
        Expected share of daytime hours fit in each week behind the horizon (from the normals).
    notes : tuple of str
        Sentences about the weather used: source, age, gaps.
    """

    start_utc: datetime
    first_day: date
    days: int
    time_zone: str
    made_at: datetime
    fit: Mapping[FieldPass, Mapping[RigKey, FitHours]]
    windows: Mapping[FieldPass, PassWindow]
    fields: Mapping[str, FieldView]
    weather: HourlyWeather
    known_hours: int
    season_fit_share: Mapping[str, NDArray[np.float64]] = field(default_factory=dict)
    forecast_issued_at: datetime | None = None
    notes: tuple[str, ...] = ()
