"""Weather adapters, opened by the name that the farm file gives."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Protocol

from adapters.weather.recorded import open_recorded
from shared.errors import WeatherUnavailable
from shared.ports import WeatherSource


class Settings(Protocol):
    """What the farm file's ``[weather]`` says."""

    @property
    def folder(self) -> str:
        """Folder of the files, within the farm folder."""

    @property
    def options(self) -> Mapping[str, Any]:
        """Options that belong to the adapter alone; each adapter checks its own."""


Opener = Callable[[Path, Mapping[str, Any], str], WeatherSource]
SOURCES: dict[str, Opener] = {"recorded": open_recorded}
"""Name in the farm file -> function of folder, options and time zone. A new adapter adds one line here."""


def open_weather(source: str, farm_folder: Path, settings: Settings, time_zone: str) -> WeatherSource:
    """Return the weather source of a farm.

    Parameters
    ----------
    source : str
        Name in the farm file's ``[weather]``.
    farm_folder : Path
        Folder of the farm file.
    settings : Settings
        Folder and options of the adapter.
    time_zone : str
        The farm's time zone.

    Raises
    ------
    WeatherUnavailable
        The source is not known, or refuses its options.
    """
    opener = SOURCES.get(source)
    if opener is None:
        raise WeatherUnavailable(
            f"farm.toml: weather.source {source!r} is not known; allowed: {', '.join(sorted(SOURCES))}."
        )
    return opener(farm_folder / settings.folder, settings.options, time_zone)
