"""Days that a station does not tell: filled and said where few, the record parted where many, rows in any order."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from adapters.weather.chain import Chain
from adapters.weather.daily_csv import parse_daily_csv, read_gauge_csv
from adapters.weather.daily_gaps import LONGEST_GAP_D, stretches
from shared.errors import WeatherUnavailable
from shared.weather_records import HourlyWeather, Place

HEADER = "date,rain_mm,tmax_c,tmin_c"


def rows(first: date, count: int, warm_c: float = 10.0) -> list[str]:
    return [f"{first + timedelta(days=k)},{k % 3},{warm_c},{warm_c - 8}" for k in range(count)]


def read(lines: list[str]):
    return stretches(parse_daily_csv("\n".join([HEADER, *lines]) + "\n", "a.csv"))


def test_days_without_a_row_are_missing_days_and_counted():
    lines = rows(date(2026, 4, 1), 30)
    (days,) = read(lines[:9] + lines[11:])
    assert days.days == 30 and days.rain_mm[0, 9] == pytest.approx(29 / 28) and days.tmax_c[0, 9] == 10.0
    assert "2 days have no row" in " ".join(days.notes)
    assert "tmax_c missing on 2 days was interpolated" in " ".join(days.notes)


def test_the_longest_gap_is_filled_and_a_day_more_parts_the_record():
    lines = rows(date(2026, 4, 1), 90)
    (whole,) = read(lines[:20] + lines[20 + LONGEST_GAP_D :])
    assert whole.days == 90
    before, after = read(lines[:20] + lines[21 + LONGEST_GAP_D :])
    assert before.days == 20 and after.first_day == date(2026, 4, 1) + timedelta(days=21 + LONGEST_GAP_D)
    assert any("no weather from 2026-04-21 to 2026-05-22; after each the ground" in n for n in before.notes)


def test_a_long_hole_in_the_values_parts_like_one_in_the_rows():
    lines = rows(date(2026, 4, 1), 90)
    empty = [line.split(",")[0] + ",,," for line in lines]
    (before, after), (a, b) = read(lines[:20] + empty[20:60] + lines[60:]), read(lines[:20] + lines[60:])
    assert (before.days, after.days) == (20 + 5, 30 + 5) and (a.days, b.days) == (20, 30)


def test_a_gap_of_a_week_takes_the_same_days_of_other_years():
    first, second = (
        rows(date(2025, 1, 1), 365, warm_c=20.0),
        rows(date(2026, 1, 1), 365, warm_c=10.0),
    )
    (days,) = read(first + second[:100] + second[108:])
    gap = slice(365 + 100, 365 + 108)
    assert days.tmax_c[0, gap].tolist() == [20.0] * 8
    assert any("in gaps of more than 5 days, was taken from the same days" in note for note in days.notes)


def test_without_other_years_a_gap_of_a_week_is_straight():
    lines = rows(date(2026, 4, 1), 10, 10.0) + rows(date(2026, 4, 20), 10, 20.0)
    (days,) = read(lines)
    assert np.diff(days.tmax_c[0, 9:20]) == pytest.approx(1.0)


def test_rows_that_tell_a_part_only_at_the_ends_are_left_out_and_said():
    lines = rows(date(2026, 4, 1), 60)
    part = [line.split(",")[0] + ",1,," for line in lines]
    (days,) = read(part[:20] + lines[20:50] + part[50:])
    assert days.first_day == date(2026, 4, 16) and days.days == 5 + 30 + 5
    assert any("15 days before 2026-04-16 and 5 days after 2026-05-25 lack rain or" in n for n in days.notes)


def test_a_rare_impossible_value_is_missing_and_many_are_a_wrong_column():
    lines = rows(date(2026, 1, 1), 200)
    day = lines[50].split(",")[0]
    (days,) = read([*lines[:50], f"{day},900,10,2", *lines[51:]])
    assert days.rain_mm[0, 50] == pytest.approx(days.rain_mm[0, 31:59].mean(), rel=0.2)
    assert any("rain_mm cannot be right on 1 day (first in row 52: 900)" in note for note in days.notes)
    hot = [f"{line.split(',')[0]},0,109,2" for line in lines[:3]]
    with pytest.raises(WeatherUnavailable, match="row 2, tmax_c"):
        read([*hot, *lines[3:]])


def test_humidity_as_a_share_is_refused():
    text = "date,rain_mm,tmax_c,tmin_c,rh_max_pct\n" + "\n".join(
        f"{line},0.9" for line in rows(date(2026, 4, 1), 12)
    )
    with pytest.raises(WeatherUnavailable, match="share of one; allowed: percent"):
        parse_daily_csv(text, "a.csv")


def test_rows_in_any_order_and_a_first_day_told_in_part():
    lines = rows(date(2026, 4, 1), 10)
    lines[0] = "2026-04-01,4,,2"
    (days,) = read(lines[::-1])
    assert days.first_day == date(2026, 4, 1) and days.days == 10 and days.rain_mm[0, 0] == 4.0
    assert any("were sorted" in note for note in days.notes)


@pytest.mark.parametrize("mark", [";", "\t"])
def test_semicolons_and_tabs_with_commas_in_numbers(mark):
    lines = [HEADER.replace(",", mark), mark.join(["2026-04-01 00:00:00", "1,5", "10,25", "-0,5"])]
    (days,) = stretches(parse_daily_csv("\n".join(lines), "a.csv"))
    assert (days.rain_mm[0, 0], days.tmax_c[0, 0], days.tmin_c[0, 0]) == (1.5, 10.25, -0.5)


def test_empty_cells_at_the_end_of_a_row_are_no_fault():
    (days,) = read(["2026-04-01,0,10,0,,"])
    assert days.days == 1


class Dry:
    """An observed source without a drop."""

    name = "dry"

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        start = datetime(first_day.year, first_day.month, first_day.day, tzinfo=UTC)
        shape = (1, int((until - start).total_seconds() // 3600))
        zero, mild = np.zeros(shape), np.full(shape, 12.0)
        return HourlyWeather(start, zero, mild, np.full(shape, 70.0), zero, zero, source="dry")


def with_gauge(tmp_path, text: str) -> HourlyWeather:
    file = tmp_path / "gauge.csv"
    file.write_text(text)
    chain = Chain([], [Dry()], [], "UTC", file)
    return chain.observed(Place(42.0, -93.0, 300.0), date(2026, 5, 1), datetime(2026, 5, 5, tzinfo=UTC))


def test_a_gauge_needs_rain_only_and_an_empty_cell_is_not_a_drop_of_it(tmp_path):
    weather = with_gauge(tmp_path, "date,rain_mm\n2026-05-01,12\n2026-05-02,\n2026-05-04,3\n")
    assert weather.rain_mm.reshape(4, 24).sum(axis=1) == pytest.approx([12.0, 0.0, 0.0, 3.0])
    assert "rain of the farm's own gauge on 2 days" in weather.notes
    assert np.isnan(read_gauge_csv(tmp_path / "gauge.csv").columns["rain_mm"][1])


def test_a_gauge_that_cannot_be_read_is_left_out_and_said(tmp_path):
    weather = with_gauge(tmp_path, "date,rain_mm\n2026-05-01,lots\n")
    assert weather.rain_mm.sum() == 0.0
    assert any("left out: gauge.csv" in note and "row 2, rain_mm" in note for note in weather.notes)
