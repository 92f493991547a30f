"""Weather adapters, opened by the names that the farm file gives; other packages may bring more.

A package adds a source by an entry point of the group ``fitground.weather``: its name is the name in the farm file, its value
a function like those of `SOURCES`. A source is loaded when a farm that uses it asks for weather: most commands ask for none,
and tables of weather take long to load.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from shared.errors import WeatherUnavailable
from shared.ports import WeatherSource
from shared.registry import late, with_brought

if TYPE_CHECKING:
    from adapters.http.polite import PoliteClient

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


Opener = Callable[[Path, Mapping[str, Any], str, "PoliteClient | None"], WeatherSource]
RECORDED = "recorded"
"""The source that asks nobody."""
SOURCES: dict[str, Opener] = {
    RECORDED: late("adapters.weather.recorded:open_recorded"),
    "us-national": late("adapters.weather.us_national:open_us_national"),
    "global-ensemble": late("adapters.weather.global_ensemble:open_global_ensemble"),
    "norway": late("adapters.weather.norway:open_norway"),
    "us-grid-daily": late("adapters.weather.daily_history:open_us_grid"),
    "power": late("adapters.weather.daily_history:open_power"),
    "ghcn-csv": late("adapters.weather.ghcn_daily:open_ghcn"),
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

    @cache
    def polite() -> PoliteClient:
        from adapters.http.polite import PoliteClient

        return client or PoliteClient(farm_folder / CACHE, str(options.get("contact", "")))

    def one(name: str, key: str) -> WeatherSource:
        opener = known_sources().get(name)
        if opener is None:
            known = ", ".join(sorted(known_sources()))
            raise WeatherUnavailable(f"farm.toml: weather.{key} {name!r} is not known; allowed: {known}.")
        return opener(folder, options, time_zone, None if name == RECORDED else polite())

    if not (settings.forecast or settings.observed or settings.history):
        return one(settings.source, "source")
    roles = {
        key: [one(name, key) for name in getattr(settings, key)]
        for key in ("forecast", "observed", "history")
    }
    gauge = folder / str(options["gauge_file"]) if "gauge_file" in options else None
    from adapters.weather.chain import Chain

    return Chain(roles["forecast"], roles["observed"], roles["history"], time_zone, gauge)
