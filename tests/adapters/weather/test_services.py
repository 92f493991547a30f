"""Live weather sources against a local server that answers faithfully and with every fault; nothing reaches the internet."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest

from adapters.http.polite import PoliteClient
from adapters.weather import open_weather
from shared.errors import WeatherUnavailable
from shared.ports import WeatherSource
from shared.weather_records import HOURLY_QUANTITIES, HourlyWeather, Place
from tests.adapters.weather import fault_server as fake
from tests.adapters.weather.fault_server import Answer, Service

PLACE = Place(42.03, -93.02, 300.0)
ZONE = "America/Chicago"
NOW = datetime(2027, 5, 10, 10, 20, tzinfo=UTC)
FORECASTERS = ("us-national", "global-ensemble", "norway")


@dataclass
class Settings:
    source: str = "recorded"
    forecast: tuple[str, ...] = ()
    observed: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    folder: str = "weather"
    options: dict[str, Any] = field(default_factory=dict)


@pytest.fixture
def service() -> Iterator[Service]:
    with fake.served() as found:
        answer_all(found)
        yield found


def answer_all(service: Service, now: datetime = NOW) -> None:
    def days_of(query: dict[str, list[str]], a: str, b: str) -> tuple[date, date]:
        return date.fromisoformat(query[a][0]), date.fromisoformat(query[b][0])

    def power(query: dict[str, list[str]]) -> Answer:
        first, last = (datetime.strptime(query[key][0], "%Y%m%d").date() for key in ("start", "end"))
        return Answer(fake.power_days(first, last, now.date() - timedelta(days=6)))

    service.answers = {
        "/us/points": lambda q: Answer(fake.us_points(service)), "/us/gridpoints": lambda q: Answer(fake.us_grid(now)),
        "/ensemble": lambda q: Answer(fake.ensemble(now)), "/past": lambda q: Answer(fake.past_hours(now, int(q["past_days"][0]))),
        "/norway/complete": lambda q: Answer(fake.norwegian(now)), "/power": power,
        "/us-days": lambda q: Answer(fake.us_days(*days_of(q, "sdate", "edate"))),
    }  # fmt: skip


def client_for(tmp_path: Path, slept: list[float] | None = None, cache: bool = True) -> PoliteClient:
    waits = [] if slept is None else slept
    return PoliteClient(
        tmp_path / "cache.sqlite" if cache else None, "test@example.org", waits.append, luck=Random(1)
    )


def opened(
    service: Service, tmp_path: Path, client: PoliteClient | None = None, **lists: tuple[str, ...]
) -> WeatherSource:
    options = {
        "accept_terms": True, "base_url": service.url, "ensemble_url": f"{service.url}/ensemble",
        "forecast_url": f"{service.url}/past", "power_url": f"{service.url}/power", "us_grid_url": f"{service.url}/us-days",
    }  # fmt: skip
    names = {name for found in lists.values() for name in found}
    options["base_url"] = f"{service.url}/us" if "us-national" in names else f"{service.url}/norway"
    return open_weather(tmp_path, Settings(options=options, **lists), ZONE, client or client_for(tmp_path))


def sound(weather: HourlyWeather) -> None:
    """The contract of every record: one shape, UTC hours, finite, possible."""
    assert weather.start_utc.minute == 0 and weather.start_utc.utcoffset() == timedelta(0)
    for name in HOURLY_QUANTITIES:
        values = getattr(weather, name)
        assert values.shape == (weather.members, weather.hours) and np.isfinite(values).all(), name
    assert (weather.rain_mm >= 0).all() and (weather.solar_mj_m2 >= 0).all() and weather.source


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


def test_a_reply_that_holds_is_not_asked_for_again_and_then_conditionally(
    service: Service, tmp_path: Path
) -> None:
    state = {"age": 600}

    def grid(query: dict[str, list[str]]) -> Answer:
        held = {"Cache-Control": f"max-age={state['age']}", "ETag": '"one"'}
        told = service.asked[-1][1].get("if-none-match")
        return Answer(b"", 304, held) if told == '"one"' else Answer(fake.us_grid(NOW), 200, held)

    service.answers["/us/gridpoints"] = grid
    client = client_for(tmp_path)
    source = opened(service, tmp_path, client, forecast=("us-national",))
    source.forecast(PLACE, NOW)
    source.forecast(PLACE, NOW)
    grids = [headers for path, headers in service.asked if "gridpoints" in path]
    assert len(grids) == 1 and len([p for p, _ in service.asked if "points/42" in p]) == 1
    state["age"] = 0
    service.answers["/us/gridpoints"] = grid
    fresh = client_for(tmp_path / "b", cache=False)
    source = opened(service, tmp_path, fresh, forecast=("us-national",))
    source.forecast(PLACE, NOW)
    source.forecast(PLACE, NOW)
    assert service.asked[-1][1].get("if-none-match") == '"one"'


FAULTS: dict[str, Answer] = {
    "503": Answer({"title": "Forecast Grid Expired", "status": 503}, 503),
    "429 with Retry-After": Answer({"error": True, "reason": "limit"}, 429, {"Retry-After": "7"}),
    "HTML instead of JSON": Answer(b"<html>maintenance</html>", 200, {"Content-Type": "text/html"}),
    "a stream that breaks with status 200": Answer(
        b'{"hourly": {"time": [Unexpected error while streaming data', 200
    ),
    "500": Answer(b"oops", 500),
}


@pytest.mark.parametrize("fault", list(FAULTS))
@pytest.mark.parametrize("name", FORECASTERS)
def test_a_service_that_fails_is_asked_again_then_the_kept_reply_does_and_is_called_stale(
    service: Service, tmp_path: Path, name: str, fault: str
) -> None:
    slept: list[float] = []
    client = client_for(tmp_path, slept)
    source = opened(service, tmp_path, client, forecast=(name,))
    good = source.forecast(PLACE, NOW)
    # What was kept has run out: a day later it would be asked for anew.
    client.session().cache.reset_expiration(datetime.now(UTC) - timedelta(days=1))
    service.answers = {"/": lambda q: FAULTS[fault]}
    asked = len(service.asked)
    stale = source.forecast(PLACE, NOW)
    assert len(service.asked) - asked >= 3, "asked three times before giving up"
    assert any("is used" in note for note in stale.notes) and np.array_equal(stale.temp_c, good.temp_c)
    assert max(slept) >= (5 if "Retry-After" in FAULTS[fault].headers else 1)
    empty = opened(service, tmp_path / "other", client_for(tmp_path, slept, cache=False), forecast=(name,))
    with pytest.raises(WeatherUnavailable) as refusal:
        empty.forecast(PLACE, NOW)
    assert "no earlier reply is kept" in str(refusal.value) and "Traceback" not in str(refusal.value)


def test_the_next_source_steps_in_and_it_is_said(service: Service, tmp_path: Path) -> None:
    service.answers["/us"] = lambda q: Answer({"status": 503}, 503)
    service.answers.pop("/us/points")
    options = {
        "base_url": f"{service.url}/us",
        "accept_terms": True,
        "ensemble_url": f"{service.url}/ensemble",
    }
    settings = Settings(forecast=("us-national", "global-ensemble"), options=options)
    found = open_weather(tmp_path, settings, ZONE, client_for(tmp_path, cache=False)).forecast(PLACE, NOW)
    assert found.source == "global-ensemble" and "answered 503" in found.notes[0]


def bad_grid(change: Any) -> dict[str, Any]:
    grid = fake.us_grid(NOW)
    change(grid["properties"])
    return grid


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda p: p["temperature"]["values"][3].update(value=400), "which cannot be"),
        (lambda p: p["temperature"].update(uom="wmoUnit:degF"), "known: wmoUnit:degC"),
        (lambda p: p["temperature"]["values"].__delitem__(slice(5, 12)), "leaves out"),
        (lambda p: p.update(quantitativePrecipitation={"values": []}), "no rain amounts"),
        (lambda p: p["quantitativePrecipitation"]["values"][1].update(value=None), "leaves out rain amounts"),
        (lambda p: p["temperature"]["values"][0].update(validTime="soon/PT1H"), "cannot be read"),
        (
            lambda p: p["quantitativePrecipitation"]["values"][0].update(
                validTime="2027-05-10T06:00:00+00:00/1H"
            ),
            "duration",
        ),
        (lambda p: p["windSpeed"]["values"][0].update(value=float("1e9")), "which cannot be"),
        (lambda p: p.update(updateTime="2027-05-10T18:00:00+00:00"), "issued in the future"),
    ],
)
def test_absurd_missing_and_misdated_values_are_refused(
    service: Service, tmp_path: Path, change: Any, said: str
) -> None:
    service.answers["/us/gridpoints"] = lambda q: Answer(bad_grid(change))
    with pytest.raises(WeatherUnavailable, match=said):
        opened(service, tmp_path, forecast=("us-national",)).forecast(PLACE, NOW)


def test_short_holes_are_bridged_long_ones_refused(service: Service, tmp_path: Path) -> None:
    service.answers["/ensemble"] = lambda q: Answer(fake.ensemble(NOW, hole=4))
    sound(opened(service, tmp_path, forecast=("global-ensemble",)).forecast(PLACE, NOW))
    service.answers["/ensemble"] = lambda q: Answer(fake.ensemble(NOW, hole=9))
    with pytest.raises(WeatherUnavailable, match="9 hours of temp_c"):
        opened(service, tmp_path, client_for(tmp_path, cache=False), forecast=("global-ensemble",)).forecast(
            PLACE, NOW
        )


def test_a_forecast_older_than_the_last_one_is_refused(service: Service, tmp_path: Path) -> None:
    state = {"issued": NOW - timedelta(hours=1)}
    service.answers["/us/gridpoints"] = lambda q: Answer(
        fake.us_grid(NOW, state["issued"]), 200, {"Cache-Control": "no-store"}
    )
    source = opened(service, tmp_path, client_for(tmp_path, cache=False), forecast=("us-national",))
    source.forecast(PLACE, NOW)
    state["issued"] = NOW - timedelta(hours=9)
    with pytest.raises(WeatherUnavailable, match="older forecast than the last one"):
        source.forecast(PLACE, NOW)


def test_a_forecast_that_lies_behind_is_refused(service: Service, tmp_path: Path) -> None:
    for name in FORECASTERS:
        source = opened(service, tmp_path, forecast=(name,))
        with pytest.raises(WeatherUnavailable):
            source.forecast(PLACE, NOW + timedelta(days=40))


def test_a_poisoned_cache_file_is_set_aside(service: Service, tmp_path: Path) -> None:
    (tmp_path / "cache.sqlite").write_bytes(b"this is no database" * 100)
    client = client_for(tmp_path)
    sound(opened(service, tmp_path, client, forecast=("norway",)).forecast(PLACE, NOW))
    assert (tmp_path / "cache.sqlite.broken").exists() and "set aside" in client.notes[0]
    connection = sqlite3.connect(tmp_path / "cache.sqlite")
    tables = {row[0] for row in connection.execute("select name from sqlite_master where type = 'table'")}
    connection.execute("update responses set value = x'00'")
    connection.commit()
    connection.close()
    assert "responses" in tables
    sound(opened(service, tmp_path, client_for(tmp_path), forecast=("norway",)).forecast(PLACE, NOW))


def test_a_service_that_does_not_answer_in_time(
    service: Service, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("adapters.http.polite.TIMEOUT_S", (0.2, 0.2))
    service.answers["/norway"] = lambda q: Answer(fake.norwegian(NOW), wait_s=0.5)
    service.answers.pop("/norway/complete")
    with pytest.raises(WeatherUnavailable, match="did not answer in time"):
        opened(service, tmp_path, client_for(tmp_path, cache=False), forecast=("norway",)).forecast(
            PLACE, NOW
        )


def test_an_hour_that_happens_twice_and_one_that_does_not(service: Service, tmp_path: Path) -> None:
    """Clock changes: everything is asked for and kept in UTC, so no hour is lost or doubled."""
    for now in (datetime(2027, 3, 13, 12, tzinfo=UTC), datetime(2027, 11, 6, 12, tzinfo=UTC)):
        answer_all(service, now)
        source = opened(
            service,
            tmp_path / f"{now:%m}",
            client_for(tmp_path, cache=False),
            forecast=("global-ensemble",),
            observed=("us-grid-daily",),
        )
        found = source.forecast(PLACE, now)
        assert found.hours == 15 * 24 - 12 - 1
        seen = source.observed(PLACE, now.date() - timedelta(days=3), now)
        assert seen.rain_mm.sum() == pytest.approx(12.7 * 3)
