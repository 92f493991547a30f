"""Weather adapters, opened by the names that the farm file gives; other packages may bring more.

A package adds a source by an entry point of the group ``fitground.weather``: its name is the name in the farm file, its value
a function like those of `SOURCES`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from adapters.http.polite import PoliteClient
from adapters.weather.chain import Chain
from adapters.weather.daily_history import open_power, open_us_grid
from adapters.weather.ghcn_daily import open_ghcn
from adapters.weather.global_ensemble import open_global_ensemble
from adapters.weather.norway import open_norway
from adapters.weather.recorded import open_recorded
from adapters.weather.us_national import open_us_national
from shared.errors import WeatherUnavailable
from shared.ports import WeatherSource
from shared.registry import with_brought

CACHE = "weather-cache.sqlite"
GROUP = "fitground.weather"


class Settings(Protocol):
    """What the farm file's ``[weather]`` says."""

    @property
    def source(self) -> str:
        """One adapter for everything."""

    @property
    def forecast(self) -> Sequence[str]:
        """Names of forecasters, best first."""

    @property
    def observed(self) -> Sequence[str]:
        """Names of sources of observed weather, best first."""

    @property
    def history(self) -> Sequence[str]:
        """Names of sources of past years, best first."""

    @property
    def folder(self) -> str:
        """Folder of the files, within the farm folder."""

    @property
    def options(self) -> Mapping[str, Any]:
        """Options of the adapters; each checks its own."""


Opener = Callable[[Path, Mapping[str, Any], str, PoliteClient], WeatherSource]
SOURCES: dict[str, Opener] = {
    "recorded": lambda folder, options, time_zone, client: open_recorded(folder, options, time_zone),
    "us-national": open_us_national,
    "global-ensemble": open_global_ensemble,
    "norway": open_norway,
    "us-grid-daily": open_us_grid,
    "power": open_power,
    "ghcn-csv": open_ghcn,
}
"""Name in the farm file -> function of folder, options, time zone and HTTP client. A new adapter adds one line here."""


def known_sources() -> dict[str, Opener]:
    """Return every source by name, those of other packages with them."""
    return with_brought(SOURCES, GROUP)


def open_weather(
    farm_folder: Path, settings: Settings, time_zone: str, client: PoliteClient | None = None
) -> WeatherSource:
    """Return the weather source of a farm.

    Parameters
    ----------
    farm_folder : Path
        Folder of the farm file; replies of services are cached in it.
    settings : Settings
        What the farm file says.
    time_zone : str
        The farm's time zone.
    client : PoliteClient, optional
        For tests; by default one with a cache file and the contact of the farm file.

    Raises
    ------
    WeatherUnavailable
        A source is not known, or refuses its options.
    """
    folder, options = farm_folder / settings.folder, settings.options
    client = client or PoliteClient(farm_folder / CACHE, str(options.get("contact", "")))

    def one(name: str, key: str) -> WeatherSource:
        opener = known_sources().get(name)
        if opener is None:
            known = ", ".join(sorted(known_sources()))
            raise WeatherUnavailable(f"farm.toml: weather.{key} {name!r} is not known; allowed: {known}.")
        return opener(folder, options, time_zone, client)

    if not (settings.forecast or settings.observed or settings.history):
        return one(settings.source, "source")
    roles = {
        key: [one(name, key) for name in getattr(settings, key)]
        for key in ("forecast", "observed", "history")
    }
    gauge = folder / str(options["gauge_file"]) if "gauge_file" in options else None
    return Chain(roles["forecast"], roles["observed"], roles["history"], time_zone, gauge)
