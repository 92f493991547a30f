"""Issued plans, kept whole in the farm's database beside the events."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select

from adapters.storage.database import BUSY_TIMEOUT_S, Database, open_database
from adapters.storage.tables import plans as _plans


class SqlPlanShelf:
    """Issued plans (port `shared.ports.PlanShelf`)."""

    def __init__(self, where: Path | str | Database, busy_timeout_s: float = BUSY_TIMEOUT_S) -> None:
        self._database = open_database(where, busy_timeout_s=busy_timeout_s)

    def put(self, plan_id: str, made_at: datetime, document: str) -> None:
        """Keep a plan document."""
        with self._database.writing() as connection:
            if connection.execute(select(_plans.c.id).where(_plans.c.id == plan_id)).first() is None:
                connection.execute(
                    _plans.insert().values(
                        id=plan_id, made_at=made_at.astimezone(UTC).isoformat(), document=document
                    )
                )

    def get(self, plan_id: str) -> str | None:
        """Return a plan document, or None."""
        with self._database.reading() as connection:
            row = connection.execute(select(_plans.c.document).where(_plans.c.id == plan_id)).first()
        return None if row is None else str(row[0])

    def latest(self) -> str | None:
        """Return the document of the plan put last, or None."""
        found = self.last(1)
        return found[0] if found else None

    def known_at(self, moment: datetime) -> str | None:
        """Return the document of the plan that was the newest at a moment, or None."""
        until = moment.astimezone(UTC).isoformat()
        with self._database.reading() as connection:
            row = connection.execute(
                select(_plans.c.document).where(_plans.c.made_at <= until).order_by(_plans.c.place.desc())
            ).first()
        return None if row is None else str(row[0])

    def last(self, count: int) -> list[str]:
        """Return the documents of the plans put last, newest first."""
        with self._database.reading() as connection:
            rows = connection.execute(
                select(_plans.c.document).order_by(_plans.c.place.desc()).limit(count)
            ).all()
        return [str(row[0]) for row in rows]
