"""What a failure looks like: one clear sentence (or one JSON object) and the exit code."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict

import click

from bandwright.cli.shared import PROGRAM, write_error, write_json
from bandwright.errors import Cancelled, Fault, InputError, MachineError

__all__ = ["tell"]

Told = tuple[int, tuple[Fault, ...]]


def tell(error: BaseException, *, arguments: Sequence[str], as_json: bool) -> int:
    """Say what went wrong in the asked-for form and return the exit code."""
    for kind, explain in _KINDS:
        if isinstance(error, kind):
            code, faults = explain(error)
            break
    else:
        code, faults = _our_bug(error, arguments)
    if as_json:
        write_json({"schema": "bandwright.errors/1", "program": PROGRAM, "errors": [asdict(f) for f in faults]})
    else:
        write_error("\n".join(map(str, faults)))
    return code


def _input(error: InputError) -> Told:
    return error.exit_code, error.faults


def _cancelled(_: BaseException) -> Told:
    return Cancelled.exit_code, (Fault(code="cancelled", text="Stopped, as asked. Nothing was written."),)


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
