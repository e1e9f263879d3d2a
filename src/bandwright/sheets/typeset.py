"""Lines of type: runs of text in a face and size, wrapped into a width; and widths for columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from bandwright.core.words import UNIT_SPACE
from bandwright.sheets.fonts import Face, printable, text_width

__all__ = ["Line", "Run", "TypeCase", "line_width", "share_width", "wrap"]


@dataclass(frozen=True, slots=True)
class Run:
    """A piece of text in one face and size (points)."""

    text: str
    face: Face
    size: float

    @property
    def width(self) -> float:
        """Width in points."""
        return text_width(self.text, self.face, self.size)


Line = tuple[Run, ...]

_NO_BREAK = "\u00a0"


@dataclass(slots=True)
class TypeCase:
    """Makes runs that can be printed, and remembers which characters could not, and in which text."""

    missing: dict[str, str] = field(default_factory=dict)

    def run(self, text: str, face: Face, size: float) -> Run:
        """Return the text as a run; characters that the face lacks are replaced and remembered."""
        shown, missing = printable(text, face)
        for char in missing:
            self.missing.setdefault(char, text)
        return Run(shown, face, size)


def line_width(line: Iterable[Run]) -> float:
    """Return the width of runs side by side, a space between them."""
    runs = tuple(line)
    return sum(run.width for run in runs) + sum(_space(run) for run in runs[1:])


def wrap(runs: Sequence[Run], width: float) -> tuple[Line, ...]:
    """Break runs into lines no wider than `width`, at spaces; a word wider than that is broken where it must be.

    A figure and its unit count as one word.
    """
    lines: list[list[Run]] = [[]]
    room = width
    for word in _pieces(runs, width):
        needed = word.width + (_space(word) if lines[-1] else 0)
        if lines[-1] and needed > room + 0.01:
            lines.append([])
            room, needed = width, word.width
        lines[-1].append(word)
        room -= needed
    return tuple(_joined(line) for line in lines if line)


def share_width(natural: Sequence[float], room: float) -> tuple[float, ...]:
    """Give each its natural width where they fit together; otherwise the widest give way first.

    >>> share_width([10.0, 50.0, 80.0], 100.0)
    (10.0, 45.0, 45.0)
    """
    widths = list(natural)
    if sum(widths) <= room:
        return tuple(widths)
    left, count = room, len(widths)
    for position in sorted(range(len(widths)), key=lambda index: natural[index]):
        widths[position] = min(natural[position], max(0.0, left / count))
        left -= widths[position]
        count -= 1
    return tuple(widths)


def _space(run: Run) -> float:
    return text_width(" ", run.face, run.size)


def _pieces(runs: Sequence[Run], width: float) -> Iterable[Run]:
    for run in runs:
        for word in UNIT_SPACE.sub(_NO_BREAK, run.text).split(" "):
            if word:
                yield from _broken(Run(word.replace(_NO_BREAK, " "), run.face, run.size), width)


def _broken(word: Run, width: float) -> Iterable[Run]:
    rest = word
    while rest.width > width and len(rest.text) > 1:
        size = next(
            (n for n in range(len(rest.text) - 1, 0, -1) if Run(rest.text[:n], rest.face, rest.size).width <= width), 1
        )
        yield Run(rest.text[:size], rest.face, rest.size)
        rest = Run(rest.text[size:], rest.face, rest.size)
    yield rest


def _joined(line: Sequence[Run]) -> Line:
    joined: list[Run] = []
    for word in line:
        if joined and (joined[-1].face, joined[-1].size) == (word.face, word.size):
            joined[-1] = Run(f"{joined[-1].text} {word.text}", word.face, word.size)
        else:
            joined.append(word)
    return tuple(joined)
