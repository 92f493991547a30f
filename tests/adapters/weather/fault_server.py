"""A local HTTP server that answers like the weather services, faithfully or with every fault, and counts what it is asked.

Bodies are made in the shapes of the services' published schemas (api.weather.gov OpenAPI 1.9; the global service's OpenAPI;
locationforecast 2.0 data model; POWER daily point; the gridded US days); the numbers are invented.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

HOUR = timedelta(hours=1)


@dataclass
class Answer:
    """Status, body and headers of one reply; `wait_s` before it, `cut` sends only part of the body."""

    body: Any = None
    status: int = 200
    headers: dict[str, str] = field(default_factory=dict)
    wait_s: float = 0.0
    cut: bool = False


@dataclass
class Service:
    """What the server does: answers by path beginning, and what it was asked."""

    answers: dict[str, Callable[[dict[str, list[str]]], Answer]] = field(default_factory=dict)
    asked: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    url: str = ""

    def reply(self, path: str, query: dict[str, list[str]], headers: dict[str, str]) -> Answer:
        self.asked.append((path, headers))
        for start in sorted(self.answers, key=len, reverse=True):
            if path.startswith(start):
                return self.answers[start](query)
        return Answer({"title": "Not Found"}, 404)


@contextmanager
def served() -> Iterator[Service]:
    """Run a service on loopback."""
    service = Service()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self._answer(parse_qs(urlsplit(self.path).query))

        def do_POST(self) -> None:
            body = json.loads(self.rfile.read(int(self.headers.get("Content-Length", "0"))))
            self._answer({key: [str(value)] for key, value in body.items()})

        def _answer(self, query: dict[str, list[str]]) -> None:
            answer = service.reply(
                urlsplit(self.path).path, query, {k.lower(): v for k, v in self.headers.items()}
            )
            time.sleep(answer.wait_s)
            body = answer.body if isinstance(answer.body, bytes) else json.dumps(answer.body).encode()
            self.send_response(answer.status)
            for key, value in answer.headers.items():
                self.send_header(key, value)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body[: len(body) // 2] if answer.cut else body)

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    service.url = f"http://127.0.0.1:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield service
    finally:
        server.shutdown()
        server.server_close()


# ---- faithful bodies -------------------------------------------------------------------------------------


def iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds")


def us_points(service: Service) -> dict[str, Any]:
    return {"type": "Feature", "properties": {"gridId": "XYZ", "gridX": 71, "gridY": "62",
            "forecastGridData": "https://api.weather.gov/gridpoints/XYZ/71,62"}}  # fmt: skip


def us_grid(
    now: datetime, issued: datetime | None = None, days: int = 7, rain_days: float = 3.25
) -> dict[str, Any]:
    """Return a grid: temperatures merged over hours, rain by six hours and ending early, a chance of rain of 60 %."""
    begin = now.replace(minute=0, second=0, microsecond=0) - 4 * HOUR

    def layer(uom: str, rows: list[tuple[datetime, str, Any]]) -> dict[str, Any]:
        return {
            "uom": uom,
            "values": [{"validTime": f"{iso(at)}/{span}", "value": value} for at, span, value in rows],
        }

    hours = days * 24
    rain = [(begin + 6 * k * HOUR, "PT6H", 4.0 if k % 4 == 1 else 0.0) for k in range(int(rain_days * 4))]
    return {
        "type": "Feature",
        "properties": {
            "updateTime": iso(issued or now - HOUR), "validTimes": f"{iso(begin)}/P7DT21H",
            "temperature": layer("wmoUnit:degC", [(begin + 2 * k * HOUR, "PT2H", 10.0 + k % 8) for k in range(hours // 2)]),
            "relativeHumidity": layer("wmoUnit:percent", [(begin, f"P{days}DT1H", 65)]),
            "windSpeed": layer("wmoUnit:km_h-1", [(begin, f"P{days}DT1H", 18.0)]),
            "skyCover": layer("wmoUnit:percent", [(begin, f"P{days}DT1H", 40)]),
            "probabilityOfPrecipitation": layer("wmoUnit:percent", [(begin, f"P{days}DT1H", 60)]),
            "quantitativePrecipitation": layer("wmoUnit:mm", rain), "snowfallAmount": {"values": []},
        },
    }  # fmt: skip


def ensemble(now: datetime, members: int = 5, days: int = 15, hole: int = 0) -> dict[str, Any]:
    """Return a control and members by hour in GMT; member m has m mm an hour at 15 o'clock, stamped 16."""
    first = now.replace(hour=0, minute=0, second=0, microsecond=0)
    times = [(first + k * HOUR).strftime("%Y-%m-%dT%H:%M") for k in range(days * 24)]
    hourly: dict[str, Any] = {"time": times}
    for m in range(members + 1):
        end = "" if m == 0 else f"_member{m:02d}"
        hourly[f"precipitation{end}"] = [float(m) if k % 24 == 16 else 0.0 for k in range(len(times))]
        hourly[f"temperature_2m{end}"] = [12.0 + m for _ in times]
        hourly[f"relative_humidity_2m{end}"] = [60 for _ in times]
        hourly[f"wind_speed_10m{end}"] = [18.0 for _ in times]
    if hole:
        hourly["temperature_2m"][40 : 40 + hole] = [None] * hole
    units = {
        "time": "iso8601",
        "precipitation": "mm",
        "temperature_2m": "°C",
        "relative_humidity_2m": "%",
        "wind_speed_10m": "km/h",
    }
    return {
        "latitude": 42.0,
        "longitude": -93.5,
        "utc_offset_seconds": 0,
        "hourly_units": units,
        "hourly": hourly,
    }


def past_hours(now: datetime, days: int) -> dict[str, Any]:
    first = now.replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=days)
    count = (days + 1) * 24
    times = [(first + k * HOUR).strftime("%Y-%m-%dT%H:%M") for k in range(count)]
    rain = [2.0 if k % 24 == 16 else 0.0 for k in range(count)]
    hourly = {"time": times, "precipitation": rain, "temperature_2m": [11.0] * count, "relative_humidity_2m": [70] * count,
              "wind_speed_10m": [10.8] * count, "shortwave_radiation": [200.0] * count}  # fmt: skip
    return {"utc_offset_seconds": 0, "hourly_units": {"shortwave_radiation": "W/m²"}, "hourly": hourly}


def norwegian(now: datetime, issued: datetime | None = None) -> dict[str, Any]:
    """Return hourly steps, then six-hourly ones; blocks of other lengths overlap and must not be summed."""
    first = now.replace(minute=0, second=0, microsecond=0)
    rows = []
    steps = [1] * 48 + [6] * 24
    at = first
    for length in steps:
        details = {
            "air_temperature": 9.0,
            "relative_humidity": 64.0,
            "wind_speed": 4.0,
            "cloud_area_fraction": 50.0,
        }
        data: dict[str, Any] = {"instant": {"details": details}}
        data["next_6_hours"] = {"details": {"precipitation_amount": 6.0}}
        data["next_12_hours"] = {"details": {}}
        if length == 1:
            data["next_1_hours"] = {"details": {"precipitation_amount": 0.5}}
        rows.append({"time": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data})
        at += length * HOUR
    rows.append(
        {
            "time": at.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "data": {"instant": {"details": {"air_temperature": 9.0}}},
        }
    )
    meta = {"updated_at": (issued or now - HOUR).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "units": {"air_temperature": "celsius", "precipitation_amount": "mm", "wind_speed": "m/s"}}  # fmt: skip
    return {"type": "Feature", "properties": {"meta": meta, "timeseries": rows}}


def power_days(first: date, last: date, known_until: date) -> dict[str, Any]:
    days = [first + timedelta(days=k) for k in range((last - first).days + 1)]

    def row(value: float) -> dict[str, float]:
        return {f"{d:%Y%m%d}": value if d <= known_until else -999.0 for d in days}

    table = {
        "T2M_MAX": row(20.0),
        "T2M_MIN": row(8.0),
        "PRECTOTCORR": row(3.0),
        "ALLSKY_SFC_SW_DWN": row(18.0),
    }
    return {"properties": {"parameter": table}, "header": {"fill_value": -999.0}, "messages": []}


def us_days(first: date, last: date) -> dict[str, Any]:
    rows = [
        {"date": (first + timedelta(days=k)).isoformat(), "mrms_precip_in": None, "daily_precip_in": 0.5, "daily_high_f": 68.0,
         "daily_low_f": 50.0, "12z_precip_in": 9.9}
        for k in range((last - first).days + 1)
    ]  # fmt: skip
    return {"iemre_domain": "conus", "data": rows}
