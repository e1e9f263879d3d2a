"""`bandwright completion`: the script that completes commands in a shell."""

from __future__ import annotations

import click

from bandwright.cli import shared

__all__ = ["command"]

SHELLS = ("bash", "zsh", "fish")


@shared.command(example='eval "$(bandwright completion bash)"     # in ~/.bashrc')
@click.argument("shell", type=click.Choice(SHELLS))
def command(*, shell: str) -> shared.Answer:
    """Print the script that completes commands and options in SHELL (bash 4.4 or later, zsh, fish)."""
    from click.shell_completion import get_completion_class

    kind = get_completion_class(shell)
    if kind is None:
        raise LookupError(f"click knows no completion for {shell}")
    complete = kind(click.Command("bandwright"), {}, "bandwright", "_BANDWRIGHT_COMPLETE")
    script = complete.source_template % complete.source_vars()
    return shared.Answer(
        text=lambda: script,
        document=lambda: {
            "schema": "bandwright.completion/1",
            "program": shared.PROGRAM,
            "shell": shell,
            "script": script,
        },
    )
