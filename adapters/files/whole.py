"""A file written whole or not at all: whoever reads it sees the old one or the new one."""

from __future__ import annotations

import os
from pathlib import Path


def write_whole(path: Path, content: bytes) -> Path:
    """Write a file, its folders too; return its path. It is on disk before it takes the old one's place."""
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.part")
    with draft.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    return draft.replace(path)
