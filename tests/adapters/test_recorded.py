"""Recorded weather: a replay never knows tomorrow, the newest forecast counts, and damaged files are named in a sentence."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from adapters.weather import open_weather
from adapters.weather.recorded import RecordedWeather
from shared.errors import WeatherUnavailable
from shared.ports import WeatherSource
from shared.weather_records import Place

ZONE = "America/Chicago"
PLACE = Place(42.0, -93.0, 300.0)
HEAD = "date,rain_mm,rain_from_h,rain_hours,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s"


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(ZONE))


def write(path: Path, head: str, lines: list[str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three observed days (rain of 6 mm on the second, 14:00 to 17:00), two forecasts, one past year."""
    rows = [
        "2027-05-08,0,,,20,9,90,45,3",
        "2027-05-09,6.0,14,3,18,9,95,60,3",
        "2027-05-10,8.0,6,2,17,8,95,60,3",
    ]
    write(tmp_path / "observed.csv", HEAD, rows)
    for issued, rain in (("2027-05-09T0430", 1.0), ("2027-05-10T0430", 2.0)):
        start = date.fromisoformat(issued[:10])
        lines = [
            f"{start + timedelta(days=k)},{rain * m},12,2,20,9,90,45,3,{m}"
            for m in (1, 2, 3)
            for k in range(4)
        ]
        write(tmp_path / "forecasts" / f"{issued}.csv", HEAD + ",member", lines)
    past = [f"{date(2026, 1, 1) + timedelta(days=k)},1.0,15,5" for k in range(365)]
    write(tmp_path / "normals.csv", "date,rain_mm,tmax_c,tmin_c", past)
    return tmp_path


def source(folder: Path) -> RecordedWeather:
    return RecordedWeather(folder, ZONE)


def test_it_is_a_weather_source(folder: Path):
    assert isinstance(source(folder), WeatherSource)


def test_nothing_after_the_asked_moment_is_shown(folder: Path):
    seen = source(folder).observed(PLACE, date(2027, 5, 8), local("2027-05-10T07:00"))
    assert seen.end_utc == local("2027-05-10T07:00")
    assert seen.start_utc == local("2027-05-08T00:00")
    assert seen.rain_mm.sum() == pytest.approx(6.0 + 8.0 / 2), (
        "half of the third day's rain has fallen by seven"
    )


def test_rain_lies_in_the_hours_that_the_file_names(folder: Path):
    seen = source(folder).observed(PLACE, date(2027, 5, 9), local("2027-05-10T00:00"))
    wet = np.flatnonzero(seen.rain_mm[0] > 0).tolist()
    assert wet == [14, 15, 16]
    assert seen.rain_mm[0, wet].tolist() == pytest.approx([2.0, 2.0, 2.0])


def test_the_newest_forecast_issued_by_now_counts(folder: Path):
    early = source(folder).forecast(PLACE, local("2027-05-10T04:29"))
    late = source(folder).forecast(PLACE, local("2027-05-10T04:30"))
    assert early.issued_at == local("2027-05-09T04:30") and late.issued_at == local("2027-05-10T04:30")
    assert late.members == 3 and late.hours == 96
    assert late.rain_mm[:, :24].sum(axis=1).tolist() == pytest.approx([2.0, 4.0, 6.0])


def test_no_forecast_yet_is_said(folder: Path):
    with pytest.raises(WeatherUnavailable, match="no forecast issued before 2027-05-08 05:00"):
        source(folder).forecast(PLACE, local("2027-05-08T05:00"))


def test_a_record_that_ends_too_soon_is_said(folder: Path):
    with pytest.raises(WeatherUnavailable, match=r"observed\.csv ends on 2027-05-10, before 2027-05-14"):
        source(folder).observed(PLACE, date(2027, 5, 8), local("2027-05-14T05:00"))


def test_past_years_come_as_they_are(folder: Path):
    past = source(folder).normals(PLACE)
    assert (past.days, past.first_day) == (365, date(2026, 1, 1))


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["2027-05-08,1000,,,20,9,90,45,3"], "row 2, rain_mm '1000' is not usable; allowed: 0 to 500"),
        (["2027-05-08,-1,,,20,9,90,45,3"], "row 2, rain_mm '-1'"),
        (["2027-05-08,0,,,20,,90,45,3"], "row 2, tmin_c ''"),
        (["2027-05-08,wet,,,20,9,90,45,3"], "rain_mm 'wet'"),
        (["2027-05-08,0,,,20,9,190,45,3"], "rh_max_pct '190'"),
        (["2027-05-08,0,,,9,20,90,45,3"], "tmax_c 9 lies below tmin_c 20"),
        (["2027-05-08,0,,,20"], "row 2, tmin_c ''"),
        (["2027-05-08,0,,,20,9,90,45,3", "2027-05-"], "allowed: dates such as"),
        (["8 May,0,,,20,9,90,45,3"], "allowed: dates such as 2027-05-10"),
        (["2027-05-08,0,,,20,9,90,45,3", "2027-05-10,0,,,20,9,90,45,3"], "2027-05-10 follows 2027-05-08"),
        (["2027-05-08,0,,,20,9,90,45,3"] * 2, "2027-05-08 follows 2027-05-08"),
        ([], "holds no days"),
    ],
)
def test_a_damaged_record_is_refused_with_file_row_and_what_is_allowed(
    folder: Path, lines: list[str], said: str
):
    write(folder / "observed.csv", HEAD, lines)
    with pytest.raises(WeatherUnavailable) as refused:
        source(folder).observed(PLACE, date(2027, 5, 8), local("2027-05-08T05:00"))
    assert "observed.csv" in str(refused.value) and said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_missing_files_columns_and_names_are_said(folder: Path):
    write(folder / "normals.csv", "date,rain_mm,tmax_c", ["2026-01-01,0,3"])
    with pytest.raises(WeatherUnavailable, match="column 'tmin_c' is missing"):
        source(folder).normals(PLACE)
    (folder / "normals.csv").unlink()
    with pytest.raises(WeatherUnavailable, match=r"normals\.csv is missing"):
        source(folder).normals(PLACE)
    (folder / "forecasts" / "tuesday.csv").write_text(HEAD, encoding="utf-8")
    with pytest.raises(WeatherUnavailable, match=r"tuesday\.csv: the name is no time of issue"):
        source(folder).forecast(PLACE, local("2027-05-10T05:00"))


def test_bytes_that_are_no_text_are_refused(folder: Path):
    (folder / "observed.csv").write_bytes(b"\xff\xfe\x00\x01date,rain_mm\n")
    with pytest.raises(WeatherUnavailable, match=r"observed\.csv"):
        source(folder).observed(PLACE, date(2027, 5, 8), local("2027-05-08T05:00"))


def test_members_of_unequal_length_are_refused(folder: Path):
    lines = [
        "2027-05-10,0,,,20,9,90,45,3,1",
        "2027-05-11,0,,,20,9,90,45,3,1",
        "2027-05-10,0,,,20,9,90,45,3,2",
    ]
    write(folder / "forecasts" / "2027-05-10T0430.csv", HEAD + ",member", lines)
    with pytest.raises(WeatherUnavailable, match="members cover different days"):
        source(folder).forecast(PLACE, local("2027-05-10T05:00"))


@dataclass
class Settings:
    source: str = "recorded"
    folder: str = "weather"
    forecast: tuple[str, ...] = ()
    observed: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    options: dict[str, Any] = field(default_factory=dict)


def test_sources_are_opened_by_name(folder: Path):
    assert open_weather(folder.parent, Settings("recorded", folder.name), ZONE).normals(PLACE).days == 365
    with pytest.raises(
        WeatherUnavailable, match=r"weather\.source 'crystal ball' is not known; allowed: ghcn-csv"
    ):
        open_weather(folder, Settings("crystal ball"), ZONE)
    with pytest.raises(WeatherUnavailable, match=r"weather\.options 'speed'"):
        open_weather(folder, Settings(options={"speed": 2}), ZONE)
