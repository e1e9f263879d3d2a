"""How relations of four members are cut in two, and what that leaves to be counted in relations of three.

A relation of four: two members (the pair) meet in an array, the third (the reader) shifts that array when the fourth
(the new one) looks. A reader that is also one of the pair adds something that is no relation of four. If it is one of
three (the victim makes the product, or a family with fewer letters asks as much) it stays and is made whole, so that
it counts the same whichever member looks; otherwise it is taken off again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache

from bandwright.core.products import FAMILIES, Relation, family_named, relations

__all__ = ["Cut", "Family", "Part", "Three", "alike", "cuts", "worked_family"]

_WEIGHT = 2  # what a broken relation counts

# A place in a relation: its coefficient, whether it is the victim, whether it must send.
Part = tuple[int, bool, bool]


@dataclass(frozen=True, slots=True)
class Cut:
    """One way to look at a relation of four: the new one, the reader, the pair, what it counts."""

    new: int
    reader: int
    pair: tuple[int, int]
    alike: bool  # the pair's two places are interchangeable
    weight: int


@dataclass(frozen=True, slots=True)
class Three:
    """A relation of three places; `weights` is what is still to be counted when place 0, 1 or 2 is the new one."""

    family: str
    parts: tuple[Part, Part, Part]
    weights: tuple[int, int, int]
    like: str | None = None  # a family with fewer letters that makes it a relation where it asks as much
    whole: tuple[int, int, int] = (0, 0, 0)  # the weights in that case


def _parts(relation: Relation) -> tuple[Part, ...]:
    return tuple(
        (c, place == relation.victim, place != relation.victim or relation.victim_generates)
        for place, c in enumerate(relation.coefficients)
    )


def alike(one: Part, two: Part) -> bool:
    """Whether two places of a relation are interchangeable."""
    return one == two and not one[1]


def _reader_of(parts: tuple[Part, ...], new: int) -> int:
    """Return the place that reads: with the opposite coefficient, else three times that, else the victim."""
    places = sorted((p for p in range(4) if p != new), key=lambda p: parts[p][1])
    for times in (-1, -3):
        for p in places:
            if parts[p][0] == times * parts[new][0]:
                return p
    return places[-1]


@cache
def cuts(parts: tuple[Part, ...]) -> tuple[Cut, ...]:
    """Return one way to look at a relation of four from each of its places that is not like another."""
    return tuple(_cuts(parts))


def _cuts(parts: tuple[Part, ...]) -> Iterator[Cut]:
    for new in range(4):
        if any(alike(parts[new], parts[p]) for p in range(new)):
            continue
        reader = _reader_of(parts, new)
        one, two = (p for p in range(4) if p not in (new, reader))
        twice = any(alike(parts[reader], parts[p]) for p in (one, two))
        yield Cut(new, reader, (one, two), alike(parts[one], parts[two]), _WEIGHT // 2 if twice else _WEIGHT)


@dataclass(frozen=True, slots=True)
class Family:
    """A family's relations of four, and what is to be counted in threes: `near` only matters to very close members."""

    fours: tuple[tuple[Part, ...], ...]
    threes: tuple[Three, ...]
    near: tuple[Three, ...]


@cache
def worked_family(family: str) -> Family:
    """Return what a family asks to be counted."""
    every = relations(family_named(family))
    fours = tuple(_parts(r) for r in every if len(r.coefficients) == 4)
    threes = {_shape(_parts(r)): _parts(r) for r in every if len(r.coefficients) == 3}
    full: list[Three] = []
    near: list[Three] = []
    for four in fours:
        for shape, seen in _seen(four).items():
            weights = (seen.get(shape[0], 0), seen.get(shape[1], 0), seen.get(shape[2], 0))
            most = max(weights)
            rest = (most - weights[0], most - weights[1], most - weights[2])
            off = (-weights[0], -weights[1], -weights[2])
            if any(part[0] == 0 for part in shape):
                near.append(Three(family, shape, off))
            elif shape in threes:
                del threes[shape]
                full.append(Three(family, shape, rest))
            else:
                full.append(Three(family, shape, off, _lesser(shape), rest))
    full.extend(Three(family, shape, (_WEIGHT, _WEIGHT, _WEIGHT)) for shape in threes)
    return Family(fours, tuple(full), tuple(near))


def _shape(parts: Iterable[Part]) -> tuple[Part, Part, Part]:
    one, two, three = sorted(parts)
    return one, two, three


def _seen(four: tuple[Part, ...]) -> dict[tuple[Part, Part, Part], dict[Part, int]]:
    """Return what the shifted arrays count where the reader is one of the pair: by relation of three and new place."""
    found: dict[tuple[Part, Part, Part], dict[Part, int]] = defaultdict(lambda: defaultdict(int))
    for cut in cuts(four):
        one, two = cut.pair
        for same, other in ((one, two),) if cut.alike else ((one, two), (two, one)):
            a, b = four[cut.reader], four[same]
            merged = (a[0] + b[0], a[1] or b[1], True)
            shape = _shape((four[cut.new], merged, four[other]))
            doubled = 2 if alike(merged, four[other]) else 1
            found[shape][four[cut.new]] += cut.weight * doubled
    return found


def _lesser(shape: tuple[Part, Part, Part]) -> str | None:
    """Return the family of which this is a relation, if there is one."""
    for name, family in FAMILIES.items():
        if any(_shape(_parts(r)) == shape for r in relations(family) if len(r.coefficients) == 3):
            return name
    return None
