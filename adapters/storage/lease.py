"""A lease in the farm's database: of several services on one farm, one holds it, and only that one issues plans.

Nobody is ever asked to give it up: a holder that died simply does not renew, and after `until` the next one takes it.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sqlalchemy import delete, insert, select, update

from adapters.storage.database import Database
from adapters.storage.tables import leases


class SqlLease:
    """A named lease (port `shared.ports.Lease`).

    Attributes
    ----------
    holder : str
        Who asks: one name a process, such as host, process number and start.
    lasts : timedelta
        How long a lease holds without being renewed.
    """

    def __init__(self, database: Database, name: str, holder: str, lasts: timedelta) -> None:
        self._database, self._name = database, name
        self.holder, self.lasts = holder, lasts

    def take(self, now: datetime) -> bool:
        """Take or renew the lease; return whether this holder has it now.

        A lease whose end lies further ahead than any lease lasts was written by a clock that was wrong, and is free.
        """
        until = (now + self.lasts).astimezone(UTC).isoformat()
        mine = leases.c.name == self._name
        with self._database.writing() as connection:
            row = connection.execute(select(leases.c.holder, leases.c.until).where(mine)).first()
            if row is None:
                connection.execute(insert(leases).values(name=self._name, holder=self.holder, until=until))
                return True
            ends = datetime.fromisoformat(row.until)
            if row.holder != self.holder and now < ends <= now + 2 * self.lasts:
                return False
            connection.execute(update(leases).where(mine).values(holder=self.holder, until=until))
        return True

    def who(self, now: datetime) -> str:
        """Return who holds the lease, or an empty text."""
        with self._database.reading() as connection:
            row = connection.execute(
                select(leases.c.holder, leases.c.until).where(leases.c.name == self._name)
            ).first()
        return row.holder if row is not None and datetime.fromisoformat(row.until) > now else ""

    def give_back(self) -> None:
        """Give the lease back, so that the next one need not wait."""
        with self._database.writing() as connection:
            connection.execute(
                delete(leases).where(leases.c.name == self._name, leases.c.holder == self.holder)
            )
