"""Everything as open files for analysis: plan, fit hours and odds, fields with their status, and the plan's published shape."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from adapters.export.tables import feature, write_json, write_table
from adapters.storage.event_lines import as_plain
from scheduler.crew.morning import next_pass
from scheduler.events.kinds import KINDS
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.farm.service_settings import StoreSettings
from scheduler.planning.plan import Plan
from scheduler.windows.ledger import GOOD, POSSIBLE, best_fit, fit_table
from scheduler.windows.records import Outlook
from scheduler.wiring.boundaries import geometries
from scheduler.wiring.issued import plan_shown
from scheduler.wiring.mornings import look_ahead
from scheduler.wiring.workspace import Workspace

BLOCKS = (
    "id", "field", "pass_id", "start", "end", "rig", "operator", "support", "area_ha", "chance", "loss", "pinned", "under_way", "why_then",
    "why_not_sooner",
)  # fmt: skip
FIT = (
    "field",
    "field_name",
    "pass",
    "date",
    "fit_hours",
    "chance",
    "first_fit",
    "reason",
    "stage",
    "confidence",
    "opens",
    "closes",
)


def export_farm(workspace: Workspace, folder: Path, now: datetime) -> list[Path]:
    """Write the files; areas in hectares, amounts in SI, as column names say.

    Returns
    -------
    list of Path
        ``fields.geojson``, ``fit.*``, ``farm.json``, ``events.json`` and, with an issued plan, ``plan.*`` and ``later.*``; each document
        with its schema.
    """
    folder.mkdir(parents=True, exist_ok=True)
    situation, outlook = look_ahead(workspace, now)
    out = [write_json(folder, "fields.geojson", fields(workspace, situation, outlook, now))]
    out += [write_json(folder, f"{name}.schema.json", schema()) for name, schema in SCHEMAS.items()]
    out.append(write_json(folder, "farm.json", without_secrets(situation.farm).model_dump(mode="json")))
    out.append(write_json(folder, "events.json", [as_plain(event) for event in workspace.log.read()]))
    out += write_table(folder, "fit", fit_table(outlook, situation, days=outlook.days), FIT)
    plan = plan_shown(workspace, situation.farm, now)
    if plan is not None:
        out += write_table(folder, "plan", [block.model_dump() for block in plan.blocks], BLOCKS)
        later = [one.model_dump() for one in plan.later]
        out += write_table(
            folder, "later", later, ("field", "pass_id", "week_from", "week_to", "area_ha", "loss")
        )
        out += [
            write_json(folder, "plan.json", plan.model_dump(mode="json")),
        ]
    return out


DIALECT = {"$schema": "https://json-schema.org/draft/2020-12/schema"}


def plan_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a plan document, made from the model itself."""
    return DIALECT | Plan.model_json_schema(mode="serialization")


def farm_schema() -> dict[str, Any]:
    """Return the JSON Schema of a farm document: SI values under the names that the program itself uses."""
    return DIALECT | Farm.model_json_schema(mode="serialization", by_alias=False)


def events_schema() -> dict[str, Any]:
    """Return the JSON Schema of the log: a list of events, the body of each by its kind."""
    definitions: dict[str, Any] = {}
    kinds = []
    for kind, body in KINDS.items():
        schema = body.model_json_schema(mode="serialization", ref_template="#/$defs/{model}")
        definitions |= schema.pop("$defs", {})
        definitions[body.__name__] = schema
        rule = {"properties": {"kind": {"const": kind.value}, "body": {"$ref": f"#/$defs/{body.__name__}"}}}
        kinds.append(rule)
    moment = {"type": "string", "format": "date-time"}
    properties = {name: {"type": "string"} for name in ("id", "kind", "by", "source")} | {
        "version": {"type": "integer"}, "happened_at": moment, "recorded_at": moment, "body": {"type": "object"},
    }  # fmt: skip
    item = {
        "type": "object",
        "required": ["id", "kind", "happened_at", "recorded_at", "body"],
        "properties": properties,
        "oneOf": kinds,
    }
    return {**DIALECT, "title": "Events", "type": "array", "items": item, "$defs": definitions}


def without_secrets(farm: Farm) -> Farm:
    """Return a farm without what may hold passwords and keys: store address, outlets, options of weather services."""
    weather = farm.weather.model_copy(update={"options": {}})
    return farm.model_copy(update={"store": StoreSettings(), "outlets": (), "weather": weather})


SCHEMAS = {"plan": plan_schema, "farm": farm_schema, "events": events_schema}
"""Documents and their published shapes; the same files stand in docs/schema."""


def fields(workspace: Workspace, situation: Situation, outlook: Outlook, now: datetime) -> dict[str, Any]:
    """Return the fields as a GeoJSON collection, each with its next pass and whether that can run now."""
    shapes, found = geometries(workspace.folder), []
    hour = max(0, int((now - outlook.start_utc).total_seconds() // 3600))
    for field in situation.farm.fields:
        due = next_pass(situation, outlook, field.id)
        hours = None if due is None else best_fit(outlook, (field.id, due))
        chance = None if hours is None else round(float(hours.chance[min(hour, len(hours.chance) - 1)]), 3)
        view = outlook.fields.get(field.id)
        said: dict[str, Any] = {
            "id": field.id, "name": field.label, "area_ha": field.area_ha, "crop": field.crop.value, "next_pass": due, "chance_now": chance,
            "status": None if chance is None else "fit" if chance >= GOOD else "marginal" if chance >= POSSIBLE else "unfit",
            "left_ha": None if due is None else situation.left_ha(field.id, due), "stage": "" if view is None else view.stage_now,
        }  # fmt: skip
        found.append(feature(shapes.get(field.id), (field.longitude_deg, field.latitude_deg), said))
    return {"type": "FeatureCollection", "features": found}
