"""The table of commands against the commands: none missing, none invented, none loaded before it is called."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import scheduler.cli
from scheduler.cli.main import main
from scheduler.cli.table import TABLE, entries

ROOM = Path(scheduler.cli.__file__).parent


def commands_written() -> set[tuple[str, str]]:
    """Return module and name of every function of the room that is made a command."""
    found = set()
    for path in ROOM.glob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and path.name != "main.py":
                made = (ast.unparse(one) for one in node.decorator_list)
                if any(text.startswith("click.command") for text in made):
                    found.add((path.stem, node.name))
    return found


def test_every_command_is_in_the_table_once() -> None:
    listed = [(entry.module, entry.attribute) for entry in entries().values()]
    assert len(listed) == len(set(listed))
    assert set(listed) == commands_written()


@pytest.mark.parametrize("name", list(entries()))
def test_a_command_is_called_what_the_table_calls_it(name: str) -> None:
    command = main.get_command(click.Context(main), name)
    assert isinstance(command, click.Command)
    assert (command.name or "") in (name, entries()[name].attribute, name.replace("-", "_"))
    shown = CliRunner().invoke(main, [name, "--help"])
    assert shown.exit_code == 0 and f"Usage: main {name}" in shown.output


def test_help_tells_all_of_them_by_what_they_are_for() -> None:
    shown = CliRunner().invoke(main, ["--help"]).output
    for section, commands in TABLE.items():
        assert f"\n{section}:\n" in shown
        for name in commands:
            assert f"\n  {name} " in shown
    assert max(len(line) for line in shown.splitlines()) <= 100


def test_a_misspelt_command_gets_a_hint() -> None:
    wrong = CliRunner().invoke(main, ["plna"])
    assert wrong.exit_code == 2 and "Did you mean 'plan'?" in wrong.output
    assert "There is no command 'harvest'" in CliRunner().invoke(main, ["harvest"]).output


@pytest.mark.parametrize(
    ("module", "not_loaded"),
    [
        ("scheduler.cli.main", ("numpy", "pandas", "ortools", "numba", "sqlalchemy", "pydantic")),
        ("scheduler.cli.news_commands", ("ortools", "numba", "matplotlib", "fastapi")),
    ],
)
def test_what_is_not_needed_is_not_loaded(module: str, not_loaded: tuple[str, ...]) -> None:
    """Help does not wait for the engine, nor does a report."""
    code = f"import sys, {module}; print([name for name in {not_loaded!r} if name in sys.modules])"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"
