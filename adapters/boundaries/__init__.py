"""Field boundaries and lists of fields, out of GeoJSON, shapefiles, KML, CSV and spreadsheets, checked and measured on the ellipsoid."""

from __future__ import annotations

from pathlib import Path

from adapters.boundaries.checks import checked
from adapters.boundaries.found import BoundaryFaults, FoundField, Intake, Words
from adapters.boundaries.geojson import read_geojson
from adapters.boundaries.kml import read_kml
from adapters.boundaries.listing import read_listing
from adapters.boundaries.shapefile import read_shapefile
from adapters.files.bounded import fault_of

READERS = {
    ".geojson": read_geojson, ".json": read_geojson, ".zip": read_shapefile, ".shp": read_shapefile, ".csv": read_listing,
    ".txt": read_listing, ".xlsx": read_listing, ".kml": read_kml, ".kmz": read_kml,
}  # fmt: skip
"""How a file's name ends -> its reader. A new format adds one line here."""

__all__ = ["READERS", "BoundaryFaults", "FoundField", "Intake", "Words", "read_fields"]


def read_fields(path: Path, words: Words | None = None) -> Intake:
    """Read the fields of a file, whatever its format.

    Parameters
    ----------
    path : Path
        GeoJSON, a zipped shapefile (or its ``.shp``), KML or KMZ, a CSV or ``.xlsx`` list.
    words : Words
        What the user allowed and said: repair, axes, projection, which column is what.

    Raises
    ------
    BoundaryFaults
        Every fault at once, with what the user's word could mend.
    """
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        raise fault_of(
            path.name, "is of no known format", ", ".join(READERS), "the name's ending", path.suffix
        )
    words = words or Words()
    return checked(reader(path, words), path.name, words)
