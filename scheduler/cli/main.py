"""The command `fitground`.

Exit codes: 0 done; 1 something else went wrong; 2 the farm files have faults, or the command was misspelt;
3 a report was refused; 4 the event log cannot be read or written; 5 no usable weather; 6 the checker refused
the plan.
"""

from __future__ import annotations

from difflib import get_close_matches
from importlib import import_module

import click

from scheduler.cli.table import TABLE, entries


class OnDemand(click.Group):
    """A group that loads a command when it is called, and tells all of them from the table."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names, in the order of the table."""
        return list(entries())

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, loading its module."""
        entry = entries().get(cmd_name)
        if entry is None:
            return None
        command: click.Command = getattr(import_module(f"scheduler.cli.{entry.module}"), entry.attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that is called; a misspelt one gets the nearest as a hint."""
        if args and args[0] not in entries() and not args[0].startswith("-"):
            near = get_close_matches(args[0], list(entries()), n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            ctx.fail(f"There is no command {args[0]!r}.{hint} fitground --help lists all of them.")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands by what they are for."""
        for section, commands in TABLE.items():
            with formatter.section(section):
                formatter.write_dl([(name, entry.line) for name, entry in commands.items()], col_max=14)


@click.group(cls=OnDemand, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="fitground", prog_name="fitground")
def main() -> None:
    """Plan a wet spring: which fields are fit, who goes where, what changed and why.

    FARM is a folder with farm.toml and fields.csv (or fields.geojson). fitground COMMAND --help says more of a
    command. fitground advises; people decide.
    """


if __name__ == "__main__":
    main()
