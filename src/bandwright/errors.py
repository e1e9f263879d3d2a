"""Everything that Bandwright raises on purpose.

::

    BandwrightError
    |- InputError            the input cannot be understood (exit code 2); carries one `Fault` for each thing wrong
    |- MachineError          disk, port or receiver let us down (exit code 3)
    |- Cancelled             somebody stopped the work (exit code 130)
    `- BrokenPromise         our own bug, such as a plan that its verifier refuses (exit code 4)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["BandwrightError", "BrokenPromise", "Cancelled", "Fault", "InputError", "MachineError"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong with an input: what was given, what is allowed, what to do.

    `code` is a short stable word for programs; `text` is the whole sentence for people and ends without a line break.
    """

    code: str
    text: str
    file: str | None = None
    line: int | None = None
    key: str | None = None
    given: str | None = None
    allowed: str | None = None
    hint: str | None = None

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}: " if self.file and self.line else f"{self.file}: " if self.file else ""
        hint = f" {self.hint}" if self.hint else ""
        return f"{where}{self.text}{hint}"


class BandwrightError(Exception):
    """The root of everything raised on purpose."""

    exit_code = 4


class InputError(BandwrightError):
    """The input cannot be understood; `faults` lists everything that is wrong with it."""

    exit_code = 2

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Fault, ...]]]:
        """Keep the faults where the error goes from one process to another."""
        return type(self), (self.faults,)

    @classmethod
    def single(
        cls,
        code: str,
        text: str,
        *,
        file: str | None = None,
        line: int | None = None,
        key: str | None = None,
        given: str | None = None,
        allowed: str | None = None,
        hint: str | None = None,
    ) -> InputError:
        """Return an error with one fault."""
        fault = Fault(code=code, text=text, file=file, line=line, key=key, given=given, allowed=allowed, hint=hint)
        return cls([fault])


class MachineError(BandwrightError):
    """Disk, port or receiver let us down."""

    exit_code = 3


class Cancelled(BandwrightError):  # noqa: N818 - it is no error: somebody asked for it
    """Somebody stopped the work; `written` names the files that stay all the same."""

    exit_code = 130

    def __init__(self, message: str = "", *, written: Sequence[str] = ()) -> None:
        self.written = tuple(written)
        super().__init__(message)


class BrokenPromise(BandwrightError):  # noqa: N818 - it names our bug, not the user's error
    """A result that contradicts our own checks; never shown as an answer."""
