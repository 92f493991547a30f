"""Hand-outs as files: ``DAY/PERSON.txt`` and ``.html`` (and ``DAY/PERSON-reminder.txt``) in a folder, such as one that a phone's file service carries along."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from adapters.files.whole import write_whole
from adapters.outlets.options import only_known, option
from shared.errors import OutletFailed
from shared.parcel import Parcel


class FolderOutlet:
    """Files in a folder (port `shared.ports.Outlet`); a file is there whole or not at all."""

    def __init__(self, name: str, folder: Path) -> None:
        self.name, self._folder = name, folder

    def hand_out(self, parcel: Parcel) -> None:
        """Write the files of one parcel over those of an earlier plan for that day."""
        day = self._folder / parcel.day.isoformat()
        who = re.sub(r"[^\w-]+", "_", parcel.to) or "all"
        if parcel.kind != "list":
            who += f"-{parcel.kind}"
        try:
            write_whole(day / f"{who}.txt", parcel.text.encode())
            if parcel.html:
                write_whole(day / f"{who}.html", parcel.html.encode())
        except OSError as error:
            raise OutletFailed(
                f"{self.name}: {self._folder} cannot be written ({error.strerror})."
            ) from error


def open_folder(name: str, farm_folder: Path, options: Mapping[str, Any], environment: Mapping[str, str]) -> FolderOutlet:  # fmt: skip
    """Open a folder; option ``path``, within the farm folder unless it is absolute."""
    only_known(name, options, {"path"})
    path = option(name, options, "path", 'a folder such as "lists"', default="lists")
    return FolderOutlet(name, farm_folder / path)
