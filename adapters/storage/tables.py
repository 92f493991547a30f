"""The tables of a farm's database as the newest migration leaves them (`migrations/versions` makes them)."""

from __future__ import annotations

from sqlalchemy import Column, Integer, MetaData, String, Table, Text

_meta = MetaData()

events = Table(
    "events", _meta,
    Column("sequence", Integer, primary_key=True),
    Column("id", String(200), nullable=False, unique=True),
    Column("kind", String(60), nullable=False),
    Column("version", Integer, nullable=False),
    Column("happened_at", String(40), nullable=False),
    Column("recorded_at", String(40), nullable=False),
    Column("by_whom", String(200), nullable=False),
    Column("source", String(200), nullable=False),
    Column("body", Text, nullable=False),
)  # fmt: skip
plans = Table(
    "plans", _meta,
    Column("place", Integer, primary_key=True),
    Column("id", String(200), nullable=False, unique=True),
    Column("made_at", String(40), nullable=False),
    Column("document", Text, nullable=False),
)  # fmt: skip
leases = Table(
    "leases", _meta,
    Column("name", String(100), primary_key=True),
    Column("holder", String(200), nullable=False),
    Column("until", String(40), nullable=False),
)  # fmt: skip
deliveries = Table(
    "deliveries", _meta,
    Column("outlet", String(100), primary_key=True),
    Column("parcel", String(200), primary_key=True),
    Column("sent_at", String(40), nullable=False),
)  # fmt: skip
forecasts = Table(
    "forecasts", _meta,
    Column("source", String(200), primary_key=True),
    Column("issued_at", String(40), primary_key=True),
    Column("fetched_at", String(40), nullable=False),
    Column("document", Text, nullable=False),
)  # fmt: skip
marks = Table(
    "marks", _meta,
    Column("name", String(100), primary_key=True),
    Column("value", Text, nullable=False),
)  # fmt: skip
"""Small things the service remembers, such as when a job ran last."""
