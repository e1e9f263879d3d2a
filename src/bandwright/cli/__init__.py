"""The command line: parse, call one service function, show.

How a command is added: one file and one line. The file `cli/NAME.py` holds one function under
`@shared.command(example="bandwright NAME ...")`, which returns a `shared.Answer`; the line goes into `COMMANDS` below,
with the short help text, because `bandwright --help` must not import the command to describe it. At the top a command
file imports click and `cli.shared` only; the service it calls is imported inside the function, so that help and shell
completion stay fast. `--json`, errors, exit codes and Ctrl-C come with `shared.command`; a command does nothing for
them. A command is registered when it works, not before.

Exit codes: 0 done; 1 done, but something is not satisfied; 2 the input cannot be understood; 3 the machine failed us;
4 our bug; 130 cancelled.
"""

from __future__ import annotations

import contextlib
import importlib
import io
from collections.abc import Sequence

import click

from bandwright import __version__
from bandwright.cli import failures, shared

__all__ = ["COMMANDS", "program", "run"]

# name -> (module:function, what it does)
COMMANDS: dict[str, tuple[str, str]] = {
    "capacity": ("bandwright.cli.capacity:command", "Say how many links of a radio type fit, and what would help."),
    "check": ("bandwright.cli.check:command", "Check a list of carriers against a brief and sweeps."),
    "compare": ("bandwright.cli.compare:command", "Say what changed between two sweeps, and which links it touches."),
    "completion": ("bandwright.cli.completion:command", "Print the script that completes commands in a shell."),
    "demo": ("bandwright.cli.demo:command", "Do the whole main job on an invented production."),
    "doctor": ("bandwright.cli.doctor:command", "Say what works on this machine, and what to do about the rest."),
    "init": ("bandwright.cli.init:command", "Write a commented brief to start from."),
    "job": ("bandwright.cli.job:command", "Make, check, export and import job files."),
    "plan": ("bandwright.cli.plan:command", "Plan carriers for all links of a brief, with sheets."),
    "reach": ("bandwright.cli.reach:command", "Say whether the signal will be there: levels, noise, margin."),
    "replan": ("bandwright.cli.replan:command", "Move as few links as possible, and say in which order."),
    "report": ("bandwright.cli.report:command", "Write an archive about a mistake of ours, without names."),
    "rules": ("bandwright.cli.rules:command", "List the shipped rule tables, or show one in full."),
    "serve": ("bandwright.cli.serve:command", "Serve a job as pages for the browser on this computer."),
    "sound": ("bandwright.cli.sound:command", "Say how links will sound: line-up, companding, times, levels."),
    "suspect": ("bandwright.cli.suspect:command", "Say what makes a product that is heard, and how to find out."),
    "sweep": ("bandwright.cli.sweep:command", "Say what is in the air, and what nobody measured."),
    "why": ("bandwright.cli.why:command", "Say what stops or allows a carrier, rule by rule."),
}

EPILOG = """\b
Exit codes: 0 done; 1 done, but something is not satisfied; 2 the input
cannot be understood; 3 the machine failed us; 4 our bug; 130 cancelled.

Spectrum law is local: the regulator's current text decides, not this program.
"""


class LazyGroup(click.Group):
    """A group that knows its commands by name and short help, and imports one only to run it."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the one command that is asked for."""
        if cmd_name not in COMMANDS:
            return None
        module, _, function = COMMANDS[cmd_name][0].partition(":")
        found = getattr(importlib.import_module(module), function)
        if not isinstance(found, click.Command):
            raise TypeError(f"{COMMANDS[cmd_name][0]} is no command")
        found.name = cmd_name
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or say which ones exist."""
        shared.refuse_unknown(args[0], COMMANDS, program="bandwright")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the registry, importing none of them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, COMMANDS[name][1]) for name in self.list_commands(ctx)])

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[click.shell_completion.CompletionItem]:
        """Complete names of commands from the registry, importing none of them."""
        from click.shell_completion import CompletionItem

        names = [name for name in self.list_commands(ctx) if name.startswith(incomplete)]
        options = click.Command.shell_complete(self, ctx, incomplete)
        return [*(CompletionItem(name, help=COMMANDS[name][1]) for name in names), *options]


@click.group(cls=LazyGroup, invoke_without_command=True, epilog=EPILOG)
@click.version_option(__version__, message="bandwright %(version)s")
@click.pass_context
def program(ctx: click.Context) -> None:
    """Plan the radio microphones of a production, without the internet.

    Carriers inside the permits and clear of each other and of what is in the air, whether each signal will be there and
    sound right, and the sheets that go round the crew.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def run(arguments: Sequence[str]) -> int:
    """Run the program and return its exit code; nothing that goes wrong leaves as an exception."""
    as_json = "--json" in arguments
    shared.prepare_streams(as_json=as_json)
    try:
        if as_json and "--help" in arguments:
            return _help_as_json(arguments)
        return _invoke(arguments)
    except (Exception, KeyboardInterrupt) as error:
        return failures.tell(error, arguments=arguments, as_json=as_json)


def _invoke(arguments: Sequence[str]) -> int:
    code = program.main(args=list(arguments), prog_name="bandwright", standalone_mode=False)
    return code if isinstance(code, int) else 0


def _help_as_json(arguments: Sequence[str]) -> int:
    with contextlib.redirect_stdout(io.StringIO()) as page:
        code = _invoke(arguments)
    shared.write_json({"schema": "bandwright.help/1", "program": shared.PROGRAM, "text": page.getvalue()})
    return code
