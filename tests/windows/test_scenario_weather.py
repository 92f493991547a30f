"""The invented weather of the scenarios: the same files again from the same seed, and the story they are meant to tell."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from adapters.weather.recorded import RecordedWeather
from scenarios import make_weather
from shared.weather_records import Place

SCENARIOS = Path(make_weather.__file__).parent
ZONE = "America/Chicago"
PLACE = Place(42.0, -93.0, 300.0)
STORIES = {story.folder: story for story in make_weather.STORIES}


@pytest.mark.parametrize("name", list(STORIES))
def test_the_same_seed_writes_the_same_files(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(make_weather, "HERE", tmp_path)
    make_weather.tell(STORIES[name])
    made = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*.csv")}
    kept = {
        path.relative_to(SCENARIOS): path.read_bytes()
        for path in (SCENARIOS / name / "weather").rglob("*.csv")
    }
    assert made == kept
    assert max(len(text) for text in made.values()) < 400_000


@pytest.mark.parametrize("name", list(STORIES))
def test_every_morning_has_a_forecast_of_twenty_members_over_sixteen_days(name: str):
    source = RecordedWeather(SCENARIOS / name / "weather", ZONE)
    for morning in STORIES[name].mornings:
        now = datetime(morning.year, morning.month, morning.day, 5, tzinfo=ZoneInfo(ZONE))
        forecast = source.forecast(PLACE, now)
        assert (forecast.members, forecast.hours) == (20, 16 * 24)
        assert timedelta(0) <= now - forecast.issued_at < timedelta(hours=1)
        seen = source.observed(PLACE, morning - timedelta(days=75), now)
        assert seen.end_utc == now and not np.isnan(seen.rain_mm).any()


def test_the_forecasts_miss_more_the_further_they_look_and_are_centred_near_the_truth():
    folder = SCENARIOS / "wet-week" / "weather"
    source = RecordedWeather(folder, ZONE)
    story = STORIES["wet-week"]
    truth = source.observed(PLACE, date(2027, 5, 1), datetime(2027, 5, 31, tzinfo=ZoneInfo(ZONE)))
    near, far, bias = [], [], []
    for morning in story.mornings:
        now = datetime(morning.year, morning.month, morning.day, 5, tzinfo=ZoneInfo(ZONE))
        told = source.forecast(PLACE, now)
        real = truth.between(told.start_utc, told.end_utc)
        days = real.hours // 24
        temp = [x.temp_c[:, : 24 * days].reshape(-1, days, 24).mean(axis=2) for x in (told, real)]
        miss = temp[0] - temp[1]
        near.append(np.abs(miss[:, :2]).mean())
        far.append(np.abs(miss[:, 8:]).mean())
        bias.append(miss[:, :3].mean())
    assert np.mean(near) < np.mean(far)
    assert abs(np.mean(bias)) < 1.0


def test_the_wet_week_is_wet_behind_dries_out_is_stormed_on_and_gets_wet_again():
    source = RecordedWeather(SCENARIOS / "wet-week" / "weather", ZONE)
    truth = source.observed(PLACE, date(2027, 5, 1), datetime(2027, 5, 25, tzinfo=ZoneInfo(ZONE)))
    rain = truth.rain_mm[0].reshape(-1, 24).sum(axis=1)
    by_day = {date(2027, 5, 1) + timedelta(days=k): float(mm) for k, mm in enumerate(rain)}
    assert by_day[date(2027, 5, 8)] > 10
    assert sum(by_day[date(2027, 5, day)] for day in (9, 10, 11, 12)) == 0
    assert by_day[date(2027, 5, 13)] > 15
    assert sum(by_day[date(2027, 5, day)] for day in (14, 15, 16, 17)) == 0
    assert by_day[date(2027, 5, 18)] + by_day[date(2027, 5, 19)] > 20


def test_a_wet_morning_holds_the_planter_and_a_dry_spell_lets_it_go():
    """The farm of the wet week as its files describe it, on its first morning."""
    from adapters.storage.farm_files import read_farm_folder
    from scheduler.events.derive import situation
    from scheduler.events.state import State
    from scheduler.farm.build import build_farm
    from scheduler.windows.build import build_outlook
    from shared.clock import Horizon

    farm, _ = build_farm(read_farm_folder(SCENARIOS / "wet-week"))
    now = datetime(2027, 5, 10, 5, tzinfo=ZoneInfo(farm.time_zone))
    source = RecordedWeather(SCENARIOS / "wet-week" / "weather", farm.time_zone)
    outlook = build_outlook(
        situation(farm, State(), now),
        Horizon(now.date(), 14, farm.time_zone),
        source.observed(farm.place, now.date() - timedelta(days=75), now),
        source.forecast(farm.place, now),
        source.normals(farm.place),
    )
    best = {
        name: max(kinds.values(), key=lambda hours: hours.chance.sum()).chance
        for (name, pass_id), kinds in outlook.fit.items()
        if pass_id == "plant"
    }
    monday, wednesday, friday = (np.array([odds[24 * k + 9] for odds in best.values()]) for k in (0, 2, 4))
    assert (wednesday > monday).all(), "three days without rain"
    assert (friday < wednesday - 0.2).all(), "after the storm in the night to Thursday"
    assert (monday >= 0.5).any() and (monday < 0.5).any(), "some fields are ready before others"
