"""Which of several clean sets of carriers is liked best, beside what was there before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import AVOID, Choice, Problem
from bandwright.core.planning.verify import examine, nearest

__all__ = ["Taste", "best_of", "kept_spares"]

# Sets of which the slack is found out, at most: this many, and fewer where there are many members.
_LOOKED_AT = 24
_LOOKED_AT_MEMBERS = 720


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taste:
    """Where everybody was before, and which of the wanted members are spare carriers."""

    problem: Problem
    before: NDArray[np.int64]
    spare: NDArray[np.bool_]

    @property
    def liked_hz(self) -> Mapping[str, frozenset[int]]:
        """The spare carriers of the plan before, by the name of their choice: they were clean beside everything."""
        found: dict[str, set[int]] = {}
        for m in np.flatnonzero(self.spare & (self.before >= 0)).tolist():
            found.setdefault(self.choice_of(m).name, set()).add(int(self.before[m]))
        return {name: frozenset(carriers) for name, carriers in found.items()}

    def choice_of(self, member: int) -> Choice:
        """Return the choice of a wanted member."""
        return self.problem.choices[self.problem.wanted[member].choice]


def best_of(taste: Taste, solutions: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the best of some clean sets.

    In order: fewest that go to carriers to be avoided, most on spare carriers of their own kind, most spare carriers
    left, the quietest, the largest smallest slack, the lowest.
    """
    avoided, liked, wishes = _counted(taste, solutions)
    order = np.lexsort((wishes, -liked, avoided))
    alike = (avoided == avoided[order[0]]) & (liked == liked[order[0]])
    few = [int(i) for i in order.tolist() if alike[i]][: _most_looked_at(taste)]
    if len(few) > 1:
        few.sort(key=lambda i: (*_fine(taste, solutions[i], int(wishes[i])), *solutions[i].tolist()))
    best: NDArray[np.int64] = solutions[few[0]]
    return best


def _most_looked_at(taste: Taste) -> int:
    return min(_LOOKED_AT, max(2, _LOOKED_AT_MEMBERS // len(taste.before)))


def _counted(
    taste: Taste, solutions: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return for each set how many change to carriers to be avoided and to liked ones, and their wishes added up."""
    avoided, liked, wishes = (np.zeros(len(solutions), np.int64) for _ in range(3))
    spares = {name: np.array(sorted(carriers), np.int64) for name, carriers in taste.liked_hz.items()}
    changes = (solutions >= 0) & (solutions != taste.before)
    for m in np.flatnonzero(changes.any(axis=0)).tolist():
        choice = taste.choice_of(m)
        changed = changes[:, m]
        carriers = solutions[changed, m]
        wish = choice.wish[np.searchsorted(choice.carriers_hz, carriers)]
        avoided[changed] += wish >= AVOID
        liked[changed] += np.isin(carriers, spares.get(choice.name, ()))
        wishes[changed] += wish
    return avoided, liked, wishes


def _fine(taste: Taste, carriers: NDArray[np.int64], wishes: int) -> tuple[int, int, int]:
    kept = kept_spares(taste, carriers)
    changed = set(np.flatnonzero((carriers >= 0) & (carriers != taste.before)).tolist())
    slack = [
        item.offset_hz - item.required_hz
        for item in nearest(taste.problem, carriers).values()
        if item.victim in changed or changed & set(item.members)
    ]
    return -int(np.sum(kept[taste.spare] >= 0)), wishes, -min(slack, default=0)


def kept_spares(taste: Taste, carriers: NDArray[np.int64], *, stuck: Sequence[int] = ()) -> NDArray[np.int64]:
    """Return the carriers with each spare carrier of before that is still open and clean beside them.

    `stuck` links break rules already; nothing that breaks beside them alone counts.
    """
    kept = carriers.copy()
    broken = examine(taste.problem, kept, listed=1).total if stuck else 0
    for m in np.flatnonzero(taste.spare & (taste.before >= 0) & (carriers < 0)).tolist():
        hz = int(taste.before[m])
        if hz not in taste.choice_of(m).carriers_hz:
            continue
        kept[m] = hz
        if examine(taste.problem, kept, listed=1).total > broken:
            kept[m] = -1
    return kept
