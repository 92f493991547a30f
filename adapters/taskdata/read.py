"""Work done, out of a TASKDATA folder, archive or file that a terminal wrote (versions 3 and 4).

Read are the tasks with their fields, people, products, effective times and the total area that the machine counted (data
dictionary entry 0074, total area [m2]). Totals of a task go on counting when it is taken up again (ISO 11783-10; from memory), so
the largest one of each machine counts, and machines of one task are added. Binary logs are not read.
"""

from __future__ import annotations

import hashlib
import xml.etree.ElementTree as ET
from collections import defaultdict
from datetime import datetime
from pathlib import Path, PurePosixPath

from adapters.files.archive import read_archive
from adapters.files.bounded import fault_of, read_bytes
from adapters.files.guarded_xml import xml_root
from adapters.taskdata.records import CountedTask

NAME = "TASKDATA.XML"
ALLOWED = "a folder, archive or file with TASKDATA.XML as a terminal writes it (ISO 11783-10)"
TOTAL_AREA, EFFECTIVE, COMPLETED, PLANNED = "0074", "4", "4", "1"
SQUARE_METRES_PER_HA = 10_000.0
MOST_TASKS = 20_000
Tables = dict[str, dict[str, ET.Element]]


def read_taskdata(path: Path) -> tuple[list[CountedTask], list[str]]:
    """Return the tasks that were begun, and notes on those that say nothing to count.

    Raises
    ------
    FarmFileError
        No TASKDATA, damaged, XML with entities, an archive that leads outside or would swell.
    """
    content, file = _content(path)
    root = _root(content, file)
    tables: Tables = defaultdict(dict)
    for node in root:
        if node.get("A"):
            tables[node.tag][str(node.get("A"))] = node
    machine_of = {
        part.get("A", ""): name for name, device in tables["DVC"].items() for part in device.iter("DET")
    }
    tasks = list(tables["TSK"].values())
    if len(tasks) > MOST_TASKS:
        raise fault_of(file, f"holds {len(tasks):,} tasks", f"at most {MOST_TASKS:,}")
    found, notes = [], []
    for node in tasks:
        if node.get("G") == PLANNED and not _effective(node):
            continue
        task = _task(node, tables, machine_of)
        if task.area_ha is None:
            notes.append(f"{file}: task {task.title or node.get('A')!r} says no total area and was left out.")
        else:
            found.append(task)
    return found, notes


def _content(path: Path) -> tuple[bytes, str]:
    if path.is_dir():
        inside = [one for one in (path / NAME, path / "TASKDATA" / NAME) if one.is_file()]
        inside = inside or [one for one in path.iterdir() if one.name.upper() == NAME]
        if not inside:
            raise fault_of(path.name, f"holds no {NAME}", ALLOWED)
        return read_bytes(inside[0]), inside[0].name
    if path.suffix.lower() == ".zip":
        members = read_archive(path, lambda name: PurePosixPath(name).name.upper() == NAME)
        if len(members) != 1:
            raise fault_of(path.name, f"holds {len(members)} files {NAME}", ALLOWED)
        return next(iter(members.values())), path.name
    return read_bytes(path), path.name


def _root(content: bytes, file: str) -> ET.Element:
    root = xml_root(content, file, ALLOWED)
    if root.tag != "ISO11783_TaskData":
        raise fault_of(file, f"begins with {root.tag[:40]!r}", ALLOWED, "first element")
    return root


def _task(node: ET.Element, tables: Tables, machine_of: dict[str, str]) -> CountedTask:
    field = tables["PFD"].get(node.get("E", ""))
    worker = _worker(node, tables)
    practice = next((tables["CPC"].get(one.get("A", "")) for one in node.findall("OTP")), None)
    names = [tables["PDT"].get(one.get("A", "")) for one in node.findall("PAN")]
    names += [tables["PDT"].get(one.get("C", "")) for one in node.iter("PDV")]
    products = tuple(dict.fromkeys(one.get("B", "") for one in names if one is not None and one.get("B")))
    times = [time for time in (_times(one) for one in _effective(node)) if time is not None]
    code, name = (field.get("B", ""), field.get("C", "")) if field is not None else ("", "")
    return CountedTask(
        key=_key(node, code or name), field_code=code, field_name=name,
        practice=practice.get("B", "") if practice is not None else "", title=node.get("B", ""), worker=worker, products=products,
        area_ha=_area_ha(node, machine_of), start=min((a for a, _ in times), default=None), end=max((b for _, b in times), default=None),
        completed=node.get("G") == COMPLETED,
    )  # fmt: skip


def _worker(node: ET.Element, tables: Tables) -> str:
    person = tables["WKR"].get(next((one.get("A", "") for one in node.findall("WAN")), node.get("F", "")))
    return (
        ""
        if person is None
        else " ".join(part for part in (person.get("C", ""), person.get("B", "")) if part)
    )


def _effective(node: ET.Element) -> list[ET.Element]:
    return [one for one in node.findall("TIM") if one.get("D") == EFFECTIVE]


def _times(node: ET.Element) -> tuple[datetime, datetime] | None:
    """Return start and end of a time record; None where one is missing or says no time zone."""
    try:
        start = datetime.fromisoformat(node.get("A", ""))
        end = datetime.fromisoformat(node.get("B", "") or node.get("A", ""))
    except ValueError:
        return None
    return (start, end) if start.tzinfo is not None and end.tzinfo is not None else None


def _area_ha(node: ET.Element, machine_of: dict[str, str]) -> float | None:
    most: dict[str, float] = {}
    for value in (one for time in node.findall("TIM") for one in time.findall("DLV")):
        if value.get("A", "").upper() != TOTAL_AREA:
            continue
        try:
            area = int(value.get("B", "")) / SQUARE_METRES_PER_HA
        except ValueError:
            continue
        machine = machine_of.get(value.get("C", ""), value.get("C", ""))
        most[machine] = max(most.get(machine, 0.0), area)
    return sum(most.values()) if most else None


def _key(node: ET.Element, ground: str) -> str:
    """Return what tells a task from every other: its id, field and first effective start."""
    first = min((one.get("A", "") for one in _effective(node)), default="")
    said = "|".join((node.get("A", ""), node.get("B", ""), ground, first))
    return "taskdata-" + hashlib.sha256(said.encode()).hexdigest()[:12]
