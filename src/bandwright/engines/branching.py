"""The general exact search over one part of a problem, slice by slice: `kernels.exact` with its arrays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.groups import Groups, open_carriers
from bandwright.kernels import exact

__all__ = ["MixedSearch", "Part", "parts_of"]

_MOST_ENTRIES = 20_000_000  # over all depths: more is not searched
_MOST_WORTH = 1 << 60
_FEW = 8  # classes with no more candidates than this are placed first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """Classes that may meet one another, and nobody else."""

    groups: Groups
    classes: tuple[int, ...]
    open_hz: tuple[NDArray[np.int64], ...]
    members: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        members = sorted(m for c in self.classes for m in self.groups.classes[c])
        object.__setattr__(self, "members", tuple(members))

    @property
    def upper_bound(self) -> int:
        """Members of classes that have a candidate at all."""
        return sum(len(self.groups.classes[c]) for c, hz in zip(self.classes, self.open_hz, strict=True) if len(hz) > 0)


def parts_of(groups: Groups) -> Iterator[Part]:
    """Yield the classes in parts that have nothing to do with one another."""
    count = len(groups.classes)
    meets = _meets(groups)
    open_hz = open_carriers(groups)
    left = list(range(count))
    while left:
        part, fresh = set(), {left[0]}
        while fresh:
            part |= fresh
            fresh = {d for d in left if d not in part and meets[list(part), d].any()}
        left = [c for c in left if c not in part]
        inside = tuple(sorted(part))
        yield Part(groups=groups, classes=inside, open_hz=tuple(open_hz[c] for c in inside))


def _meets(groups: Groups) -> NDArray[np.bool_]:
    """Whether two classes have a rule between them, or share a context in which there are products."""
    count = len(groups.classes)
    apart = (groups.rules["near"][:count, :count] > 0) | (groups.rules["far"][:count, :count] > 0)
    return np.asarray(apart | (groups.share_context() & bool(groups.problem.families())))


class MixedSearch:
    """The kernel's arrays for one part, and what they say. A part that is `too_large` is not searched at all."""

    def __init__(self, part: Part, known_hz: NDArray[np.int64], *, limit: int, all_or_nothing: bool = False) -> None:
        self.part = part
        self.known_hz = known_hz
        groups, classes = part.groups, list(part.classes)
        self.inside = [groups.classes[c] for c in classes]
        self.total = sum(len(inside) for inside in self.inside)
        worth, every = _worths(groups, self.inside)
        alone = [len(hz) <= _FEW for hz in part.open_hz]
        order = _ranked(part.open_hz, alone)
        fixed = len(groups.problem.fixed)
        kinds = [*classes, *range(len(groups.classes), len(groups.classes) + fixed)]
        rules = dict(groups.rules)
        rules["near"], rules["far"] = (rules[name][np.ix_(kinds, kinds)] for name in ("near", "far"))
        rules["mask"], rules["sends"], rules["clear"] = (rules[name][kinds] for name in ("mask", "sends", "clear"))
        entries, depths = len(order), self.total + 1
        self.too_large = entries * depths > _MOST_ENTRIES or every > _MOST_WORTH
        depths = 1 if self.too_large else depths
        already = int(sum(worth[c] for c, m in self._seats() if known_hz[part.members.index(m)] >= 0))
        every = min(every, _MOST_WORTH)
        same = len(set(worth.tolist())) <= 1
        self.unit = int(worth.max(initial=1)) if same else 0
        self.state = np.array([0, 0, every - 1 if all_or_nothing else already, 0, 0], np.int64)
        self.arguments: dict[str, Any] = {
            "enough": min(every, limit * self.unit) if same else every,
            "given": fixed,
            "held": np.array([*range(len(classes), len(classes) + fixed), *[0] * self.total], np.int64),
            "held_hz": np.array([*(f.carrier_hz for f in groups.problem.fixed), *[0] * self.total], np.int64),
            "lacking": np.array([len(inside) for inside in self.inside], np.int64),
            "worth": worth,
            "alone": np.array(alone, np.bool_),
            "together": _together(groups.apart_hz()[np.ix_(classes, classes)], self.inside, alone),
            "hz": np.array([hz for hz, _ in order], np.int64),
            "kind_of": np.array([c for _, c in order], np.int64),
            **_listed(order, len(classes)),
            **rules,
            "open_": np.zeros((depths, entries), np.uint8),
            "ahead": np.zeros((depths, entries), np.int64),
            "cursor": np.zeros(depths, np.int64),
            "value": np.zeros(depths, np.int64),
            "room": np.zeros(len(classes), np.int64),
            "last": np.zeros(len(classes), np.int64),
            "best": np.zeros(depths, np.int64),
            "state": self.state,
        }
        self._open_all()

    def _seats(self) -> Iterator[tuple[int, int]]:
        for c, inside in enumerate(self.inside):
            for member in inside:
                yield c, member

    def _open_all(self) -> None:
        a = self.arguments
        a["open_"][0] = 1
        names = ("lacking", "worth", "alone", "hz", "kind_of", "near", "together", "room", "last")
        exact.count_ahead(0, open_=a["open_"][0], ahead=a["ahead"][0], **{name: a[name] for name in names})
        if self.state[2] >= a["enough"] or a["hz"].size == 0:
            self.state[4] = 1

    def go_on(self, nodes: int) -> bool:
        """Search on; returns whether there is more to do."""
        if not self.finished and not self.too_large and nodes > 0:
            exact.search_on(nodes, **self.arguments)
        return not self.finished and not self.too_large

    @property
    def finished(self) -> bool:
        """Whether nothing is left to search."""
        return bool(self.state[4])

    @property
    def nodes(self) -> int:
        """Nodes so far."""
        return int(self.state[1])

    @property
    def all_placed(self) -> bool:
        """Whether the best set holds every member."""
        return int(self.state[3]) == self.total

    @property
    def upper_bound(self) -> int:
        """How many members any set can hold at most, from what is left to search."""
        if not self.unit or (self.too_large and not self.finished):
            return self.total
        a = self.arguments
        most = int(self.state[2])
        for depth in range(0 if self.finished else int(self.state[0]) + 1):
            rest = slice(int(a["cursor"][depth]), None)
            ahead = a["ahead"][depth, rest][a["open_"][depth, rest] > 0]
            most = max(most, int(a["value"][depth]) + int(ahead.max(initial=0)))
        return most // self.unit

    @property
    def carriers_hz(self) -> NDArray[np.int64]:
        """The best set, one carrier for each member of the part."""
        if int(self.state[3]) == 0:
            return self.known_hz
        a = self.arguments
        carriers = np.full(self.total, -1, np.int64)
        used = [0] * len(self.inside)
        for entry in a["best"][: int(self.state[3])].tolist():
            c = int(a["kind_of"][entry])
            carriers[self.part.members.index(self.inside[c][used[c]])] = a["hz"][entry]
            used[c] += 1
        return carriers


def _worths(groups: Groups, inside: list[tuple[int, ...]]) -> tuple[NDArray[np.int64], int]:
    """Return what a member of each class counts, more than all of lower priority together, and what all count."""
    priority = [groups.problem.wanted[members[0]].priority for members in inside]
    levels = sorted(set(priority)) if groups.by_priority else []
    worth = dict.fromkeys(priority, 1)
    below = 0
    for level in levels:
        worth[level] = below + 1
        below += (below + 1) * sum(len(inside[c]) for c in range(len(inside)) if priority[c] == level)
    every = below if levels else sum(len(members) for members in inside)
    return np.array([min(worth[level], _MOST_WORTH) for level in priority], np.int64), every


def _ranked(open_hz: Sequence[NDArray[np.int64]], alone: list[bool]) -> list[tuple[int, int]]:
    """Return (Hz, class) of all entries: classes with few candidates first, one after another, the others by Hz."""
    few = sorted((c for c in range(len(open_hz)) if alone[c]), key=lambda c: (len(open_hz[c]), c))
    first = [(hz, c) for c in few for hz in open_hz[c].tolist()]
    rest = [(hz, c) for c in range(len(open_hz)) if not alone[c] for hz in open_hz[c].tolist()]
    return first + sorted(rest)


def _listed(order: list[tuple[int, int]], classes: int) -> dict[str, NDArray[np.int64]]:
    lists: list[list[int]] = [[] for _ in range(classes)]
    for entry, (_, c) in enumerate(order):
        lists[c].append(entry)
    return {
        "first": np.cumsum([0, *(len(entries) for entries in lists)]).astype(np.int64),
        "listed": np.array([entry for entries in lists for entry in entries], np.int64),
    }


def _together(apart: NDArray[np.int64], inside: list[tuple[int, ...]], alone: list[bool]) -> int:
    """Return the spacing that any two members of the classes that are merged keep, 0 where some keep none."""
    merged = [c for c in range(len(inside)) if not alone[c]]
    pairs = [int(apart[c, d]) for i, c in enumerate(merged) for d in merged[i:] if c != d or len(inside[c]) > 1]
    return min(pairs, default=0)
