"""Live weather sources when things go wrong: the kept reply, the next source, and every fault; nothing reaches the internet."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from adapters.weather import open_weather
from shared.errors import WeatherUnavailable
from tests.adapters.weather import fault_server as fake
from tests.adapters.weather.calls import (
    FORECASTERS,
    NOW,
    PLACE,
    ZONE,
    Settings,
    answer_all,
    client_for,
    opened,
    sound,
)
from tests.adapters.weather.fault_server import Answer, Service


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
