"""What a report may hold when nobody asked for more: no names, no messages that may hold them, no frequencies.

Text is not searched for what must go; what may stay is known by its form, and everything else goes.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

from bandwright.service.brief_schema import brief_schema

__all__ = ["Keep", "outline", "redacted_text"]

_GONE = "(withheld)"
_NUMBER = re.compile(r"(?<![\w.])\d{2,4}[.,]\d+(?![\w.])|(?<![\w.])\d{7,10}(?![\w.])|\d+(?:[.,]\d+)?(?=\s*[kMG]?Hz\b)")
_LOG_LINE = re.compile(
    r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d,\d{3} [A-Z]+ bandwright[\w.]* "
    r"(?:[A-Z]+ (?P<path>/[\w/{}:-]*|\(elsewhere\)) (?:\d{3} [\d.]+ s|made a mistake)"
    r"|serving on port \d+(?:, open to paired devices)?|stopped"
    r"|a call back from the worker failed|a run failed|(?:a preview|websocket) made a mistake)"
)
_HEAD_LINE = re.compile(r"(?:Python|[a-z][a-z0-9_-]*) (?:[\w.]+|missing)(?: \(CPython\), \w+ \w+)?")
_FILE_LINE = re.compile(r'  File "(?P<path>[^"]*)", line (?P<line>\d+), in (?P<name>[\w<>.]+)')
_ERROR_LINE = re.compile(r"(?P<kind>[A-Za-z_][\w.]*)(?:: .*)?")
_BETWEEN = (
    "Traceback (most recent call last):",
    "During handling of the above exception, another exception occurred:",
    "The above exception was the direct cause of the following exception:",
)
_COMMANDS = (
    "bandwright",
    "capacity",
    "check",
    "compact",
    "compare",
    "completion",
    "demo",
    "doctor",
    "export",
    "import",
)
_MORE_COMMANDS = (
    "init",
    "job",
    "new",
    "plan",
    "reach",
    "replan",
    "report",
    "rules",
    "serve",
    "sound",
    "suspect",
    "sweep",
    "why",
)
_WORDS = frozenset({*_COMMANDS, *_MORE_COMMANDS, "DELETE", "GET", "PATCH", "POST"})
# Keys whose text is a word of ours and no name of the user's.
_OUR_WORDS = frozenset(
    {
        "defaults",
        "detector",
        "direction",
        "diversity",
        "emission",
        "inside",
        "kind",
        "makes_products",
        "movable",
        "own_transmitters",
        "power_kind",
        "state",
        "tv_raster",
        "unmeasured",
        "worn",
    }
)
_TIMES = frozenset({"dates", "end", "expires", "on_air", "start", "started", "valid"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """What was asked for beyond the least: names (with messages, which may hold them), and frequencies."""

    names: bool = False
    frequencies: bool = False


def redacted_text(text: str, *, keep: Keep, known: Mapping[str, str]) -> str:
    """Return a log or a report about a mistake without what was not asked for.

    Parameters
    ----------
    known
        Texts that must not stay in any case, such as the home folder, and what stands in their place.
    """
    for given, instead in known.items():
        text = re.sub(rf"(?<!\w){re.escape(given)}(?!\w)", instead, text)
    if keep.names:
        return text if keep.frequencies else _NUMBER.sub("#", text)
    return "".join(f"{line}\n" for line in _lines(text.splitlines()))


def _lines(lines: Iterable[str]) -> Iterator[str]:
    """Yield each line in the form that may stay; lines of messages are counted, not shown."""
    after_file = False
    gone = 0
    for line in lines:
        kept = _source(line) if after_file else _kept(line)
        after_file = _FILE_LINE.fullmatch(line) is not None
        if kept is None:
            gone += 1
            continue
        if gone:
            yield _count(gone)
            gone = 0
        yield kept
    if gone:
        yield _count(gone)


def _count(gone: int) -> str:
    return f"({gone} {'line' if gone == 1 else 'lines'} withheld)"


def _source(line: str) -> str | None:
    """Return the line of code that a traceback shows; the program's code holds nothing of the user's."""
    return line if line.startswith("    ") else _kept(line)


def _kept(line: str) -> str | None:
    if not line.strip() or line in _BETWEEN or (line.strip("~^ ") == "" and line.startswith("    ")):
        return line
    if line.startswith("arguments: "):
        return f"arguments: {_arguments(line.removeprefix('arguments: '))}"
    if found := _FILE_LINE.fullmatch(line):
        return f'  File "{_short(found["path"])}", line {found["line"]}, in {found["name"]}'
    if _LOG_LINE.fullmatch(line) or _HEAD_LINE.fullmatch(line):
        return line
    found = _ERROR_LINE.fullmatch(line)
    if found and found["kind"].rpartition(".")[2].endswith(("Error", "Exception", "Promise", "Cancelled", "Interrupt")):
        return f"{found['kind']}: {_GONE}"
    return None


def _arguments(text: str) -> str:
    """Return a command line with its words and options, and of everything else the ending of a file at most."""
    try:
        given = shlex.split(text)
    except ValueError:
        return _GONE
    return " ".join(map(_argument, given))


def _argument(word: str) -> str:
    name, equals, _ = word.partition("=")
    if re.fullmatch(r"--?[a-z][a-z-]*", name):
        return f"{name}={_GONE}" if equals else name
    if word in _WORDS:
        return word
    if word.startswith("/api/"):
        return word if re.fullmatch(r"[\w/{}-]+", word) else _GONE
    ending = PurePosixPath(word).suffix
    return f"...{ending}" if re.fullmatch(r"\.(?:toml|csv|json|bwjob|txt|gz)", ending) else "..."


def _short(path: str) -> str:
    """Return where a file is inside its package."""
    parts = PureWindowsPath(path).parts if "\\" in path else PurePosixPath(path).parts
    for package in ("site-packages", "bandwright"):
        if package in parts:
            at = len(parts) - 1 - parts[::-1].index(package)
            return "/".join(parts[at + (package == "site-packages") :])
    return parts[-1] if parts else _GONE


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outline:
    """One job's names, each with what stands in its place, always the same."""

    keep: Keep
    keys: frozenset[str]
    stand_ins: dict[str, str] = field(default_factory=dict)

    def text(self, given: str) -> str:
        if self.keep.names:
            return given
        base, slash, variant = given.partition("/")
        if slash and base in self.stand_ins:
            return f"{self.stand_ins[base]}/{self.text(variant)}"
        return self.stand_ins.setdefault(given, f"text {len(self.stand_ins) + 1}")

    def value(self, key: str, given: Any) -> Any:
        if isinstance(given, Mapping):
            return {self.key(name): self.value(name, item) for name, item in given.items()}
        if isinstance(given, list | tuple):
            return [self.value(key, item) for item in given]
        if (key.endswith("mhz") or key == "tv_closed") and not self.keep.frequencies:
            return None
        if key in _TIMES and not self.keep.names:
            return None
        if isinstance(given, str):
            return given if key in _OUR_WORDS else self.text(given)
        return str(given) if isinstance(given, Decimal) else given

    def key(self, name: str) -> str:
        return name if name in self.keys or re.fullmatch(r"[0-9A-C+-]+", name) else self.text(name)


def outline(tables: Iterable[tuple[str, Mapping[str, Any]]], *, keep: Keep) -> list[dict[str, Any]]:
    """Return the tables of a brief (kind and value of each) as what they are without names and frequencies.

    Equal names get equal stand-ins, so that what belongs together still does. What is withheld is null.
    """
    rows = list(tables)
    shape = _Outline(keep=keep, keys=_known_keys())
    for kind, value in rows:
        if isinstance(value.get("id"), str):
            shape.stand_ins.setdefault(value["id"], f"{kind} {len(shape.stand_ins) + 1}")
    return [{"table": kind, **shape.value("", value)} for kind, value in rows]


def _known_keys() -> frozenset[str]:
    """Return every key that a brief may have."""
    found: set[str] = set()

    def look(schema: Any) -> None:
        if isinstance(schema, dict):
            found.update(schema.get("properties", ()))
            for item in schema.values():
                look(item)
        elif isinstance(schema, list):
            for item in schema:
                look(item)

    look(brief_schema())
    return frozenset(found)
