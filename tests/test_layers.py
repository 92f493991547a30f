"""Imports run downwards only: the table of rooms in DEVELOPERS.md, held against the code."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# room -> rooms it may import. Order of the keys is from the bottom up; a room may always import itself.
MAY_IMPORT: dict[str, set[str]] = {
    "shared": set(),
    "adapters.http": {"shared"},
    "adapters.files": {"shared"},
    "adapters.weather": {"shared", "adapters.http"},
    "adapters.soil": {"shared", "adapters.http", "adapters.files"},
    "adapters.boundaries": {"shared", "adapters.files"},
    "adapters.sheets": {"shared", "adapters.files"},
    "adapters.taskdata": {"shared", "adapters.files"},
    "adapters.outlets": {"shared", "adapters.files"},
    "adapters.storage": {"shared"},
    "adapters.export": {"shared", "adapters.files"},
    "scheduler.farm": {"shared"},
    "scheduler.solver": {"shared"},
    "scheduler.workability": {"shared", "scheduler.farm"},
    "scheduler.stages": {"shared", "scheduler.farm"},
    "scheduler.events": {"shared", "scheduler.farm"},
}
MAY_IMPORT["scheduler.windows"] = {
    "shared", "scheduler.farm", "scheduler.events", "scheduler.workability", "scheduler.stages",
}  # fmt: skip
MAY_IMPORT["scheduler.planning"] = MAY_IMPORT["scheduler.windows"] | {"scheduler.windows", "scheduler.solver"}
MAY_IMPORT["scheduler.crew"] = MAY_IMPORT["scheduler.planning"] | {"scheduler.planning"}
_CORE = MAY_IMPORT["scheduler.crew"] | {"scheduler.crew"}
MAY_IMPORT["scheduler.whatif"] = MAY_IMPORT["scheduler.planning"] | {"scheduler.planning"}
MAY_IMPORT["scheduler.records"] = MAY_IMPORT["scheduler.planning"] | {"scheduler.planning"}
MAY_IMPORT["scheduler.service"] = _CORE
_CORE = _CORE | {"scheduler.whatif", "scheduler.service", "scheduler.records"}
MAY_IMPORT["scheduler.wiring"] = (
    _CORE | {name for name in MAY_IMPORT if name.startswith("adapters")} | {"adapters"}
)
MAY_IMPORT["scheduler.web"] = _CORE | {"scheduler.wiring"}
MAY_IMPORT["scheduler.cli"] = _CORE | {"scheduler.wiring", "scheduler.web"}
MAY_IMPORT["scenarios"] = _CORE | {"scheduler.wiring", "adapters.weather", "adapters.storage"}


def room_of(module: str) -> str | None:
    """Return the room that a module belongs to; None for modules outside the project."""
    parts = module.split(".")
    if parts[0] in ("shared", "scenarios"):
        return parts[0]
    if parts[0] in ("adapters", "scheduler"):
        return ".".join(parts[:2]) if len(parts) > 1 else parts[0]
    return None


def imports_of(path: Path) -> list[tuple[int, str]]:
    """Return line and module of every import in a file."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write imports in full"
            found.append((node.lineno, node.module or ""))
            found += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
    return found


def sources() -> list[Path]:
    """Return every source file of the program."""
    return [
        path
        for top in ("shared", "adapters", "scheduler", "scenarios")
        for path in (ROOT / top).rglob("*.py")
    ]


@pytest.mark.parametrize("path", sources(), ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_downwards(path: Path) -> None:
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    room = room_of(module.removesuffix(".__init__"))
    if room in ("adapters", "scheduler"):
        return
    assert room in MAY_IMPORT, f"{module} is in no known room: add it to the table"
    wrong = [
        f"line {line}: {name}"
        for line, name in imports_of(path)
        if (other := room_of(name)) is not None and other != room and other not in MAY_IMPORT[room]
        and not (other == "scheduler" or (other == "adapters" and name == "adapters"))
    ]  # fmt: skip
    assert not wrong, f"{module} may not import upwards: {wrong}"


def test_the_engine_and_the_checker_stay_apart() -> None:
    checker = ROOT / "scheduler" / "planning"
    for path in checker.glob("check*.py"):
        names = [name for _, name in imports_of(path)]
        assert not [
            n for n in names if n.startswith(("scheduler.solver", "ortools", "scheduler.planning.compile"))
        ]


def test_core_reads_no_clock() -> None:
    """Time enters the core as an argument; the deadline of the engine and the faces are the exceptions."""
    for path in sources():
        room = room_of(".".join(path.relative_to(ROOT).with_suffix("").parts))
        if room in (
            "scheduler.wiring",
            "scheduler.cli",
            "scheduler.web",
            "scenarios",
            None,
        ) or room.startswith("adapters"):
            continue
        text = path.read_text(encoding="utf-8")
        for call in ("datetime.now(", "date.today(", "datetime.utcnow(", "time.time("):
            assert call not in text, f"{path.relative_to(ROOT)} reads the clock with {call})"
