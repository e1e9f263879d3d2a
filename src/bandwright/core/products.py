"""Intermodulation families as coefficient vectors, and the relations they set between carriers.

A family is written as the literature does: `2A-B` is the vector (2, -1) over distinct transmitters. Its product is a
problem at a receiver V when it falls closer to V's carrier than V's clearance for that family. V may itself be one of
the transmitters; then the relation only involves the generators. Where V's own coefficient is +1 the relation no
longer contains V's carrier (`A+B-C` at A is B-C): that is carrier spacing under another name and is left to it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["FAMILIES", "Family", "Relation", "family_named", "relations"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """One IM family: its name, the coefficients of A, B, C, ..., and its order (the sum of their magnitudes)."""

    name: str
    coefficients: tuple[int, ...]

    @property
    def order(self) -> int:
        """Order of the product."""
        return sum(abs(c) for c in self.coefficients)

    @property
    def level_db(self) -> float:
        """Level above the two-signal product of the same order with equal tones, dB.

        The amplitude of a product is order! / prod(k!) / 2^(order-1) in units of the order's own coefficient
        (power series of a memoryless nonlinearity), so `A+B-C` is 6.02 dB above `2A-B` and `3A-B-C` 6.02 dB above
        `3A-2B`.
        """
        return 20 * math.log10(self._weight / _two_signal_weight(self.order))

    @property
    def _weight(self) -> float:
        return math.factorial(self.order) / math.prod(math.factorial(abs(c)) for c in self.coefficients)

    def product_hz(self, carriers_hz: tuple[int, ...]) -> int:
        """Return the product of these generators, in the order of the letters."""
        return sum(c * f for c, f in zip(self.coefficients, carriers_hz, strict=True))

    def words(self, names: Sequence[str]) -> str:
        """Return the product as arithmetic with the names of its generators, in the order of the letters.

        >>> family_named("2A-B").words(["L05", "L03"]), family_named("A+B-C").words(["L05", "heron-spare-2", "L03"])
        ('2 x L05 - L03', 'L05 + heron-spare-2 - L03')
        """
        terms = [
            f"{'-' if c < 0 else '+'} {name if abs(c) == 1 else f'{abs(c)} x {name}'}"
            for c, name in zip(self.coefficients, names, strict=True)
        ]
        return " ".join(terms).removeprefix("+ ")


def _two_signal_weight(order: int) -> float:
    high = (order + 1) // 2
    return math.factorial(order) / (math.factorial(high) * math.factorial(order - high))


FAMILIES: dict[str, Family] = {
    family.name: family
    for family in (
        Family(name="2A-B", coefficients=(2, -1)),
        Family(name="A+B-C", coefficients=(1, 1, -1)),
        Family(name="3A-2B", coefficients=(3, -2)),
        Family(name="2A+B-2C", coefficients=(2, 1, -2)),
        Family(name="3A-B-C", coefficients=(3, -1, -1)),
        Family(name="4A-3B", coefficients=(4, -3)),
    )
}


def family_named(name: str) -> Family:
    """Return the family; raises KeyError that lists the known ones."""
    try:
        return FAMILIES[name]
    except KeyError:
        raise KeyError(f"unknown IM family {name!r}; known: {', '.join(FAMILIES)}") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Relation:
    """One way in which a family's product can meet a victim: |sum c f| must be at least the victim's clearance.

    `coefficients` runs over distinct carriers; `victim` is the position of the victim among them. The first
    `generators` positions are the family's letters in order; where the victim is not a generator it comes last.
    """

    family: Family
    coefficients: tuple[int, ...]
    victim: int

    @property
    def victim_generates(self) -> bool:
        """Whether the victim is one of the generators."""
        return len(self.coefficients) == len(self.family.coefficients)


def relations(family: Family) -> tuple[Relation, ...]:
    """Return every relation of a family: the victim outside, and the victim at each letter it does not trivially meet.

    Letters of equal coefficient are interchangeable, so only the first of them is taken as the victim.

    >>> [(r.coefficients, r.victim) for r in relations(FAMILIES["A+B-C"])]
    [((1, 1, -1, -1), 3), ((1, 1, -2), 2)]
    """
    found = [Relation(family=family, coefficients=(*family.coefficients, -1), victim=len(family.coefficients))]
    seen: set[int] = set()
    for position, coefficient in enumerate(family.coefficients):
        if coefficient == 1 or coefficient in seen:
            continue
        seen.add(coefficient)
        own = list(family.coefficients)
        own[position] -= 1
        found.append(Relation(family=family, coefficients=tuple(own), victim=position))
    return tuple(found)
