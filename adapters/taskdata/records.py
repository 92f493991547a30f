"""What is handed to a terminal and what comes back, in SI and without XML."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class TaskGround:
    """A field: its id goes out as the part field's code and comes back with the work done.

    Attributes
    ----------
    geometry : mapping or None
        GeoJSON Polygon or MultiPolygon in degrees.
    """

    id: str
    name: str
    area_ha: float
    geometry: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class Rate:
    """A product at its rate.

    Attributes
    ----------
    form : str
        ``liquid`` [L/ha], ``dry`` [kg/ha] or ``seed`` [1/ha].
    """

    product: str
    form: str
    per_ha: float


@dataclass(frozen=True)
class PlannedTask:
    """One pass of a field by one person.

    Attributes
    ----------
    practice : str
        Id of the pass; goes out as cultural practice and comes back with the work done.
    spans : tuple of (start, end)
        When it is planned.
    """

    title: str
    field: str
    practice: str
    worker: str
    rates: tuple[Rate, ...]
    spans: tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True)
class TaskFile:
    """Everything of one hand-over."""

    farm: str
    fields: tuple[TaskGround, ...]
    tasks: tuple[PlannedTask, ...]


@dataclass(frozen=True)
class CountedTask:
    """Work that a terminal counted.

    Attributes
    ----------
    key : str
        The same for the same task in every later file, so that its area is counted once.
    field_code, field_name, practice, title, worker : str
        As the file says; empty where it does not.
    products : tuple of str
    area_ha : float or None
        All that the task has covered so far; None where no total is there.
    start, end : datetime or None
        Of the effective time; None where it is not said, or says no time zone.
    completed : bool
    """

    key: str
    field_code: str
    field_name: str
    practice: str
    title: str
    worker: str
    products: tuple[str, ...]
    area_ha: float | None
    start: datetime | None
    end: datetime | None
    completed: bool
