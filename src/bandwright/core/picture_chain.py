"""The way of one signal as a staircase of levels: each step with its decibels, noise, and what is needed at the end."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from bandwright.core.drawing import Anchor, Group, Ink, Item, Line, Mark, Polyline, Shape, Text
from bandwright.core.picture_words import cut, folded
from bandwright.core.reach.budget import Branch
from bandwright.core.reach.chain import Step
from bandwright.core.words import one_line

__all__ = ["PANEL_HEIGHT", "chain_items"]

PANEL_HEIGHT = 176.0
_HEAD, _NAMES, _FOOT = 12.0, 34.0, 6.0
_AXIS = 34.0
_LAST = 104.0
_STEP_DB = 20
_SIZE = 7.5

Scale = Callable[[float], float]


def chain_items(branch: Branch, *, top: float, width: float) -> Iterator[Item]:
    """Yield the drawing of one run from `top` on; a run without steps (facts are missing) has none."""
    if not branch.steps:
        return
    low, high = _limits(branch)
    plot_top, bottom = top + _HEAD + _NAMES, top + PANEL_HEIGHT - _FOOT
    column = (width - _AXIS - _LAST) / len(branch.steps)

    def y_of(dbm: float) -> float:
        return plot_top + (high - dbm) / (high - low) * (bottom - plot_top)

    title = "no run" if branch.run is None else one_line(branch.run.name)
    lefts = [_AXIS + number * column for number in range(len(branch.steps))]
    items: list[Item] = [Text(at=(0, top + 8), text=cut(title, size=9, width=width / 2, bold=True), size=9, bold=True)]
    items += _grid(low, high, width, y_of)
    for step, left in zip(branch.steps, lefts, strict=True):
        items += _words(step, left, column, top + _HEAD)
    items += _levels(branch.steps, lefts, column, y_of)
    items += _noises(branch.steps, lefts, column, y_of)
    items += _end(branch, lefts[-1] + column, width, y_of)
    yield Group(items=tuple(items), title=f"{title}: {_summary(branch)}")


def _limits(branch: Branch) -> tuple[float, float]:
    """Return the ends of the scale, at whole steps, with all levels and noises inside."""
    levels = [step.level_dbm for step in branch.steps]
    more = [branch.lowest_dbm, branch.noise_dbm, *(step.noise_dbm for step in branch.steps), _needed(branch)]
    known = [*levels, *(value for value in more if value is not None)]
    low = math.floor((min(known) - 3) / _STEP_DB) * _STEP_DB
    high = math.ceil((max(known) + 3) / _STEP_DB) * _STEP_DB
    return float(low), float(max(high, low + _STEP_DB))


def _needed(branch: Branch) -> float | None:
    if branch.level_dbm is None or branch.margin_db is None:
        return None
    return branch.level_dbm - branch.margin_db


def _grid(low: float, high: float, width: float, y_of: Scale) -> Iterator[Item]:
    for dbm in range(int(low), int(high) + 1, _STEP_DB):
        y = y_of(dbm)
        yield Line(start=(_AXIS, y), end=(width - _LAST, y), ink=Ink.GRID, width=0.4)
        yield Text(at=(_AXIS - 4, y + 2.5), text=str(dbm), size=7, ink=Ink.MUTED, anchor=Anchor.END)
    yield Text(at=(0, y_of(high) + 2.5), text="dBm", size=7, ink=Ink.MUTED)


def _words(step: Step, left: float, column: float, top: float) -> Iterator[Item]:
    """Yield what a step is called, in two lines, and its decibels."""
    middle = left + column / 2
    lines = folded(one_line(step.name), size=_SIZE, width=column - 4)
    if len(lines) > 2:
        lines = [lines[0], cut(" ".join(lines[1:]), size=_SIZE, width=column - 4)]
    for number, line in enumerate(lines):
        yield Text(at=(middle, top + 7 + number * 8), text=line, size=_SIZE, anchor=Anchor.MIDDLE)
    if step.what != "transmitter":
        yield Text(at=(middle, top + 26), text=f"{step.gain_db:+.1f} dB", size=8.5, anchor=Anchor.MIDDLE, bold=True)


def _levels(steps: Sequence[Step], lefts: Sequence[float], column: float, y_of: Scale) -> Iterator[Item]:
    points: list[tuple[float, float]] = []
    for step, left in zip(steps, lefts, strict=True):
        y = y_of(step.level_dbm)
        points += [(left, y), (left + column, y)]
        less, more = step.spread_db
        if more or less:
            x = left + 5
            yield Line(
                start=(x, y_of(step.level_dbm + less)), end=(x, y_of(step.level_dbm - more)), ink=Ink.OURS, width=2
            )
        yield Text(
            at=(left + column / 2, y - 2.5), text=f"{step.level_dbm:.1f}", size=8, anchor=Anchor.MIDDLE, bold=True
        )
    yield Polyline(points=tuple(points), ink=Ink.OURS, width=1.6)


def _noises(steps: Sequence[Step], lefts: Sequence[float], column: float, y_of: Scale) -> Iterator[Item]:
    known = [(left, step.noise_dbm) for step, left in zip(steps, lefts, strict=True) if step.noise_dbm is not None]
    points = [point for left, dbm in known for point in ((left, y_of(dbm)), (left + column, y_of(dbm)))]
    if len(points) > 1:
        yield Polyline(points=tuple(points), ink=Ink.FLOOR, width=1.0, dash=(3, 2))
    for left, dbm in known:
        yield Text(
            at=(left + column / 2, y_of(dbm) - 2.5), text=f"{dbm:.1f}", size=7, ink=Ink.MUTED, anchor=Anchor.MIDDLE
        )


def _end(branch: Branch, left: float, width: float, y_of: Scale) -> Iterator[Item]:
    """Yield what arrives at the receiver: level with its lowest, noise with the receiver's own, what is needed."""
    x = left + 10
    if branch.level_dbm is None:
        return
    level, lowest = branch.level_dbm, branch.lowest_dbm
    if lowest is not None and lowest < level:
        yield Line(start=(x, y_of(level)), end=(x, y_of(lowest)), ink=Ink.OURS, width=1.2)
        yield Mark(at=(x, y_of(lowest)), shape=Shape.TRIANGLE, ink=Ink.OURS, size=6)
    labels = [(y_of(level), f"{level:.1f} arrives", True)]
    if lowest is not None and lowest < level:
        labels.append((y_of(lowest), f"{lowest:.1f} at worst", False))
    if (needed := _needed(branch)) is not None:
        y = y_of(needed)
        yield Line(start=(left, y), end=(x + 8, y), ink=Ink.TEXT, width=1.2, dash=(2, 2))
        labels.append((y, f"{needed:.1f} needed", False))
    if branch.noise_dbm is not None:
        y = y_of(branch.noise_dbm)
        yield Line(start=(left, y), end=(x + 8, y), ink=Ink.FLOOR, width=1.2)
        labels.append((y, f"{branch.noise_dbm:.1f} noise", False))
    for y, words, bold in _spaced(labels):
        yield Text(at=(x + 12, y + 2.5), text=cut(words, size=8, width=width - x - 12), size=8, bold=bold)


def _spaced(labels: Sequence[tuple[float, str, bool]]) -> list[tuple[float, str, bool]]:
    """Return labels from the top down, moved so far that none covers another."""
    found: list[tuple[float, str, bool]] = []
    for y, words, bold in sorted(labels):
        found.append((max(y, found[-1][0] + 9) if found else y, words, bold))
    return found


def _summary(branch: Branch) -> str:
    steps = ", ".join(f"{step.what} {step.gain_db:+.1f} dB" for step in branch.steps if step.what != "transmitter")
    end = "" if branch.level_dbm is None else f"; {branch.level_dbm:.1f} dBm at the receiver"
    return f"{steps}{end}"
