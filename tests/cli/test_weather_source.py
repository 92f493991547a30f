"""A weather source that cannot be opened: named by `check`, in nobody's way while no weather is asked for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from scheduler.wiring.desk import FarmDesk
from shared.errors import FarmFileError
from tests.cli.test_commands import farm, run

__all__ = ["farm"]
HEAVY = ("pandas", "numba", "ortools", "highspy", "requests_cache")


def misspelt(farm: str) -> str:
    """Write a name that no source has into the farm file."""
    path = Path(farm) / "farm.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count('source = "recorded"') == 1
    path.write_text(text.replace('source = "recorded"', 'source = "crystal ball"'), encoding="utf-8")
    return farm


def test_check_names_a_source_that_is_not_known(farm: str) -> None:
    found = run("check", misspelt(farm))
    assert found.exit_code == 2
    assert "fault: farm.toml: weather.source: 'crystal ball' is not known; allowed: " in found.stdout
    assert "us-national" in found.stdout
    assert not list(Path(farm).glob("weather-*"))


def test_check_names_options_that_a_source_does_not_have(farm: str) -> None:
    path = Path(farm) / "farm.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace(
            'folder = "weather"', 'folder = "weather"\noptions = { speed = 2 }'
        ),
        encoding="utf-8",
    )
    found = run("check", farm)
    assert found.exit_code == 2
    assert (
        "farm.toml: weather.options: 'speed' is not known; recorded weather has no options." in found.stdout
    )


def test_news_is_kept_whatever_the_weather_source_says_and_a_plan_refuses_in_one_sentence(farm: str) -> None:
    misspelt(farm)
    told = run("report", farm, "rain", "all", "12 mm", "--now", "2027-05-10 06:00")
    assert told.exit_code == 0, told.output
    assert "12 mm" in run("log", farm).stdout or "0.47 in" in run("log", farm).stdout
    plan = run("plan", farm, "--now", "2027-05-10 06:00", "--seconds", "1")
    assert plan.exit_code != 0
    assert plan.stderr.count("\n") == 1 and "'crystal ball' is not known" in plan.stderr


def test_a_service_is_not_begun_without_its_weather_and_keeps_the_farm_it_has(farm: str) -> None:
    folder = Path(farm)
    desk = FarmDesk(folder)
    sound = desk.workspace
    misspelt(farm)
    assert desk.fresh() is sound
    assert "stays in force" in desk.trouble and "'crystal ball' is not known" in desk.trouble
    with pytest.raises(FarmFileError, match="crystal ball"):
        FarmDesk(folder)
    sound.database.close()


@pytest.mark.parametrize("command", ["log", "status", "changes"])
def test_commands_that_ask_for_no_weather_and_no_plan_load_neither(farm: str, command: str) -> None:
    script = (
        "import sys; from click.testing import CliRunner; from scheduler.cli.main import main; "
        f"print(CliRunner().invoke(main, [{command!r}, {farm!r}]).exit_code, file=sys.stderr); "
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        check=True,
    )
    assert done.stderr.strip() in ("0", "1"), done.stderr
    assert done.stdout.strip() == "[]"
