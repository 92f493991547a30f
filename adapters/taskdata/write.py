"""Planned tasks as TASKDATA.XML (ISO 11783-10, version 4.3): fields, people, products, rates; no machine is invented.

Device descriptions come from the machines themselves, so none is written and rates name no device element. Rates are process
data of the standard's dictionary: 0001 volume per area [0.01 mm3/m2], 0006 mass per area [mg/m2], 000B count per area [0.001/m2].
Outside of the field the rate is nothing. Same input, same bytes.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from adapters.files.whole import write_whole
from adapters.taskdata.records import PlannedTask, Rate, TaskFile, TaskGround

DDI = {"liquid": "0001", "dry": "0006", "seed": "000B"}
STEPS_PER_HA = {"liquid": 10_000.0, "dry": 100.0, "seed": 0.1}
"""Steps of the dictionary in one L/ha, kg/ha, seed/ha."""
TEXT_MOST, VALUE_MOST = 32, 2**31 - 1
PLANNED, WHOLE_FIELD, OUTSIDE = "1", "1", "0"
EPOCH = (2000, 1, 1, 0, 0, 0)


def taskdata_xml(file: TaskFile, version: str) -> bytes:
    """Return the document."""
    root = ET.Element(
        "ISO11783_TaskData", VersionMajor="4", VersionMinor="3", ManagementSoftwareManufacturer="fitground",
        ManagementSoftwareVersion=_text(version), DataTransferOrigin="1",
    )  # fmt: skip
    ET.SubElement(root, "CTR", A="CTR1", B=_text(file.farm))
    ET.SubElement(root, "FRM", A="FRM1", B=_text(file.farm), I="CTR1")
    fields = _numbered(one.id for one in file.fields)
    practices = _numbered(task.practice for task in file.tasks)
    for name, number in practices.items():
        ET.SubElement(root, "CPC", A=f"CPC{number}", B=_text(name))
    for ground in file.fields:
        _field(root, ground, fields[ground.id])
    workers = _numbered(task.worker for task in file.tasks if task.worker)
    for name, number in workers.items():
        ET.SubElement(root, "WKR", A=f"WKR{number}", B=_text(name))
    products = _numbered((rate.product, rate.form) for task in file.tasks for rate in task.rates)
    for (name, form), number in products.items():
        ET.SubElement(root, "PDT", A=f"PDT{number}", B=_text(name), E=DDI[form])
    for number, task in enumerate(file.tasks, 1):
        _task(root, task, number, fields, workers, products, practices)
    ET.indent(root, " ")
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="utf-8") + b"\n"


def write_taskdata(file: TaskFile, out: Path, version: str) -> Path:
    """Write the document as ``TASKDATA/TASKDATA.XML`` into a folder, or as an archive where `out` ends in ``.zip``."""
    content = taskdata_xml(file, version)
    if out.suffix.lower() == ".zip":
        packed = BytesIO()
        with ZipFile(packed, "w") as archive:
            member = ZipInfo("TASKDATA/TASKDATA.XML", EPOCH)
            member.compress_type = ZIP_DEFLATED
            archive.writestr(member, content)
        return write_whole(out, packed.getvalue())
    return write_whole(out / "TASKDATA" / "TASKDATA.XML", content)


def _numbered(names: Iterable[Any]) -> dict[Any, int]:
    return {name: number for number, name in enumerate(dict.fromkeys(names), 1)}


def _text(text: str) -> str:
    """Return a text as the standard's short ones are: at most 32 letters; odd spaces and control characters are plain spaces."""
    return "".join(mark if mark.isprintable() else " " for mark in text)[:TEXT_MOST]


def _field(root: ET.Element, ground: TaskGround, number: int) -> None:
    field = ET.SubElement(
        root, "PFD", A=f"PFD{number}", B=_text(ground.id), C=_text(ground.name), D=str(round(ground.area_ha * 10_000)), E="CTR1", F="FRM1",
    )  # fmt: skip
    if ground.geometry is None or ground.geometry.get("type") not in ("Polygon", "MultiPolygon"):
        return
    parts = ground.geometry["coordinates"]
    for rings in [parts] if ground.geometry["type"] == "Polygon" else parts:
        polygon = ET.SubElement(field, "PLN", A="1", B=_text(ground.name))
        for place, ring in enumerate(rings):
            line = ET.SubElement(polygon, "LSG", A="1" if place == 0 else "2")
            for corner in ring:
                ET.SubElement(line, "PNT", A="2", C=f"{corner[1]:.9f}", D=f"{corner[0]:.9f}")


def _task(
    root: ET.Element, task: PlannedTask, number: int, fields: dict[str, int], workers: dict[str, int],
    products: dict[tuple[str, str], int], practices: dict[str, int],
) -> None:  # fmt: skip
    node = ET.SubElement(
        root, "TSK", A=f"TSK{number}", B=_text(task.title), C="CTR1", D="FRM1", E=f"PFD{fields[task.field]}", G=PLANNED,
    )  # fmt: skip
    if task.worker:
        node.set("F", f"WKR{workers[task.worker]}")
    if task.rates:
        node.set("H", WHOLE_FIELD)
        node.set("J", OUTSIDE)
        for zone, name, share in ((OUTSIDE, "Outside of the field", 0.0), (WHOLE_FIELD, "Whole field", 1.0)):
            place = ET.SubElement(node, "TZN", A=zone, B=name)
            for rate in task.rates:
                ET.SubElement(
                    place,
                    "PDV",
                    A=DDI[rate.form],
                    B=str(_steps(rate, share)),
                    C=f"PDT{products[(rate.product, rate.form)]}",
                )
    for start, end in task.spans:
        ET.SubElement(node, "TIM", A=_time(start), B=_time(end), D="1")
    ET.SubElement(node, "OTP", A=f"CPC{practices[task.practice]}")
    if task.worker:
        allocated = ET.SubElement(node, "WAN", A=f"WKR{workers[task.worker]}")
        ET.SubElement(allocated, "ASP", A=_time(task.spans[0][0]), B=_time(task.spans[-1][1]), D="1")
    for rate in task.rates:
        ET.SubElement(node, "PAN", A=f"PDT{products[(rate.product, rate.form)]}")


def _steps(rate: Rate, share: float) -> int:
    return min(VALUE_MOST, round(rate.per_ha * STEPS_PER_HA[rate.form] * share))


def _time(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
