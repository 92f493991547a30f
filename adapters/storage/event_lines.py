"""Events as JSON lines: export, import, and the news files of scenarios. A torn last line loses only itself."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from shared.errors import ReportRefused
from shared.event_record import EventRecord
from shared.ports import EventLog


def write_lines(events: Iterable[EventRecord]) -> str:
    """Return one JSON object a line."""
    return "".join(json.dumps(as_plain(event), ensure_ascii=False, sort_keys=True) + "\n" for event in events)


def as_plain(event: EventRecord) -> dict[str, Any]:
    """Return an event as plain values."""
    return {
        "id": event.id,
        "kind": event.kind,
        "version": event.version,
        "happened_at": event.happened_at.astimezone(UTC).isoformat(),
        "recorded_at": event.recorded_at.astimezone(UTC).isoformat(),
        "by": event.by,
        "source": event.source,
        "body": event.body,
    }


def read_lines(path: Path) -> tuple[list[dict[str, Any]], list[str]]:
    """Return the objects of a file of JSON lines, and a sentence for every line that is none.

    Raises
    ------
    ReportRefused
        The file cannot be read at all.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ReportRefused(f"{path.name} cannot be read as text: {error}.") from error
    rows, faults = [], []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            value = json.loads(line)
            if not isinstance(value, dict):
                raise ValueError("not an object")
            rows.append(value)
        except ValueError:
            torn = number == len(text.splitlines()) and not text.endswith("\n")
            why = "is torn off" if torn else "is not a JSON object"
            faults.append(f"{path.name}: line {number} {why}; it was left out, the rest was read.")
    return rows, faults


def event_of(row: dict[str, Any], name: str) -> EventRecord:
    """Return the stored event that a line of an export holds.

    Raises
    ------
    ReportRefused
        A key is missing or not usable.
    """
    try:
        return EventRecord(
            id=str(row["id"]),
            kind=str(row["kind"]),
            happened_at=_aware(row["happened_at"]),
            recorded_at=_aware(row.get("recorded_at", row["happened_at"])),
            body=dict(row["body"]),
            by=str(row.get("by", "")),
            source=str(row.get("source", "import")),
            version=int(row.get("version", 1)),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ReportRefused(f"{name}: an event lacks or spoils {error}; nothing of it was stored.") from error


def import_lines(path: Path, log: EventLog) -> tuple[list[EventRecord], list[str]]:
    """Store the sound events of an export and return them with a sentence for every line left out.

    The same file again stores nothing new: events are known by their ids.
    """
    rows, faults = read_lines(path)
    sound = []
    for row in rows:
        try:
            sound.append(event_of(row, path.name))
        except ReportRefused as error:
            faults.append(str(error))
    return log.append(sound), faults


def _aware(text: Any) -> datetime:
    moment = datetime.fromisoformat(str(text))
    if moment.tzinfo is None:
        raise ValueError(f"a time zone in {text!r}")
    return moment
