"""What a failure looks like: one clear sentence (or one JSON object) and the exit code."""

from __future__ import annotations

import errno
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace

import click

from bandwright.cli.shared import PROGRAM, write_error, write_json
from bandwright.errors import Cancelled, Fault, InputError, MachineError

__all__ = ["tell"]

Told = tuple[int, tuple[Fault, ...]]

_MOST_WORDS = 2_000
_REPLACED = "\N{REPLACEMENT CHARACTER}"


def tell(error: BaseException, *, arguments: Sequence[str], as_json: bool) -> int:
    """Say what went wrong in the asked-for form and return the exit code."""
    for kind, explain in _KINDS:
        if isinstance(error, kind):
            code, faults = explain(error)
            break
    else:
        code, faults = _our_bug(error, arguments)
    faults = tuple(_readable(_as_sentence(fault)) for fault in faults)
    if as_json:
        write_json({"schema": "bandwright.errors/1", "program": PROGRAM, "errors": [asdict(f) for f in faults]})
    else:
        write_error("\n".join(map(str, faults)))
    return code


def _as_sentence(fault: Fault) -> Fault:
    """Return the fault with a capital first letter, unless it begins with a key or a command as they are written."""
    word = fault.text.partition(" ")[0]
    key = (fault.key or "").rpartition(".")[2]
    if not (word.isascii() and word.isalpha() and word.islower()) or word in (key, "bandwright"):
        return fault
    return replace(fault, text=f"{fault.text[0].upper()}{fault.text[1:]}")


def _readable(fault: Fault) -> Fault:
    """Return the fault in words that a terminal shows as they are: no control codes, and nothing given at full length.

    What was given may be anything, such as a binary file in place of a name.
    """
    file, given, hint = (None if words is None else _shown(words) for words in (fault.file, fault.given, fault.hint))
    return replace(fault, text=_shown(fault.text), file=file, given=given, hint=hint)


def _shown(text: str) -> str:
    if text.isprintable() and len(text) <= _MOST_WORDS:
        return text
    shown = "".join(letter if letter.isprintable() or letter == "\n" else _REPLACED for letter in text)
    if len(shown) <= _MOST_WORDS:
        return shown
    return f"{shown[: _MOST_WORDS // 2]} [...] {shown[-_MOST_WORDS // 4 :]}"


def _input(error: InputError) -> Told:
    return error.exit_code, error.faults


def _cancelled(error: BaseException) -> Told:
    written = error.written if isinstance(error, Cancelled) else ()
    stays = f"What was written stays: {', '.join(written)}." if written else "Nothing was written."
    return Cancelled.exit_code, (Fault(code="cancelled", text=f"Stopped, as asked. {stays}"),)


def _machine(error: MachineError) -> Told:
    return error.exit_code, (Fault(code="machine", text=str(error)),)


def _memory(_: MemoryError) -> Told:
    text = "This machine has not enough free memory for that."
    return MachineError.exit_code, (Fault(code="memory", text=text, hint="Close other programs and try again."),)


def _missing_file(error: OSError) -> Told:
    name = str(error.filename) if error.filename is not None else None
    text = f"{error.strerror or error}{f': {name}' if name else ''}."
    hint = "Give the name of a file that exists."
    return InputError.exit_code, (Fault(code="no-such-file", text=text, given=name, hint=hint),)


def _system(error: OSError) -> Told:
    if error.errno == errno.ENAMETOOLONG:
        return _missing_file(error)
    name = f": {error.filename}" if error.filename is not None else ""
    return MachineError.exit_code, (Fault(code="machine", text=f"{error.strerror or error}{name}."),)


def _unknown_option(error: click.NoSuchOption) -> Told:
    known = [name for parameter in _parameters(error) for name in parameter.opts if name.startswith("-")]
    near = [f'"{name}"' for name in error.possibilities or ()]
    fault = Fault(
        code="unknown-option",
        text=f'{_path(error)} has no option "{error.option_name}".',
        given=error.option_name,
        allowed=", ".join([*known, "--help"]),
        hint=f"Did you mean {' or '.join(near)}?" if near else _try(error),
    )
    return InputError.exit_code, (fault,)


def _missing(error: click.MissingParameter) -> Told:
    key = error.param.human_readable_name if error.param else None
    text = f"{_path(error)} needs {key or 'more arguments'}."
    return InputError.exit_code, (Fault(code="missing-argument", text=text, key=key, hint=_try(error)),)


def _bad_value(error: click.BadParameter) -> Told:
    key = error.param.human_readable_name if error.param else None
    fault = Fault(code="bad-value", text=error.format_message(), key=key, hint=_try(error))
    return InputError.exit_code, (fault,)


def _usage(error: click.ClickException) -> Told:
    hint = _try(error) if isinstance(error, click.UsageError) else None
    return InputError.exit_code, (Fault(code="usage", text=error.format_message(), hint=hint),)


def _parameters(error: click.UsageError) -> Sequence[click.Parameter]:
    return error.ctx.command.params if error.ctx else ()


def _path(error: click.UsageError) -> str:
    return error.ctx.command_path if error.ctx else "bandwright"


def _try(error: click.UsageError) -> str:
    return f'Try "{_path(error)} --help".'


def _our_bug(error: BaseException, arguments: Sequence[str]) -> Told:
    from bandwright.service.bug_report import write_bug_report

    report = write_bug_report(error, arguments=arguments)
    where = f"A report is in {report}; please send it to us." if report else "No report could be written."
    text = f"Bandwright made a mistake ({type(error).__name__}) and stopped; no result is shown."
    return 4, (Fault(code="our-bug", text=text, file=None, hint=where),)


# Looked through in this order, so the special case stands before the general one.
_KINDS: tuple[tuple[type[BaseException] | tuple[type[BaseException], ...], Callable[..., Told]], ...] = (
    (InputError, _input),
    (MachineError, _machine),
    ((Cancelled, KeyboardInterrupt, click.Abort), _cancelled),
    (click.NoSuchOption, _unknown_option),
    (click.MissingParameter, _missing),
    (click.BadParameter, _bad_value),
    (click.ClickException, _usage),
    ((FileNotFoundError, IsADirectoryError, NotADirectoryError), _missing_file),
    (OSError, _system),
    (MemoryError, _memory),
)
