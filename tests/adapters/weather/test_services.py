"""Live weather sources against a local server that answers faithfully and with every fault; nothing reaches the internet."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from adapters.http.polite import PoliteClient
from adapters.weather import open_weather
from shared.errors import WeatherUnavailable
from shared.ports import WeatherSource
from tests.adapters.weather.calls import (
    FORECASTERS,
    NOW,
    PLACE,
    ZONE,
    Settings,
    client_for,
    opened,
    sound,
)
from tests.adapters.weather.fault_server import Service


@pytest.mark.parametrize("name", FORECASTERS)
def test_every_forecaster_keeps_the_contract(service: Service, tmp_path: Path, name: str) -> None:
    source = opened(service, tmp_path, forecast=(name,))
    found = source.forecast(PLACE, NOW)
    sound(found)
    assert found.start_utc == NOW.replace(minute=0) and found.hours >= 48 and found.members >= 5
    assert found.issued_at is not None and found.issued_at <= NOW
    assert isinstance(source, WeatherSource)
    again = opened(service, tmp_path, forecast=(name,)).forecast(PLACE, NOW)
    assert np.array_equal(found.rain_mm, again.rain_mm), "the same reply gives the same members"
    assert all("test@example.org" in headers["user-agent"] for _, headers in service.asked)


def test_national_grid_is_read_with_its_units_intervals_and_early_end(
    service: Service, tmp_path: Path
) -> None:
    found = opened(service, tmp_path, forecast=("us-national",)).forecast(PLACE, NOW)
    # Rain is given for 3.25 days from four hours ago: hours behind are unknown, so the record ends there.
    assert found.hours == 78 - 4 and found.members == 20
    # 18 km/h at 10 m are 5 m/s, and 0.748 of that at 2 m (FAO-56 Eq. 47 and its worked factor).
    assert found.wind_m_s[0, 0] == pytest.approx(5 * 0.748, abs=0.002)
    given = sum(4.0 * h for h in (6 / 6, 6 / 6, 6 / 6, 0)) if found.hours < 80 else 0
    assert found.rain_mm.sum(axis=1).mean() == pytest.approx(given, rel=0.5)
    assert (found.rain_mm.sum(axis=1) == 0).mean() < 0.5


def test_error_model_keeps_amount_and_chance() -> None:
    """Over many members the mean is the amount and the wet share the chance (own model, docs/weather.md)."""
    from adapters.weather.one_value import Interval, rain_members, temperature_members

    rain = rain_members([Interval(0, 6, 5.0, 0.4), Interval(30, 6, 3.0, 0.9)], 48, 40_000, 3)
    for first, amount, chance in ((0, 5.0, 0.4), (30, 3.0, 0.9)):
        total = rain[:, first : first + 6].sum(axis=1)
        assert (total > 0).mean() == pytest.approx(chance, abs=0.01)
        assert total.mean() == pytest.approx(amount, rel=0.03)
    warm = temperature_members(np.full(240, 10.0), 4000, 5)
    assert warm[:, 0].std() < warm[:, -1].std() and warm.mean() == pytest.approx(10.0, abs=0.1)


def test_ensemble_members_come_as_they_are_and_rain_at_its_own_hour(service: Service, tmp_path: Path) -> None:
    found = opened(service, tmp_path, forecast=("global-ensemble",)).forecast(PLACE, NOW)
    assert found.members == 6
    per_day = found.rain_mm[:, : 24 * 10].reshape(6, 10, 24).sum(axis=2)
    assert per_day.tolist() == [[float(m)] * 10 for m in range(6)]
    assert found.rain_mm[3, 15 - 10] == 3.0, (
        "an hour's rain is stamped with its end: 16 o'clock means 15 to 16"
    )
    assert found.temp_c[:, 0].tolist() == [12.0 + m for m in range(6)]


def test_norwegian_blocks_that_overlap_are_not_summed(service: Service, tmp_path: Path) -> None:
    found = opened(service, tmp_path, forecast=("norway",)).forecast(PLACE, NOW)
    assert found.hours == 48 + 24 * 6
    assert found.rain_mm[:, :48].mean() == pytest.approx(0.5, rel=0.35)
    assert found.rain_mm[:, 48:].mean() == pytest.approx(1.0, rel=0.35)


def test_observed_hours_are_joined_where_a_source_ends(service: Service, tmp_path: Path) -> None:
    source = opened(service, tmp_path, observed=("power", "us-grid-daily", "global-ensemble"))
    found = source.observed(PLACE, NOW.date() - timedelta(days=40), NOW)
    sound(found)
    assert found.end_utc == NOW.replace(minute=0)
    assert found.source == "power, us-grid-daily, global-ensemble"
    by_day = found.rain_mm[0, : 24 * 40].reshape(-1, 24).sum(axis=1)
    # 3 mm of the reanalysis, then half an inch (12.7 mm) of the gridded days.
    assert by_day[:30] == pytest.approx(np.full(30, 3.0)) and by_day[-1] == pytest.approx(12.7)
    assert "observed weather: power up to" in found.notes[0]


def test_the_farm_gauge_goes_before_all(service: Service, tmp_path: Path) -> None:
    (tmp_path / "weather").mkdir()
    (tmp_path / "weather" / "gauge.csv").write_text(
        "date,rain_mm,tmax_c,tmin_c\n2027-05-06,25.4,20,10\n2027-05-07,0,20,10\n"
    )
    options = {"gauge_file": "gauge.csv", "us_grid_url": f"{service.url}/us-days"}
    source = open_weather(
        tmp_path, Settings(observed=("us-grid-daily",), options=options), ZONE, client_for(tmp_path)
    )
    found = source.observed(PLACE, date(2027, 5, 5), NOW)
    by_day = found.rain_mm[0].reshape(-1, 24).sum(axis=1)
    assert by_day == pytest.approx([12.7, 25.4, 0.0, 12.7, 12.7]) and any(
        "own gauge on 2 days" in n for n in found.notes
    )


def test_past_years(service: Service, tmp_path: Path) -> None:
    found = opened(service, tmp_path, history=("power",)).normals(PLACE)
    assert found.days > 19 * 365 and found.first_day.month == 1
    (tmp_path / "weather").mkdir()
    lines = [f"X,202604{d:02d},{e},{v},,{q},7,{t}" for d in range(1, 11) for e, v, q, t in
             (("TMAX", 156, "", ""), ("TMIN", 40, "", ""), ("PRCP", 10 * d, "", "0700"))]  # fmt: skip
    lines.append("X,20260411,PRCP,9999,,X,7,0700")
    (tmp_path / "weather" / "s.csv").write_text("\n".join(lines) + "\n")
    source = open_weather(
        tmp_path, Settings(history=("ghcn-csv",), options={"ghcn_file": "s.csv"}), ZONE, client_for(tmp_path)
    )
    days = source.normals(PLACE)
    # Tenths; rain read at seven in the morning fell the day before; the flagged value is dropped.
    assert days.first_day == date(2026, 3, 31) and days.rain_mm[0, 0] == 1.0 and days.rain_mm.max() == 10.0
    assert days.tmax_c[0, 3] == 15.6


# ---- manners and faults ----------------------------------------------------------------------------------


def test_terms_and_contact_are_asked_for(service: Service, tmp_path: Path) -> None:
    source = open_weather(tmp_path, Settings(forecast=("global-ensemble",)), ZONE, client_for(tmp_path))
    with pytest.raises(WeatherUnavailable, match="accept_terms = true"):
        source.forecast(PLACE, NOW)
    nobody = PoliteClient(None, " ")
    with pytest.raises(WeatherUnavailable, match="contact is missing"):
        opened(service, tmp_path, nobody, forecast=("norway",)).forecast(PLACE, NOW)
    assert service.asked == []
    with pytest.raises(WeatherUnavailable, match="allowed: ghcn-csv, global-ensemble"):
        open_weather(tmp_path, Settings(forecast=("crystal ball",)), ZONE)
