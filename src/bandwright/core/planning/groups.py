"""A problem as classes of interchangeable members, with its rules as the arrays that `kernels.exact` works on.

Two members are interchangeable when they choose from the same candidates, are in the same contexts and ask the same of
every other member: then nothing depends on which of them has which carrier.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem, Sends
from bandwright.core.products import Relation, family_named, relations
from bandwright.kernels import exact

__all__ = ["Groups", "group_members", "open_carriers"]

_WORD = 63  # contexts in one int64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Groups:
    """Some wanted members of a problem in classes.

    `classes[c]` lists the members (indices into `Problem.wanted`) of class c, rising. `rules` holds, by the names of
    `kernels.exact`, what lies between kinds: the classes, then the given carriers.
    """

    problem: Problem
    classes: tuple[tuple[int, ...], ...]
    by_priority: bool
    rules: dict[str, NDArray[np.int64]]

    def apart_hz(self) -> NDArray[np.int64]:
        """Return the least distance in Hz that members of two classes keep, 0 = none.

        What products of two carriers ask is spacing under another name and is in it. A class of one keeps no distance
        to itself.
        """
        count = len(self.classes)
        apart = self.rules["near"][:count, :count].copy()
        clear, meets = self.rules["clear"][:count], self.share_context()
        for factor, family in self.rules["pair"].tolist():
            asked = -(-np.maximum(clear[:, None, family], clear[None, :, family]) // factor)
            apart = np.maximum(apart, np.where(meets, asked, 0))
        single = [c for c, inside in enumerate(self.classes) if len(inside) == 1]
        apart[single, single] = 0
        return apart

    def share_context(self) -> NDArray[np.bool_]:
        """Return whether two classes have a context in common, shape (classes, classes)."""
        mask = self.rules["mask"][: len(self.classes)]
        return np.asarray((mask[:, None, :] & mask[None, :, :]).any(axis=2))


def group_members(problem: Problem, members: Sequence[int], *, by_priority: bool = False) -> Groups:
    """Sort wanted members into classes; with `by_priority` a class holds one priority only."""
    classes = _classes(problem, sorted(set(members)), by_priority)
    kinds = [*(c[0] for c in classes), *range(len(problem.wanted), problem.size)]
    near, far = problem.near_hz[np.ix_(kinds, kinds)].copy(), problem.far_hz[np.ix_(kinds, kinds)].copy()
    for c, inside in enumerate(classes):
        near[c, c] = problem.near_hz[inside[0], inside[-1]] if len(inside) > 1 else 0
        far[c, c] = problem.far_hz[inside[0], inside[-1]] if len(inside) > 1 else 0
    families = problem.families()
    clear = np.zeros((len(kinds), max(1, len(families))), np.int64)
    for kind, member in enumerate(kinds):
        for family, clearance_hz in problem.clearance_of(member):
            if family in families:
                clear[kind, families.index(family)] = clearance_hz
    sends = [Sends.FULLY] * len(classes) + [item.sends for item in problem.fixed]
    return Groups(
        problem=problem,
        classes=classes,
        by_priority=by_priority,
        rules={
            "near": near,
            "far": far,
            "mask": _context_bits(problem, kinds),
            "sends": np.array(sends, np.int64),
            "clear": clear,
            **_rows(families),
        },
    )


def _classes(problem: Problem, members: list[int], by_priority: bool) -> tuple[tuple[int, ...], ...]:
    found: list[list[int]] = []
    alike: dict[tuple[object, ...], list[int]] = {}
    seen = np.array([*members, *range(len(problem.wanted), problem.size)], np.int64)
    for member in members:
        item = problem.wanted[member]
        known = alike.setdefault((item.choice, item.contexts, item.priority if by_priority else 0), [])
        for c in known:
            if problem.bound_alike(found[c][0], member, seen):
                found[c].append(member)
                break
        else:
            known.append(len(found))
            found.append([member])
    return tuple(tuple(inside) for inside in found)


def _context_bits(problem: Problem, kinds: list[int]) -> NDArray[np.int64]:
    bits = np.zeros((len(kinds), 1 + problem.contexts // _WORD), np.int64)
    for kind, member in enumerate(kinds):
        for context in problem.contexts_of(member):
            bits[kind, context // _WORD] |= 1 << (context % _WORD)
    return bits


def _rows(families: Sequence[str]) -> dict[str, NDArray[np.int64]]:
    """Return the relations between two, three and four carriers, told from the side of the one that comes new."""
    pair: list[tuple[int, int]] = []
    rows: dict[int, dict[tuple[int, ...], set[tuple[int, int, int]]]] = {3: {}, 4: {}}
    for index, name in enumerate(families):
        for relation in relations(family_named(name)):
            parts = len(relation.coefficients)
            if parts == 2:
                pair.append((abs(relation.coefficients[0]), index))
                continue
            for coefficients, victim in _turned(relation):
                entry = (victim, index, int(relation.victim_generates))
                rows[parts].setdefault(coefficients, set()).add(entry)
    result = {"pair": np.array(pair, np.int64).reshape(-1, 2)}
    for parts, name in ((3, "three"), (4, "four")):
        table = sorted(rows[parts].items())
        who = [(row, *entry) for row, (_, entries) in enumerate(table) for entry in sorted(entries)]
        result[name] = np.array([c for c, _ in table], np.int64).reshape(-1, parts)
        result[f"{name}_who"] = np.array(who, np.int64).reshape(-1, 4)
        result[f"{name}_from"] = np.cumsum([0, *(len(entries) for _, entries in table)]).astype(np.int64)
    return result


def _turned(relation: Relation) -> list[tuple[tuple[int, ...], int]]:
    """Return (coefficients, victim) for every way to give the places of a relation to new, x, j (and k)."""
    c = relation.coefficients
    found = []
    for place in itertools.permutations(range(len(c))):  # member n takes position place[n]
        turned = tuple(c[p] for p in place)
        victim = place.index(relation.victim)
        sign = 1 if turned[0] > 0 else -1
        found.append((tuple(sign * k for k in turned), victim))
    return found


def open_carriers(groups: Groups, *, most_pairs: int | None = None) -> tuple[NDArray[np.int64], ...]:
    """Return, for each class, the candidates that the given carriers alone leave open, rising in Hz.

    Above `most_pairs` pairs of given carriers their products with one another are not looked at: more may then stay
    open than really is.
    """
    problem, rules = groups.problem, dict(groups.rules)
    fixed = len(problem.fixed)
    if most_pairs is not None and fixed * (fixed - 1) // 2 > most_pairs:
        for name in ("three", "four"):
            rules[name] = rules[name][:0]
    lists = [problem.choices[problem.wanted[inside[0]].choice].carriers_hz for inside in groups.classes]
    first = np.cumsum([0, *(len(carriers) for carriers in lists)]).astype(np.int64)
    hz = np.concatenate([*lists, np.zeros(0, np.int64)])
    open_ = np.ones(len(hz), np.uint8)
    exact.close_by_given(
        held=np.arange(len(groups.classes), len(groups.classes) + fixed, dtype=np.int64),
        held_hz=np.array([item.carrier_hz for item in problem.fixed], np.int64),
        lacking=np.array([len(inside) for inside in groups.classes], np.int64),
        hz=hz,
        first=first,
        listed=np.arange(len(hz), dtype=np.int64),
        open_=open_,
        **rules,
    )
    return tuple(
        carriers[open_[low:high] > 0] for carriers, low, high in zip(lists, first[:-1], first[1:], strict=True)
    )
