"""Forecasts that were used, kept whole enough to be used again on a day without one, and to be held against what fell.

One document a forecast: hourly members rounded to what a gauge or a thermometer tells, packed. Forecasts of one source are
known by the time at which they were issued.
"""

from __future__ import annotations

import base64
import json
import zlib
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from sqlalchemy import delete, insert, select

from adapters.storage.database import Database
from adapters.storage.tables import forecasts
from shared.weather_records import HOURLY_QUANTITIES, HourlyWeather

STEP = {"rain_mm": 0.01, "temp_c": 0.1, "rh_pct": 1.0, "wind_m_s": 0.1, "solar_mj_m2": 0.01}
"""What one count of a stored number means."""
KEPT_DAYS = 400
"""Forecasts older than this are let go when a new one comes."""


class SqlForecastBook:
    """Kept forecasts (port `shared.ports.ForecastBook`)."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, forecast: HourlyWeather, fetched_at: datetime) -> bool:
        """Keep a forecast; return whether it is new. One without a time of issue is known by when it came."""
        issued = _text(forecast.issued_at or fetched_at)
        key = (forecasts.c.source == forecast.source) & (forecasts.c.issued_at == issued)
        with self._database.reading() as connection:
            if connection.execute(select(forecasts.c.source).where(key)).first() is not None:
                return False
        with self._database.writing() as connection:
            if connection.execute(select(forecasts.c.source).where(key)).first() is not None:
                return False
            old = _text(fetched_at - timedelta(days=KEPT_DAYS))
            connection.execute(delete(forecasts).where(forecasts.c.fetched_at < old))
            connection.execute(
                insert(forecasts).values(
                    source=forecast.source, issued_at=issued, fetched_at=_text(fetched_at), document=_pack(forecast),
                )
            )  # fmt: skip
        return True

    def newest(self, until: datetime) -> HourlyWeather | None:
        """Return the forecast issued last of those fetched up to a moment, or None."""
        with self._database.reading() as connection:
            row = connection.execute(
                select(forecasts.c.document).where(forecasts.c.fetched_at <= _text(until))
                .order_by(forecasts.c.issued_at.desc(), forecasts.c.fetched_at.desc()).limit(1)
            ).first()  # fmt: skip
        return None if row is None else _unpack(str(row[0]))

    def between(self, first: datetime, last: datetime) -> list[tuple[datetime, HourlyWeather]]:
        """Return the forecasts fetched in a span, oldest first, each with when it was fetched."""
        with self._database.reading() as connection:
            rows = connection.execute(
                select(forecasts.c.fetched_at, forecasts.c.document)
                .where(forecasts.c.fetched_at >= _text(first), forecasts.c.fetched_at <= _text(last))
                .order_by(forecasts.c.fetched_at)
            ).all()
        return [(datetime.fromisoformat(row[0]), _unpack(str(row[1]))) for row in rows]


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds")


def _pack(weather: HourlyWeather) -> str:
    counts = {
        name: _bytes(np.round(np.nan_to_num(getattr(weather, name)) / STEP[name])) for name in HOURLY_QUANTITIES
    }  # fmt: skip
    return json.dumps(
        {
            "start": weather.start_utc.isoformat(), "members": weather.members, "hours": weather.hours, "source": weather.source,
            "issued": None if weather.issued_at is None else weather.issued_at.isoformat(), "notes": list(weather.notes), **counts,
        }
    )  # fmt: skip


def _bytes(counts: np.ndarray) -> str:
    return base64.b85encode(zlib.compress(counts.clip(-32768, 32767).astype("<i2").tobytes(), 6)).decode("ascii")  # fmt: skip


def _unpack(document: str) -> HourlyWeather:
    told: dict[str, Any] = json.loads(document)
    shape = (int(told["members"]), int(told["hours"]))
    values: dict[str, Any] = {
        name: np.frombuffer(zlib.decompress(base64.b85decode(told[name])), "<i2").reshape(shape) * STEP[name]
        for name in HOURLY_QUANTITIES
    }
    issued = told["issued"]
    return HourlyWeather(
        datetime.fromisoformat(told["start"]), **values, source=str(told["source"]),
        issued_at=None if issued is None else datetime.fromisoformat(issued), notes=tuple(told["notes"]),
    )  # fmt: skip
