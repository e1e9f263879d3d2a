"""How many links can be placed at most, permit by permit, or window by window where there is one permit.

Each carrier of a link lies under one permit, and in one window of it. So no plan places more links than the upper
bounds of all parts add up to, each of them for the links that have candidates there and for nothing but these
candidates: what lies in other parts can only make it fewer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.bounds import Bound
from bandwright.core.planning.build import Compiled
from bandwright.core.planning.problem import Choice, Problem
from bandwright.core.words import and_list

__all__ = ["Part", "bound_by_parts", "parts_of"]

_MOST_TOLD = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One permit, or one window: how it is called, which links have candidates there, and the problem of these alone.

    The problem has the wanted members of the whole one, so that members keep their numbers.
    """

    name: str
    links: tuple[int, ...]
    problem: Problem

    def inside(self, carriers_hz: Sequence[int]) -> list[int]:
        """Return the carriers that lie here, -1 for the others."""
        wanted, choices = self.problem.wanted, self.problem.choices
        return [
            hz if hz >= 0 and hz in choices[item.choice].carriers_hz else -1
            for item, hz in zip(wanted, carriers_hz, strict=True)
        ]


def parts_of(compiled: Compiled) -> tuple[Part, ...]:
    """Return the permits that split what links may use, or the windows of the only one; nothing where none does."""
    links = [seat for seat, spare in enumerate(compiled.spare) if not spare]
    used = sorted({compiled.choice_of[link] for link in links})
    permits = {c: compiled.facts[c].permit[compiled.facts[c].open] for c in used}
    covering = sorted({int(index) for own in permits.values() for index in own.tolist() if index >= 0})
    if not covering:
        return ()
    if len(covering) > 1:
        masks = [({c: permits[c] == index for c in used}, f"under {_called(compiled, index)}") for index in covering]
    else:
        masks = [
            ({c: _in_window(compiled.problem.choices[c], window.low_hz, window.high_hz) for c in used}, f"in {window}")
            for window in compiled.job.permits[covering[0]].windows
        ]
    parts = tuple(_part(compiled, links, mask, name) for mask, name in masks)
    found = tuple(part for part in parts if part.links)
    return found if len(found) > 1 else ()


def _called(compiled: Compiled, permit: int) -> str:
    return compiled.job.permits[permit].reference or compiled.job.permits[permit].id


def _in_window(choice: Choice, low_hz: int, high_hz: int) -> NDArray[np.bool_]:
    return (choice.carriers_hz >= low_hz) & (choice.carriers_hz <= high_hz)


def _part(compiled: Compiled, links: Sequence[int], masks: dict[int, NDArray[np.bool_]], name: str) -> Part:
    choices = tuple(
        replace(choice, carriers_hz=choice.carriers_hz[masks[c]], wish=choice.wish[masks[c]]) if c in masks else choice
        for c, choice in enumerate(compiled.problem.choices)
    )
    inside = tuple(link for link in links if len(choices[compiled.choice_of[link]].carriers_hz))
    return Part(name=name, links=inside, problem=replace(compiled.problem, choices=choices))


def bound_by_parts(parts: Sequence[Part], bounds: Sequence[Bound]) -> Bound:
    """Return what the bounds of all parts, each for its links, add up to; the method tells them one by one."""
    told = [_told(part, bound) for part, bound in zip(parts, bounds, strict=True)]
    if len(told) > _MOST_TOLD:
        told = [*told[:_MOST_TOLD], f"so on in {len(told) - _MOST_TOLD} more"]
    return Bound(upper_bound=sum(bound.upper_bound for bound in bounds), method=and_list(told))


def _told(part: Part, bound: Bound) -> str:
    """Return how many a part holds at most, and by which argument where that is fewer than may be there."""
    if bound.upper_bound >= len(part.links):
        return f"all {len(part.links)} that may be {part.name}"
    return f"at most {bound.upper_bound} of these {len(part.links)} {part.name} ({bound.method})"
