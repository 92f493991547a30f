"""What a file of fields is read into, before and after it is checked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from shared.errors import FarmFileError, Fault


@dataclass(frozen=True)
class Words:
    """What the user said about a file.

    Attributes
    ----------
    repair : bool
        Boundaries that cross themselves may be mended.
    swap : bool
        Positions stand as latitude, longitude; turn them.
    crs : str
        Projection of a file that does not say it, such as ``EPSG:26915``; empty when not said.
    columns : mapping
        Which column is what (``name``, ``crop``, ...), where the usual headings do not tell.
    near : (latitude, longitude) or None
        A place that the farm is near [deg]; fields far from it are questioned.
    """

    repair: bool = False
    swap: bool = False
    crs: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    near: tuple[float, float] | None = None


@dataclass(frozen=True)
class RawFeature:
    """One row of a file.

    Attributes
    ----------
    label : str
        Where it stands (``feature 3``, ``row 4``).
    geometry : mapping or None
        GeoJSON geometry in degrees, longitude first; None for a row of a list.
    values : mapping
        Its other columns, as written.
    """

    label: str
    geometry: Mapping[str, Any] | None
    values: Mapping[str, Any]


@dataclass(frozen=True)
class Spot:
    """A named place of a file [deg]."""

    name: str
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True)
class RawFile:
    """A file as read: rows in degrees, what was done on the way, and the only place in it, which may be the yard."""

    rows: tuple[RawFeature, ...]
    notes: tuple[str, ...] = ()
    listed: bool = False
    spot: Spot | None = None


@dataclass(frozen=True)
class FoundField:
    """A field, checked.

    Attributes
    ----------
    id, name : str
    area_ha : float
        On the ellipsoid, holes taken out; of a list, as written [ha].
    latitude_deg, longitude_deg : float
        A point inside [deg].
    geometry : mapping or None
        GeoJSON, rings wound as RFC 7946 wants them.
    values : mapping
        The columns of the file that mean something to a farm, by the farm file's key.
    """

    id: str
    name: str
    area_ha: float
    latitude_deg: float
    longitude_deg: float
    geometry: Mapping[str, Any] | None
    values: Mapping[str, str]


@dataclass(frozen=True)
class Intake:
    """Fields ready to become a farm, and what a person should know of the file.

    Attributes
    ----------
    guesses : mapping
        Columns that were not used, by the key that their values look like (``crop``, ``name``, ...); for a person to say.
    spot : Spot or None
        The only place that the file marks beside the fields; taken for the yard where nobody says another.
    """

    fields: tuple[FoundField, ...]
    notes: tuple[str, ...]
    guesses: Mapping[str, str] = field(default_factory=dict)
    spot: Spot | None = None

    @property
    def area_ha(self) -> float:
        """All fields together [ha]."""
        return sum(one.area_ha for one in self.fields)


class BoundaryFaults(FarmFileError):
    """A file of fields has faults.

    Attributes
    ----------
    mends : set of str
        What a word of the user would mend of them: ``repair``, ``swap``, ``crs``.
    """

    def __init__(self, faults: Sequence[Fault], mends: Sequence[str] = ()) -> None:
        super().__init__(faults)
        self.mends = frozenset(mends)
