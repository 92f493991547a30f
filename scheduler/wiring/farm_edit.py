"""Files of a farm folder replaced by a program: checked beforehand as a whole, all or none, what was there kept beside."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from scheduler.wiring.workspace import check_farm
from shared.errors import FarmFileError, Fault, FitgroundError

KEPT = "before"
DESCRIPTION = (".toml", ".csv", ".geojson")


def faults_with(folder: Path, texts: Mapping[str, str], now: datetime) -> list[Fault]:
    """Return the faults and warnings that the farm would have with other files in the place of its own."""
    with tempfile.TemporaryDirectory(prefix="fitground-edit-") as name:
        draft = Path(name)
        for path in folder.iterdir():
            if path.is_file() and path.suffix in DESCRIPTION:
                shutil.copy(path, draft / path.name)
        for file, text in texts.items():
            (draft / file).write_text(text, encoding="utf-8", newline="")
        return check_farm(draft, now.date())[0]


def replace_files(folder: Path, texts: Mapping[str, str], now: datetime) -> Path | None:
    """Put files into a farm folder; return where the old ones are kept, None when nothing was there or nothing changes.

    Raises
    ------
    FarmFileError
        With these files the farm has faults; nothing was changed.
    FitgroundError
        The folder cannot be written; nothing was changed.
    """
    errors = [fault for fault in faults_with(folder, texts, now) if not fault.warning]
    if errors:
        raise FarmFileError(errors)
    changed = {
        name: text
        for name, text in texts.items()
        if not (folder / name).exists() or (folder / name).read_bytes() != text.encode()
    }
    old = [name for name in changed if (folder / name).exists()]
    kept = folder / KEPT / f"{now:%Y-%m-%dT%H%M%S}"
    drafts: list[tuple[Path, Path]] = []
    try:
        for name in old:
            kept.mkdir(parents=True, exist_ok=True)
            shutil.copy(folder / name, kept / name)
        for name, text in changed.items():
            draft = folder / f".{name}.part"
            draft.write_bytes(text.encode())
            drafts.append((draft, folder / name))
        for draft, path in drafts:
            draft.replace(path)
    except OSError as error:
        for draft, _ in drafts:
            draft.unlink(missing_ok=True)
        for name in old:
            if (kept / name).exists():
                shutil.copy(kept / name, folder / name)
        raise FitgroundError(
            f"{folder} cannot be written ({error.strerror}); the old files stand."
        ) from error
    return kept if old else None
