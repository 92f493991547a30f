"""The plain CSV reader: what it accepts, and the one sentence it refuses with."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from adapters.weather.daily_csv import parse_daily_csv, read_daily_stretches
from adapters.weather.daily_gaps import stretches
from shared.errors import WeatherUnavailable

GOOD = """date,rain_mm,tmax_c,tmin_c,solar_mj_m2,rh_max_pct,rh_min_pct,wind_m_s
2026-04-01,0.0,12.1,1.5,14.2,95,40,
2026-04-02,11.4,9.0,3.3,,98,70,3.1
2026-04-03,0.2,14.5,2.0,17.0,,,2.4
"""


def read(text, name="a.csv"):
    """One stretch out of a text."""
    (days,) = stretches(parse_daily_csv(text, name))
    return days


def test_reads_values_and_leaves_optional_gaps_open():
    days = read(GOOD, "station.csv")
    assert days.first_day == date(2026, 4, 1) and days.days == 3 and days.members == 1
    assert days.rain_mm[0].tolist() == [0.0, 11.4, 0.2]
    assert np.isnan(days.solar_mj_m2[0, 1]) and np.isnan(days.wind_m_s[0, 0])
    assert days.notes == ()


def test_only_the_required_columns_are_needed():
    days = read("date,rain_mm,tmax_c,tmin_c\n2026-04-01,0,10,0\n", "a.csv")
    assert days.solar_mj_m2 is None and days.days == 1


def test_missing_rain_is_never_taken_as_dry():
    text = "date,rain_mm,tmax_c,tmin_c\n2026-04-01,6,10,0\n2026-04-02,,10,0\n2026-04-03,0,10,0\n"
    days = read(text, "a.csv")
    assert days.rain_mm[0, 1] == 3.0
    assert "rain missing on 1 day" in days.notes[0]


def test_short_temperature_gaps_are_interpolated_and_said():
    text = "date,rain_mm,tmax_c,tmin_c\n2026-04-01,0,10,0\n2026-04-02,0,,1\n2026-04-03,0,14,2\n"
    days = read(text, "a.csv")
    assert days.tmax_c[0, 1] == 12.0
    assert any("tmax_c missing on 1 day" in note for note in days.notes)


def test_unknown_columns_are_named_not_guessed():
    days = read("date,rain_mm,tmax_c,tmin_c,snow\n2026-04-01,0,10,0,3\n", "a.csv")
    assert "snow" in days.notes[0]


HEADER = "date,rain_mm,tmax_c,tmin_c\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", ["header", "lacks the column date"]),
        ("date,rain_mm,tmax_c\n", ["lacks the column tmin_c"]),
        ("date,rain_mm,rain_mm,tmax_c,tmin_c\n", ["twice"]),
        (HEADER, ["rows", "missing"]),
        (HEADER + "2026-04-01,0,10\n", ["row 2", "cells"]),
        (HEADER + "April 1,0,10,0\n", ["row 2, date", "'April 1'", "YYYY-MM-DD"]),
        (HEADER + "2026-02-30,0,10,0\n", ["row 2, date", "2026-02-30"]),
        (HEADER + "2026-04-01T06:00,0,10,0\n", ["row 2, date", "tells an hour"]),
        (HEADER + "1026-04-01,0,10,0\n", ["row 2, date", "years from 1800"]),
        (HEADER + "2026-04-01,0,10,0,7\n", ["row 2", "another number of cells"]),
        (HEADER + "2026-04-01,0,10,0\n2026-04-01,0,10,0\n", ["row 3, date", "twice"]),
        (HEADER + "2026-04-01,wet,10,0\n", ["row 2, rain_mm", "'wet'", "number"]),
        (HEADER + "2026-04-01,1000,10,0\n", ["row 2, rain_mm", "'1000'", "500 mm"]),
        (HEADER + "2026-04-01,-1,10,0\n", ["row 2, rain_mm", "'-1'"]),
        (HEADER + "2026-04-01,0,-777,0\n", ["row 2, tmax_c", "empty where missing"]),
        (HEADER + "2026-04-01,0,-9999,0\n", ["tmax_c", "empty on every day"]),
        (HEADER + "2026-04-01,0,5,9\n", ["row 2, tmin_c", "above tmax_c", "at most 5"]),
        (HEADER + "2026-04-01,,10,0\n", ["rain_mm", "empty on every day"]),
        (HEADER + "2026-04-01,0,10,\n2026-04-02,0,,0\n", ["on no day told together"]),
    ],
)  # fmt: skip
def test_what_cannot_be_right_is_refused_in_one_sentence(text, words):
    with pytest.raises(WeatherUnavailable) as refused:
        read(text, "station.csv")
    sentence = str(refused.value)
    assert sentence.startswith("station.csv") and sentence.endswith(".") and "\n" not in sentence
    for word in words:
        assert word in sentence


def test_a_file_that_is_not_there_or_not_text(tmp_path):
    with pytest.raises(WeatherUnavailable, match="cannot be read"):
        read_daily_stretches(tmp_path / "nowhere.csv")
    binary = tmp_path / "binary.csv"
    binary.write_bytes(b"\xff\xfe\x00\x80")
    with pytest.raises(WeatherUnavailable, match="UTF-8"):
        read_daily_stretches(binary)


def test_reads_a_file_with_a_byte_order_mark_and_windows_line_ends(tmp_path):
    path = tmp_path / "station.csv"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_daily_stretches(path)[0].days == 3


def test_marks_of_stations_are_read_and_said():
    rows = ["2026-04-01,T,10,0,101.5", "2026-04-02,M,-9999,1,99", "2026-04-03,2,14,2,NaN"]
    days = read("Date, Rain_mm,Tmax_C,tmin_c,rh_max_pct\n" + "\n".join(rows) + "\n", "a.csv")
    assert days.rain_mm[0].tolist() == [0.0, 1.0, 2.0] and days.tmax_c[0].tolist() == [10.0, 12.0, 14.0]
    assert days.rh_max_pct[0, :2].tolist() == [100.0, 99.0] and np.isnan(days.rh_max_pct[0, 2])
    told = " | ".join(days.notes)
    for part in (
        "'T' (a trace), taken as 0, on 1 day",
        "'M', taken as missing,",
        "'-9999', taken",
        "above 100 % was taken as 100 % on 1 day",
    ):
        assert part in told


def test_a_night_warmer_than_its_day_is_a_slip_once_in_a_hundred_days_and_a_fault_of_the_file_oftener():
    text = HEADER + "\n".join(_days(120, {7: "10,11"})) + "\n"
    days = read(text, "a.csv")
    assert days.tmax_c[0, 7] == 10.0 and days.tmin_c[0, 7] == 0.0
    assert any("above tmax_c on 1 day (first in row 9)" in note for note in days.notes)
    with pytest.raises(WeatherUnavailable, match="row 9, tmin_c"):
        read(HEADER + "\n".join(_days(120, {7: "10,11", 9: "10,12"})) + "\n", "a.csv")


def _days(count, other):
    return [f"{date(2026, 4, 1) + timedelta(days=k)},0,{other.get(k, '10,0')}" for k in range(count)]
