"""What every command shares: `--json`, the answer on standard output, progress and Ctrl-C."""

from __future__ import annotations

import functools
import json
import os
import shutil
import signal
import sys
import threading
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import get_close_matches
from types import FrameType
from typing import IO, Any, TextIO

import click

from bandwright import __version__
from bandwright.errors import InputError
from bandwright.service.context import Context, Progress
from bandwright.service.folders import kit_folder

__all__ = [
    "PROGRAM",
    "Answer",
    "Group",
    "columns",
    "command",
    "prepare_streams",
    "refuse_unknown",
    "working",
    "write_error",
    "write_json",
    "write_text",
]

PROGRAM = f"bandwright {__version__}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a command found, for people and for programs; only the asked-for form is made.

    `document` returns the JSON object: a mapping, or the JSON text of a document model.
    """

    text: Callable[[], str]
    document: Callable[[], Mapping[str, Any] | str]
    exit_code: int = 0


def command(*, example: str) -> Callable[[Callable[..., Answer]], click.Command]:
    """Make a command of a function that returns an `Answer`: adds `--json` and the example, shows and exits."""

    def decorate(function: Callable[..., Answer]) -> click.Command:
        @functools.wraps(function)
        def show(*, as_json: bool, **given: object) -> int:
            answer = function(**given)
            if as_json:
                write_json(answer.document())
            else:
                write_text(answer.text())
            return answer.exit_code

        option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object, errors included.")
        return click.command(epilog=f"\b\nExample:\n  {example}")(option(show))

    return decorate


def refuse_unknown(name: str, known: Collection[str], *, program: str) -> None:
    """Raise InputError for a command that does not exist, with the nearest one; options pass."""
    if name in known or name.startswith("-"):
        return
    near = get_close_matches(name, known, n=1)
    raise InputError.single(
        "unknown-command",
        f'There is no command "{name}".',
        given=name,
        allowed=", ".join(sorted(known)),
        hint=f'Did you mean "{near[0]}"?' if near else f'Try "{program} --help".',
    )


class Group(click.Group):
    """A command that has commands of its own; without one it shows them."""

    def __init__(self, **keys: Any) -> None:
        super().__init__(invoke_without_command=True, callback=_show_help, **keys)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or say which ones exist."""
        refuse_unknown(args[0], self.commands, program=f"bandwright {self.name}")
        return super().resolve_command(ctx, args)


def _show_help() -> None:
    ctx = click.get_current_context()
    if ctx.invoked_subcommand is None:
        write_text(ctx.get_help())


def columns(most: int = 140) -> int:
    """Return how wide text for this terminal may be; 100 where nobody tells."""
    return min(shutil.get_terminal_size((100, 40)).columns, most)


def prepare_streams(*, as_json: bool) -> None:
    """Make standard output UTF-8 for JSON; let a narrow terminal replace what it cannot show.

    A file's name may hold bytes that are no Unicode: a ? stands for each, in JSON too.

    A process that was started without standard streams gets ones that lead nowhere.
    """
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115, PTH123 - open to the end
    out: object = sys.stdout
    reconfigure = getattr(out, "reconfigure", None)
    if reconfigure is not None and as_json:
        reconfigure(encoding="utf-8", errors="replace")
    elif reconfigure is not None:
        reconfigure(errors="replace")


def write_json(document: Mapping[str, Any] | str) -> None:
    """Write one JSON object to standard output."""
    text = document if isinstance(document, str) else json.dumps(document, ensure_ascii=False, allow_nan=False)
    write_text(text)


def write_text(text: str) -> None:
    """Write to standard output, whole, with one line break at the end; a reader who left early is no error."""
    try:
        click.echo(text.rstrip("\n"))
        sys.stdout.flush()
    except BrokenPipeError:
        _drop(sys.stdout)
    except OSError:
        _drop(sys.stdout)
        raise


def write_error(text: str) -> None:
    """Write to standard error, where somebody may listen."""
    try:
        click.echo(text, err=True)
    except OSError:
        _drop(sys.stderr)


def _drop(stream: TextIO) -> None:
    """Send what is left in a dead stream to nowhere, so that the end of the process does not trip over it."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _progress_words(progress: Progress) -> str:
    """Return how work stands on one line: a search tells its best so far, its bound and its time."""
    if progress.placed is None:
        return progress.text if progress.done is None else f"{progress.text} {progress.done:.0%}"
    at_most = None if progress.bound is None else f"at most {progress.bound}"
    seconds = None if progress.elapsed_s is None else f"{progress.elapsed_s:.0f} s"
    return ", ".join(part for part in (progress.text, at_most, seconds) if part)


class _ProgressLine:
    """One line on a terminal that long work rewrites; nothing at all anywhere else."""

    def __init__(self, stream: IO[str]) -> None:
        self._stream = stream
        self._live = stream.isatty() and os.environ.get("TERM") != "dumb"
        self._shown = 0

    def __call__(self, progress: Progress) -> None:
        self._rewrite(_progress_words(progress)[: shutil.get_terminal_size().columns - 1])

    def clear(self) -> None:
        if self._shown:
            self._rewrite("")
            self._stream.write("\r")
            self._stream.flush()

    def _rewrite(self, text: str) -> None:
        if self._live:
            self._stream.write("\r" + text.ljust(self._shown))
            self._stream.flush()
            self._shown = len(text)


@contextmanager
def working(*, trace: str | None = None) -> Iterator[Context]:
    """Yield the context for long work: progress on a terminal, and Ctrl-C that stops between two steps.

    `trace` is the trace to read where a sweep file holds several.
    The first Ctrl-C asks the work to stop; the second one stops it where it stands.
    """
    line = _ProgressLine(sys.stderr)
    stop = threading.Event()

    def on_interrupt(_signal: int, _frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()
        line(Progress(text="stopping after this step; Ctrl-C again stops at once"))

    in_main = threading.current_thread() is threading.main_thread()
    before = signal.signal(signal.SIGINT, on_interrupt) if in_main else None
    try:
        yield Context(progress=line, cancelled=stop.is_set, kit_folder=kit_folder(), trace=trace)
    finally:
        if in_main:
            signal.signal(signal.SIGINT, before)
        line.clear()
