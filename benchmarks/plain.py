"""The check of a plan as anybody would write it first: every product of every set of transmitters, in plain Python."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

__all__ = ["plain_hits"]


def plain_hits(
    f: Sequence[int], rules: Iterable[tuple[str, int]], spacing: int, *, victims: Iterable[int]
) -> list[tuple[str, int]]:
    """Return (rule, victim) for everything that breaks one of the three rules or the spacing at these victims."""
    clearance = dict(rules)
    two, three, fifth = clearance["2A-B"], clearance["A+B-C"], clearance["3A-2B"]
    found = []
    everyone = range(len(f))
    for v in victims:
        here = f[v]
        for a in everyone:
            if a != v and abs(f[a] - here) < spacing:
                found.append(("spacing", v))
            for b in everyone:
                if a == b:
                    continue
                if a != v and abs(2 * f[a] - f[b] - here) < two:
                    found.append(("2A-B", v))
                if abs(3 * f[a] - 2 * f[b] - here) < fifth:
                    found.append(("3A-2B", v))
                if a < b and v not in (a, b):
                    third = f[a] + f[b] - here
                    found += [("A+B-C", v) for c in everyone if c not in (a, b) and abs(third - f[c]) < three]
    return found
