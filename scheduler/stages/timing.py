"""Which stages, dates, heights and soil temperatures a pass is bound to: the default table and its overrides.

`PassTiming` holds the rule of one pass; `default_timing` reads it from shared/tables/pass_timing.csv. A farm
file may override every part. Labels and local rules go before all of this.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any

from scheduler.stages.names import SettingRefused, scale_for
from scheduler.stages.published import rows

DayOfYear = tuple[int, int]


@dataclass(frozen=True)
class PassTiming:
    """When one pass may run (hard) and is best (soft).

    Attributes
    ----------
    operation : str
        Kind of pass, a value of `shared.vocabulary.Operation`.
    crop : str
        Crop whose stage counts; empty for any.
    variant : str
        Special rule within the operation (a product group, a termination zone); empty for the default.
    stage_from, stage_to : str or None
        First and last stage, both included: "V6" lasts until V7 begins.
    ideal_stage_from, ideal_stage_to : str or None
        Best stages, within the allowed ones.
    date_from, date_to, ideal_from, ideal_to : (month, day) or None
        First and last date, allowed and best; both included.
    max_height_m : float or None
        Tallest crop the pass may meet [m]: a label limit here; the rig's own clearance is set by the farm.
    soil_temp_min_c : float or None
        Least soil temperature at seed depth [degC].
    days_after_planting_min, days_after_planting_max : int or None
        Lag to the planting day; negative is before.
    ideal_days_after_planting_min, ideal_days_after_planting_max : int or None
        Best lag.
    status, source : str
        How sure the source is (V read, V2 read quoted, M from memory, A assumption) and what it is.
    """

    operation: str
    crop: str = ""
    variant: str = ""
    stage_from: str | None = None
    stage_to: str | None = None
    ideal_stage_from: str | None = None
    ideal_stage_to: str | None = None
    date_from: DayOfYear | None = None
    date_to: DayOfYear | None = None
    ideal_from: DayOfYear | None = None
    ideal_to: DayOfYear | None = None
    max_height_m: float | None = None
    soil_temp_min_c: float | None = None
    days_after_planting_min: int | None = None
    days_after_planting_max: int | None = None
    ideal_days_after_planting_min: int | None = None
    ideal_days_after_planting_max: int | None = None
    status: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        self._check_stages()
        for low, high in (("date_from", "date_to"), ("ideal_from", "ideal_to")):
            first, last = getattr(self, low), getattr(self, high)
            for day in (first, last):
                if day is not None:
                    _check_day(day)
            if first is not None and last is not None and first > last:
                raise SettingRefused(
                    f"{self.operation}: {low} {_spell(first)} is later than {high} {_spell(last)}."
                )
        first_lag, last_lag = self.days_after_planting_min, self.days_after_planting_max
        if first_lag is not None and last_lag is not None and first_lag > last_lag:
            raise SettingRefused(
                f"{self.operation}: days_after_planting_min {first_lag} is more than "
                f"days_after_planting_max {last_lag}."
            )
        if self.max_height_m is not None and not 0.0 < self.max_height_m <= 5.0:
            raise SettingRefused(
                f"{self.operation}: max_height_m {self.max_height_m:g}; allowed: above 0, at most 5 m."
            )

    def _check_stages(self) -> None:
        named = [self.stage_from, self.stage_to, self.ideal_stage_from, self.ideal_stage_to]
        if not any(named):
            return
        scale = scale_for(self.crop)
        for low, high in ((self.stage_from, self.stage_to), (self.ideal_stage_from, self.ideal_stage_to)):
            numbers = [scale.parse(stage) for stage in (low, high) if stage]
            if len(numbers) == 2 and numbers[0] > numbers[1]:
                raise SettingRefused(
                    f"{self.operation}: the window opens at {low}, after it closes at {high}."
                )

    @property
    def needs_stage(self) -> bool:
        """Whether the pass is bound to the crop's stage."""
        return self.stage_from is not None or self.stage_to is not None

    def with_changes(self, **changes: Any) -> PassTiming:
        """Return the rule with some parts replaced (None lifts a part); unknown names are refused."""
        known = {f.name for f in fields(self)}
        for name in changes:
            if name not in known:
                raise SettingRefused(
                    f"{self.operation}: {name!r} is not part of a timing; allowed: {sorted(known)}."
                )
        return replace(self, **changes)


def timing_variants(operation: str, crop: str = "") -> tuple[str, ...]:
    """Return the variants the default table knows for an operation ("" is the plain one)."""
    return tuple(
        r["variant"] for r in rows("pass_timing.csv") if r["operation"] == operation and _suits(r, crop)
    )


def default_timing(operation: str, crop: str = "", variant: str = "") -> PassTiming:
    """Return the default rule of a pass, from shared/tables/pass_timing.csv.

    A row for the crop goes before a row for any crop. An operation without a row has no stage or date limits.
    """
    found = [
        row
        for row in rows("pass_timing.csv")
        if row["operation"] == operation and row["variant"] == variant and _suits(row, crop)
    ]
    if not found:
        if variant:
            known = ", ".join(repr(v) for v in timing_variants(operation, crop)) or "none"
            raise SettingRefused(
                f"{operation} for {crop or 'any crop'}: no variant {variant!r}; allowed: {known}."
            )
        return PassTiming(operation, crop, status="A", source="no limits known")
    return _from_row(max(found, key=lambda row: bool(row["crop"])))


def over_the_top_n_limit_lb_per_ac(stage: str) -> float | None:
    """Return the most nitrogen [lb/ac] that may be broadcast over corn as UAN at a stage; None where not
    published.

    90 at V3 and V4, 60 to V7, none beyond V7 (Iowa State University ICM, 24 May 1999). V5 and V6 are not
    named there; the lower value is taken.
    """
    scale = scale_for("corn")
    number = scale.parse(stage)
    if number < scale.parse("V3"):
        return None
    if number < scale.parse("V5"):
        return 90.0
    return 60.0 if number < scale.parse("V8") else 0.0


def _suits(row: dict[str, str], crop: str) -> bool:
    return row["crop"] in ("", crop)


def _from_row(row: dict[str, str]) -> PassTiming:
    named: dict[str, Any] = {
        name: row[name] or None for name in ("stage_from", "stage_to", "ideal_stage_from", "ideal_stage_to")
    }
    days: dict[str, Any] = {
        name: _day(row[name]) for name in ("date_from", "date_to", "ideal_from", "ideal_to")
    }
    lags: dict[str, Any] = {
        name: int(row[name]) if row[name] else None
        for name in row
        if name.endswith(("planting_min", "planting_max"))
    }
    return PassTiming(
        row["operation"],
        row["crop"],
        row["variant"],
        **named,
        **days,
        max_height_m=round(float(row["max_height_in"]) * 0.0254, 4) if row["max_height_in"] else None,
        soil_temp_min_c=float(row["soil_temp_min_c"]) if row["soil_temp_min_c"] else None,
        **lags,
        status=row["status"],
        source=row["source"],
    )


def _day(text: str) -> DayOfYear | None:
    if not text:
        return None
    month, day = text.split("-")
    return int(month), int(day)


def _check_day(day: DayOfYear) -> None:
    try:
        date(2000, day[0], day[1])
    except ValueError:
        raise SettingRefused(f"{day!r} is not a day of the year; allowed: (month, day).") from None


def _spell(day: DayOfYear) -> str:
    return f"{day[0]:02d}-{day[1]:02d}"
