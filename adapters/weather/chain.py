"""Several weather sources as one: asked in order of preference, joined where one ends, and said who was used.

A source that fails is passed over with its sentence in the notes. Observed hours are joined end to end: a reanalysis that lags
a week, then gridded days up to yesterday, then a service's own last hours. A gauge on the farm, where its file speaks,
goes before all of them. A forecast issued before the last one that was used is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

import numpy as np

from adapters.weather.daily_csv import read_gauge_csv
from shared.clock import local_midnight
from shared.errors import WeatherUnavailable
from shared.ports import WeatherSource
from shared.weather_records import DailyWeather, HourlyWeather, Place

T = TypeVar("T")
LEAST_H = 24
HOUR = timedelta(hours=1)


class Chain:
    """A `shared.ports.WeatherSource` over several others."""

    def __init__(
        self, forecast: Sequence[WeatherSource], observed: Sequence[WeatherSource], history: Sequence[WeatherSource],
        time_zone: str, gauge: Path | None = None,
    ) -> None:  # fmt: skip
        self.name = ", ".join(dict.fromkeys(one.name for one in (*forecast, *observed, *history)))
        self._forecast, self._observed, self._history = tuple(forecast), tuple(observed), tuple(history)
        self._zone, self._gauge = ZoneInfo(time_zone), gauge
        self._newest: datetime | None = None

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Return the first usable forecast (see the port)."""

        def ask(one: WeatherSource) -> HourlyWeather:
            found = one.forecast(place, now)
            if found.hours < LEAST_H:
                raise WeatherUnavailable(f"{one.name} forecasts {found.hours} hours only.")
            issued = found.issued_at
            if issued is not None and issued > now + timedelta(hours=2):
                raise WeatherUnavailable(
                    f"{one.name} gives a forecast issued in the future ({issued:%Y-%m-%d %H:%M} UTC); a clock is wrong."
                )
            if issued is not None and self._newest is not None and issued < self._newest:
                raise WeatherUnavailable(f"{one.name} gives an older forecast than the last one.")
            return found

        found, passed = _first(self._forecast, ask, "forecast")
        self._newest = found.issued_at or self._newest
        return replace(found, notes=(*passed, *found.notes))

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return observed hours joined over the sources (see the port)."""
        joined: HourlyWeather | None = None
        used: list[str] = []
        passed: list[str] = []
        progress = True
        while progress and (joined is None or joined.end_utc < until):
            progress = False
            for one in self._observed:
                start = local_midnight(first_day, self._zone) if joined is None else joined.end_utc
                try:
                    found = one.observed(place, start.astimezone(self._zone).date(), until)
                except WeatherUnavailable as error:
                    passed.append(str(error))
                    continue
                more = found.between(start, min(found.end_utc, until))
                if more.hours == 0 or (joined is not None and more.start_utc != joined.end_utc):
                    continue
                joined = more if joined is None else joined.followed_by(more)
                used.append(f"{one.name} up to {joined.end_utc.astimezone(self._zone):%a %d %b %H:%M}")
                progress = True
                break
        if joined is None:
            raise WeatherUnavailable("no source gives observed weather: " + " ".join(dict.fromkeys(passed)))
        joined = self._with_gauge(joined)
        notes = (f"observed weather: {', then '.join(used)}", *joined.notes)
        return replace(
            joined, source=", ".join(dict.fromkeys(text.split(" up to")[0] for text in used)), notes=notes
        )

    def normals(self, place: Place) -> DailyWeather:
        """Return past years from the first source that knows them (see the port)."""
        found, passed = _first(self._history, lambda one: one.normals(place), "past years")
        return replace(found, notes=(*passed, *found.notes))

    def _with_gauge(self, weather: HourlyWeather) -> HourlyWeather:
        """Return the hours with the rain of the farm's own gauge on the days on which its file speaks."""
        if self._gauge is None or not self._gauge.exists():
            return weather
        try:
            days = read_gauge_csv(self._gauge)
        except WeatherUnavailable as error:
            note = f"the farm's own gauge was left out: {error}"
            return replace(weather, notes=(*weather.notes, note))
        rain, counted = weather.rain_mm.copy(), 0
        for ordinal, told in zip(days.ordinals, days.columns["rain_mm"], strict=True):
            day = date.fromordinal(int(ordinal))
            a = weather.hour_index(local_midnight(day, self._zone))
            b = weather.hour_index(local_midnight(day + timedelta(days=1), self._zone))
            if a < 0 or b > weather.hours or np.isnan(told):
                continue
            there = rain[:, a:b].sum(axis=1, keepdims=True)
            # Where the others saw rain its hours stand; where they saw none, the early morning takes it.
            early = np.zeros((1, b - a))
            early[:, 2:6] = told / 4
            rain[:, a:b] = np.where(there > 0, rain[:, a:b] * told / np.maximum(there, 1e-9), early)
            counted += 1
        note = f"rain of the farm's own gauge on {counted} days"
        return replace(weather, rain_mm=rain, notes=(*weather.notes, note)) if counted else weather


def _first(
    sources: Sequence[WeatherSource], ask: Callable[[WeatherSource], T], what: str
) -> tuple[T, list[str]]:
    passed: list[str] = []
    for one in sources:
        try:
            return ask(one), passed
        except WeatherUnavailable as error:
            passed.append(str(error))
    raise WeatherUnavailable(
        f"no source gives a {what}: " + " ".join(passed) if passed else f"no source of a {what} is named."
    )
