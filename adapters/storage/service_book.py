"""What the service remembers between runs: parcels handed out, when its jobs ran last."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import insert, select, update

from adapters.storage.database import Database
from adapters.storage.tables import deliveries, marks


class SqlServiceBook:
    """Deliveries and marks (port `shared.ports.ServiceBook`)."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def delivered(self, outlet: str, parcel: str) -> bool:
        """Return whether an outlet has handed out a parcel already."""
        with self._database.reading() as connection:
            return (
                connection.execute(
                    select(deliveries.c.parcel).where(
                        deliveries.c.outlet == outlet, deliveries.c.parcel == parcel
                    )
                ).first()
                is not None
            )

    def note_delivery(self, outlet: str, parcel: str, sent_at: datetime) -> None:
        """Remember that an outlet has handed out a parcel; the first note stands."""
        if self.delivered(outlet, parcel):
            return
        with self._database.writing() as connection:
            connection.execute(
                insert(deliveries).values(
                    outlet=outlet, parcel=parcel, sent_at=sent_at.astimezone(UTC).isoformat()
                )
            )

    def mark(self, name: str) -> str:
        """Return what was remembered under a name, or an empty text."""
        with self._database.reading() as connection:
            row = connection.execute(select(marks.c.value).where(marks.c.name == name)).first()
        return "" if row is None else str(row[0])

    def set_mark(self, name: str, value: str) -> None:
        """Remember a text under a name."""
        with self._database.writing() as connection:
            if connection.execute(select(marks.c.name).where(marks.c.name == name)).first() is None:
                connection.execute(insert(marks).values(name=name, value=value))
            else:
                connection.execute(update(marks).where(marks.c.name == name).values(value=value))
