"""Writes the published JSON Schemas into docs/schema: ``python -m scheduler.wiring.schemas``."""

from __future__ import annotations

from pathlib import Path

from adapters.export.tables import write_json
from scheduler.wiring.export import SCHEMAS

PLACE = Path("docs/schema")


def main() -> None:
    """Write every schema."""
    PLACE.mkdir(parents=True, exist_ok=True)
    for name, schema in SCHEMAS.items():
        print(write_json(PLACE, f"{name}.schema.json", schema()))


if __name__ == "__main__":
    main()
