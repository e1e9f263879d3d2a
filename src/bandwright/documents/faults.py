"""Collect everything that is wrong with a document, each thing with file, line, key, given, allowed and hint."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, time
from functools import singledispatch

from bandwright.documents.lines import Path, line_of
from bandwright.errors import Fault, InputError

__all__ = ["Findings", "given_text", "list_text", "nearest_hint"]

_LONGEST = 60


@dataclass(slots=True, kw_only=True)
class Findings:
    """The faults found so far in one file, and where its keys stand."""

    file: str
    lines: Mapping[Path, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def add(
        self,
        code: str,
        path: Sequence[str | int],
        text: str,
        *,
        given: str | None = None,
        allowed: str | None = None,
        hint: str | None = None,
    ) -> None:
        """Note one thing that is wrong at a path."""
        self.faults.append(
            Fault(
                code=code,
                text=text,
                file=self.file,
                line=line_of(self.lines, path),
                key=key_text(path),
                given=given,
                allowed=allowed,
                hint=hint,
            )
        )

    def line(self, path: Sequence[str | int]) -> int | None:
        """Return the line of a path."""
        return line_of(self.lines, path)

    def stop_if_any(self) -> None:
        """Raise everything found, in the order of the lines."""
        if self.faults:
            raise InputError(sorted(self.faults, key=lambda fault: fault.line or 0))


def key_text(path: Sequence[str | int]) -> str:
    """Return a path as people write it.

    >>> key_text(("radio", 0, "tuning", 1, "step_khz"))
    'radio[1].tuning[2].step_khz'
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def nearest_hint(word: str, known: Iterable[str]) -> str | None:
    """Return "Did you mean ...?" for the nearest known word, or None when none is near."""
    by_folded = {item.casefold(): item for item in known}
    near = difflib.get_close_matches(word.casefold(), by_folded, n=1, cutoff=0.6)
    return f'Did you mean "{by_folded[near[0]]}"?' if near else None


def list_text(known: Iterable[str], *, most: int = 12) -> str:
    """Return known words as a list, cut where it grows long."""
    words = list(known)
    shown = ", ".join(words[:most])
    return f"{shown} and {len(words) - most} more" if len(words) > most else shown or "none"


@singledispatch
def given_text(value: object) -> str:
    """Return a value of a document as it was written, cut where it is long."""
    return _cut(str(value))


@given_text.register
def _(value: bool) -> str:
    return "true" if value else "false"


@given_text.register
def _(value: int) -> str:
    # Python refuses to print integers of thousands of digits.
    return "a number of thousands of digits" if abs(value) >= 10**1000 else _cut(str(value))


@given_text.register
def _(value: date | time) -> str:
    return value.isoformat()


@given_text.register
def _(value: str) -> str:
    return f'"{_cut(value)}"'


@given_text.register
def _(value: dict) -> str:  # type: ignore[type-arg]
    return _cut("{ " + ", ".join(f"{key} = {given_text(item)}" for key, item in value.items()) + " }")


@given_text.register
def _(value: list) -> str:  # type: ignore[type-arg]
    return _cut("[" + ", ".join(given_text(item) for item in value[:20]) + "]")


def _cut(text: str) -> str:
    printable = "".join(letter if letter.isprintable() else " " for letter in text)
    return printable if len(printable) <= _LONGEST else f"{printable[: _LONGEST - 3]}..."
