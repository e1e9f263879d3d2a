"""Make docs/commands.md from the help of every command: `python -m tools.make_commands [--check]`."""

from __future__ import annotations

import sys

import click

from bandwright import cli
from tools.generated import ROOT, write_or_check

PAGE = ROOT / "docs" / "commands.md"


def main() -> None:
    """Write or check the page."""
    write_or_check({PAGE: page()}, check="--check" in sys.argv[1:])


def page() -> str:
    """Return the page: one section for each command, with its help as the terminal shows it."""
    context = click.Context(cli.program, info_name="bandwright", terminal_width=88)
    parts = ["# The commands", "This page is made from the program's own help by `make docs`."]
    for name in cli.program.list_commands(context):
        command = cli.program.get_command(context, name)
        assert command is not None
        parts += _sections(command, name, context)
    return "\n\n".join(parts) + "\n"


def _sections(command: click.Command, name: str, parent: click.Context) -> list[str]:
    """Return heading and help of a command, and of the commands that it has."""
    own = click.Context(command, info_name=name, parent=parent, terminal_width=88)
    parts = [f"## {own.command_path}", f"```text\n{command.get_help(own).rstrip()}\n```"]
    for inner, item in command.commands.items() if isinstance(command, click.Group) else ():
        parts += _sections(item, inner, own)
    return parts


if __name__ == "__main__":
    main()
