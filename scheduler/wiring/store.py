"""The log as a thing to keep: backup, restore, and the whole of it as JSON lines, out and in."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from adapters.storage.backup import backup, restore
from adapters.storage.event_lines import event_of, read_lines, write_lines
from scheduler.events.codec import PoisonEvent, decode
from scheduler.wiring.workspace import DATABASE, Workspace, shared_store
from shared.errors import EventLogError, ReportRefused


@dataclass(frozen=True)
class Imported:
    """What came of an import: events new and known before, and a sentence for every line left out."""

    new: int
    known: int
    refused: tuple[str, ...]


def export_log(workspace: Workspace) -> str:
    """Return the whole log, one JSON object a line, oldest first."""
    return write_lines(workspace.log.read())


def import_log(workspace: Workspace, file: Path, dry_run: bool = False) -> Imported:
    """Store the events of an export that the log does not hold; the same file again stores nothing.

    Raises
    ------
    ReportRefused
        The file cannot be read at all.
    """
    rows, refused = read_lines(file)
    known = {record.id for record in workspace.log.read()}
    sound, again = [], 0
    for row in rows:
        try:
            record = event_of(row, file.name)
            decode(record)
        except (ReportRefused, PoisonEvent) as error:
            refused.append(f"refused: {error}")
            continue
        if record.id in known:
            again += 1
            continue
        known.add(record.id)
        sound.append(record)
    if not dry_run and sound:
        workspace.log.append(sound)
    return Imported(len(sound), again, tuple(refused))


def backup_farm(folder: Path, target: Path) -> int:
    """Copy a farm's log and plans to a new file; return how many events it holds.

    Raises
    ------
    EventLogError
        The log lies on a shared server, or cannot be copied.
    """
    if shared_store(folder):
        raise EventLogError(
            "the log lies on a shared server: back it up with the server's own tools, or carry it with fitground export-log."
        )
    return backup(folder / DATABASE, target)


def restore_farm(saved: Path, folder: Path) -> int:
    """Put a backup into a farm folder that has no log; return how many events it holds."""
    folder.mkdir(parents=True, exist_ok=True)
    return restore(saved, folder / DATABASE)
