"""Find the line of every key of a TOML text: `tomllib` gives values without positions.

The scanner only walks texts that `tomllib` has already accepted, so it looks for ends, not for mistakes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

__all__ = ["Path", "line_of", "toml_lines"]

Path = tuple[str | int, ...]

_SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_STRINGS = (
    re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", "e": "\x1b", '"': '"', "\\": "\\"}
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|x([0-9A-Fa-f]{2})|(.))")


def toml_lines(text: str) -> dict[Path, int]:
    r"""Return the line (from 1) of every table, key and list item of a valid TOML text.

    >>> toml_lines('[job]\ntitle = "x"\n[[link]]\nid = "a"')[("link", 0, "id")]
    4
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


def line_of(lines: Mapping[Path, int], path: Sequence[str | int]) -> int | None:
    """Return the line of a path, or of the nearest enclosing one that has a line."""
    for length in range(len(path), 0, -1):
        line = lines.get(tuple(path[:length]))
        if line is not None:
            return line
    return None


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.line = 1
        self.counted = 0
        self.lines: dict[Path, int] = {}
        self.lengths: dict[Path, int] = {}

    def document(self) -> None:
        table: Path = ()
        self.space()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.space()

    def header(self) -> Path:
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        names = self.key()
        for length in range(1, len(names)):
            self.note(self.inside((), names[:length]))
        path = (*self.inside((), names[:-1]), names[-1])
        if many:
            self.note(path)
            path = (*path, self.lengths.setdefault(path, 0))
            self.lengths[path[:-1]] += 1
        else:
            path = self.inside(path[:-1], path[-1:])
        self.note(path)
        self.at += 2 if many else 1
        return path

    def inside(self, path: Path, names: Sequence[str | int]) -> Path:
        """Follow names from a path; a list of tables on the way means its last table."""
        for name in names:
            path = (*path, name)
            if path in self.lengths:
                path = (*path, self.lengths[path] - 1)
        return path

    def pair(self, table: Path) -> None:
        start = self.at
        names = self.key()
        for length in range(1, len(names) + 1):
            self.note((*table, *names[:length]), start)
        self.at += 1  # the equals sign
        self.value((*table, *names))

    def key(self) -> list[str]:
        names = []
        while True:
            self.space()
            names.append(self.name())
            self.space()
            if not self.text.startswith(".", self.at):
                return names
            self.at += 1

    def name(self) -> str:
        quote = self.text[self.at]
        if quote in "\"'":
            content = self.string()[1:-1]
            return _ESCAPE.sub(_unescape, content) if quote == '"' else content
        return self.take(_BARE)

    def value(self, path: Path) -> None:
        self.space()
        opening = self.text[self.at]
        if opening in "\"'":
            self.string()
        elif opening in "[{":
            self.many(path, inline_table=opening == "{")
        else:
            self.take(_SCALAR)

    def many(self, path: Path, *, inline_table: bool) -> None:
        closing = "}" if inline_table else "]"
        self.at += 1
        position = 0
        self.space()
        while self.text[self.at] != closing:
            if inline_table:
                self.pair(path)
            else:
                self.note((*path, position))
                self.value((*path, position))
                position += 1
            self.space()
            if self.text[self.at] == ",":
                self.at += 1
                self.space()
        self.at += 1

    def string(self) -> str:
        match = next(found for pattern in _STRINGS if (found := pattern.match(self.text, self.at)))
        self.at = match.end()
        return match.group()

    def space(self) -> None:
        self.take(_SPACE)

    def take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        taken = match.group() if match else ""
        self.at += len(taken)
        return taken

    def note(self, path: Path, at: int | None = None) -> None:
        at = self.at if at is None else at
        if at > self.counted:
            self.line += self.text.count("\n", self.counted, at)
            self.counted = at
        self.lines.setdefault(path, self.line)


def _unescape(match: re.Match[str]) -> str:
    code = match.group(1) or match.group(2) or match.group(3)
    return chr(int(code, 16)) if code else _ESCAPES.get(match.group(4), match.group(4))
