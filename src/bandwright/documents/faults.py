"""Collect everything that is wrong with a document, each thing with file, line, key, given, allowed and hint."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, time
from decimal import Decimal
from functools import singledispatch
from typing import Any

from bandwright.documents.lines import Path, line_of
from bandwright.errors import Fault, InputError

__all__ = ["Findings", "Located", "given_text", "key_text", "list_text", "nearest_hint", "nearest_word"]

_LONGEST = 60
_BARE = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Located:
    """A fault, and the path in the document at which it stands: ("link", 3, "hold_mhz")."""

    fault: Fault
    path: Path


@dataclass(slots=True, kw_only=True)
class Findings:
    """The faults found so far in one file, what the file says, and where its keys stand.

    Tables that cannot be read are left out before the rest is looked at; `kept` then maps the name of a list to the
    positions that its remaining tables have in the file.
    """

    file: str
    data: Mapping[str, Any] = field(default_factory=dict)
    lines: Mapping[Path, int] = field(default_factory=dict)
    kept: dict[str, list[int]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    paths: list[Path] = field(default_factory=list)

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
        """Note one thing that is wrong at a path; `text` goes on after the name of the table (`link "L01": `)."""
        path = self.in_file(path)
        self.paths.append(path)
        subject = self.subject(path)
        self.faults.append(
            Fault(
                code=code,
                text=f"{subject}: {text}" if subject else text,
                file=self.file,
                line=line_of(self.lines, path),
                key=key_text(path),
                given=given,
                allowed=allowed,
                hint=hint,
            )
        )

    def in_file(self, path: Sequence[str | int]) -> Path:
        """Return a path as it is in the file."""
        match path:
            case [str(kind), int(position), *rest] if kind in self.kept:
                return (kind, self.kept[kind][position], *rest)
        return tuple(path)

    def subject(self, path: Sequence[str | int]) -> str:
        """Return the table that a path of the file lies in, by its id where it has one."""
        match path:
            case ["radio", int(), "variant", int(), *_]:
                base, own = self._name(path[:2]), self._name(path[:4])
                return f'radio "{base}/{own}"' if base and own else key_text(path[:4])
            case [str(kind), int(), *_]:
                name = self._name(path[:2])
                return f'{kind} "{name}"' if name else key_text(path[:2])
            case [str(kind), _, *_]:
                return f"[{kind}]"
        return ""

    def line(self, path: Sequence[str | int]) -> int | None:
        """Return the line of a path."""
        return line_of(self.lines, self.in_file(path))

    def any_under(self, path: Sequence[str | int]) -> bool:
        """Whether something is wrong at a path or below it."""
        path = self.in_file(path)
        return any(found[: len(path)] == path for found in self.paths)

    def stop_if_any(self) -> None:
        """Raise everything found, in the order of the lines."""
        if self.faults:
            raise InputError(sorted(self.faults, key=lambda fault: fault.line or 0))

    def located(self) -> tuple[Located, ...]:
        """Return everything found with its path, in the order in which it was found."""
        return tuple(Located(fault=one, path=path) for one, path in zip(self.faults, self.paths, strict=True))

    def _name(self, path: Sequence[str | int]) -> str | None:
        value: Any = self.data
        for part in path:
            value = value[part]
        name = value.get("id") if isinstance(value, dict) else None
        return name if isinstance(name, str) and name.isprintable() and 0 < len(name) <= _LONGEST else None


def key_text(path: Sequence[str | int]) -> str:
    """Return a path as people write it.

    >>> key_text(("radio", 0, "tuning", 1, "step_khz"))
    'radio[1].tuning[2].step_khz'
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def nearest_word(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that is nearest to a word, or None when none is near."""
    by_folded = {item.casefold(): item for item in known}
    near = difflib.get_close_matches(word.casefold(), by_folded, n=1, cutoff=0.6)
    return by_folded[near[0]] if near else None


def nearest_hint(word: str, known: Iterable[str]) -> str | None:
    """Return "Did you mean ...?" for the nearest known word, or None when none is near."""
    near = nearest_word(word, known)
    return f'Did you mean "{near}"?' if near else None


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
def _(value: Decimal) -> str:
    return _cut(str(value)) if value.is_finite() else str(value).lower().replace("infinity", "inf")


@given_text.register
def _(value: date) -> str:
    return value.isoformat()


@given_text.register
def _(value: time) -> str:
    return value.isoformat("auto" if value.second or value.microsecond else "minutes")


@given_text.register
def _(value: str) -> str:
    return f'"{_cut(value)}"'


@given_text.register
def _(value: dict) -> str:  # type: ignore[type-arg]
    return _cut("{ " + ", ".join(f"{_key(key)} = {given_text(item)}" for key, item in value.items()) + " }")


@given_text.register
def _(value: list) -> str:  # type: ignore[type-arg]
    return _cut("[" + ", ".join(given_text(item) for item in value[:20]) + "]")


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else given_text(key)


def _cut(text: str) -> str:
    printable = "".join(letter if letter.isprintable() else " " for letter in text)
    return printable if len(printable) <= _LONGEST else f"{printable[: _LONGEST - 3]}..."
