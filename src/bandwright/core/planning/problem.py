"""A separation problem in whole Hz: carriers to be found, carriers that are given, and what must lie between them.

It is written for radio links but holds no more than numbers, so that any frequency-assignment problem fits: spacing
between pairs, products of IM families at victims, and contexts (sets of members that hear each other at one time).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from bandwright.core.products import family_named

__all__ = ["AVOID", "Choice", "Fixed", "Problem", "Sends", "Wanted"]

# From this wish value on a carrier is used only when nothing else is left (not measured, for instance).
AVOID = 1_000


class Sends(IntEnum):
    """Whether a carrier takes part in intermodulation products."""

    NOT = 0
    WITH_OURS = 1
    FULLY = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """The carriers that a class of interchangeable links may use, rising, in Hz.

    `wish` (same length) is 0 for the best carriers and grows as they get worse; from `AVOID` on they are used last.
    `clearance_hz` pairs IM families with the offset that a receiver of this class asks of their products, at least 1.
    """

    name: str
    carriers_hz: NDArray[np.int64]
    wish: NDArray[np.int64]
    clearance_hz: tuple[tuple[str, int], ...]

    def __post_init__(self) -> None:
        if self.carriers_hz.shape != self.wish.shape or self.carriers_hz.ndim != 1:
            raise ValueError(f"choice {self.name}: carriers and wishes are two lists of one length")
        if np.any(np.diff(self.carriers_hz) <= 0):
            raise ValueError(f"choice {self.name}: carriers rise, each listed once")
        _check_clearances(self.name, self.clearance_hz)

    @classmethod
    def of(
        cls,
        carriers_hz: Iterable[int],
        *,
        name: str = "any",
        wish: Mapping[int, int] | None = None,
        clearance_hz: Mapping[str, int] | None = None,
    ) -> Choice:
        """Return a choice from plain Python values.

        Parameters
        ----------
        carriers_hz
            Whole Hz in any order; each counts once.
        name
            What it is called in messages.
        wish
            How unwelcome a carrier is; those left out are 0, the best.
        clearance_hz
            The offset asked of products, by IM family; a family left out is off.

        Examples
        --------
        >>> choice = Choice.of([606_725_000, 606_700_000], wish={606_725_000: AVOID}, clearance_hz={"2A-B": 100_000})
        >>> choice.carriers_hz.tolist(), choice.wish.tolist()
        ([606700000, 606725000], [0, 1000])
        """
        rising = sorted(set(carriers_hz))
        wishes = wish or {}
        return cls(
            name=name,
            carriers_hz=np.array(rising, np.int64),
            wish=np.array([wishes.get(hz, 0) for hz in rising], np.int64),
            clearance_hz=tuple((clearance_hz or {}).items()),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One carrier to be found; `choice` is an index into `Problem.choices`. Higher `priority` is placed first."""

    id: str
    choice: int
    priority: int = 0
    contexts: tuple[int, ...] = (0,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """A given carrier. It is a victim only where it asks for clearances."""

    id: str
    carrier_hz: int
    sends: Sends = Sends.FULLY
    clearance_hz: tuple[tuple[str, int], ...] = ()
    contexts: tuple[int, ...] = (0,)

    def __post_init__(self) -> None:
        _check_clearances(self.id, self.clearance_hz)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """Carriers to find (`wanted`) beside given ones (`fixed`).

    Members are numbered wanted first, then fixed. `near_hz[i, j]` is the least offset of two members (0 = none),
    `far_hz[i, j]` the largest (0 = none); both are symmetric. Contexts are numbered from 0 to `contexts` - 1.
    """

    choices: tuple[Choice, ...]
    wanted: tuple[Wanted, ...]
    near_hz: NDArray[np.int64]
    fixed: tuple[Fixed, ...] = ()
    far_hz: NDArray[np.int64] = field(default_factory=lambda: np.zeros((0, 0), np.int64))
    contexts: int = 1

    def __post_init__(self) -> None:
        size = self.size
        if self.far_hz.shape == (0, 0):
            object.__setattr__(self, "far_hz", np.zeros((size, size), np.int64))
        for name, matrix in (("near_hz", self.near_hz), ("far_hz", self.far_hz)):
            if matrix.shape != (size, size) or not np.array_equal(matrix, matrix.T):
                raise ValueError(f"{name} is a symmetric matrix over all {size} members; given shape {matrix.shape}")
        for item in self.members:
            if any(not 0 <= context < self.contexts for context in item.contexts):
                raise ValueError(f"{item.id}: contexts run from 0 to {self.contexts - 1}; given {item.contexts}")
        for item in self.wanted:
            if not 0 <= item.choice < len(self.choices):
                raise ValueError(f"{item.id}: there is no choice {item.choice}; {len(self.choices)} are given")

    @classmethod
    def alike(
        cls,
        count: int,
        carriers_hz: Iterable[int],
        *,
        spacing_hz: int,
        clearance_hz: Mapping[str, int] | None = None,
        fixed: Sequence[Fixed] = (),
    ) -> Problem:
        """Return the problem of `count` carriers of one kind: "1", "2", and so on.

        Parameters
        ----------
        count
            How many are wanted.
        carriers_hz
            What each may use, in whole Hz.
        spacing_hz
            What any two keep apart, given carriers included.
        clearance_hz
            The offset asked of products, by IM family; a family left out is off.
        fixed
            Carriers that are given.

        Examples
        --------
        >>> problem = Problem.alike(3, range(0, 2_000_001, 25_000), spacing_hz=350_000, clearance_hz={"2A-B": 100_000})
        >>> problem.ids, int(problem.near_hz[0, 2])
        (('1', '2', '3'), 350000)
        """
        return cls.apart(
            {str(number): 0 for number in range(1, count + 1)},
            [Choice.of(carriers_hz, clearance_hz=clearance_hz)],
            apart_hz=spacing_hz,
            fixed=fixed,
        )

    @classmethod
    def apart(
        cls,
        choice_of: Mapping[str, int],
        choices: Sequence[Choice],
        *,
        apart_hz: int | Mapping[tuple[str, str], int],
        fixed: Sequence[Fixed] = (),
    ) -> Problem:
        """Return the problem of named members that all hear each other.

        Parameters
        ----------
        choice_of
            For each wanted member its id and which of `choices` it takes from.
        choices
            What may be used.
        apart_hz
            What two members keep apart, as one number for all pairs or by ids; a pair left out asks for nothing.
            A pair may be stated in either order, and the ids of given carriers count too.
        fixed
            Carriers that are given.

        Raises
        ------
        ValueError
            When a pair names an id that is no member, or an offset below 0.

        Examples
        --------
        >>> either = Choice.of([100, 110, 120])
        >>> problem = Problem.apart({"a": 0, "b": 0, "c": 0}, [either], apart_hz={("a", "b"): 20, ("c", "b"): 5})
        >>> problem.near_hz.tolist()
        [[0, 20, 0], [20, 0, 5], [0, 5, 0]]
        """
        ids = [*choice_of, *(item.id for item in fixed)]
        return cls(
            choices=tuple(choices),
            wanted=tuple(Wanted(id=name, choice=choice) for name, choice in choice_of.items()),
            fixed=tuple(fixed),
            near_hz=_pairs(ids, apart_hz),
        )

    def named(self, carriers_hz: Sequence[int]) -> dict[str, int]:
        """Return the carriers of the wanted members by id, in Hz; those not placed (below 0) are left out."""
        return {item.id: int(hz) for item, hz in zip(self.wanted, carriers_hz, strict=True) if hz >= 0}

    @property
    def members(self) -> tuple[Wanted | Fixed, ...]:
        """All members, wanted first."""
        return (*self.wanted, *self.fixed)

    @property
    def size(self) -> int:
        """Number of members, wanted and fixed."""
        return len(self.wanted) + len(self.fixed)

    @property
    def ids(self) -> tuple[str, ...]:
        """Ids of all members, wanted first."""
        return tuple(item.id for item in self.members)

    def clearance_of(self, member: int) -> tuple[tuple[str, int], ...]:
        """Return the clearances that a member asks for as a victim."""
        if member < len(self.wanted):
            return self.choices[self.wanted[member].choice].clearance_hz
        return self.fixed[member - len(self.wanted)].clearance_hz

    def contexts_of(self, member: int) -> tuple[int, ...]:
        """Return the contexts a member is in."""
        if member < len(self.wanted):
            return self.wanted[member].contexts
        return self.fixed[member - len(self.wanted)].contexts

    def bound_alike(self, one: int, two: int, beside: NDArray[np.int64] | None = None) -> bool:
        """Whether the same offsets bind two members beside others: everybody else, or those listed in `beside`.

        Members that are bound alike by pairs keep one offset among themselves, however many they are.
        """
        differ = (self.near_hz[one] != self.near_hz[two]) | (self.far_hz[one] != self.far_hz[two])
        differ[[one, two]] = False
        return not bool((differ if beside is None else differ[beside]).any())

    def families(self) -> tuple[str, ...]:
        """Return the IM families that any victim asks about, in their standing order."""
        in_use = {item.choice for item in self.wanted}
        lists = [*(self.choices[index].clearance_hz for index in in_use), *(item.clearance_hz for item in self.fixed)]
        return tuple(sorted({family for clearances in lists for family, _ in clearances}, key=_standing))


def _pairs(ids: Sequence[str], apart_hz: int | Mapping[tuple[str, str], int]) -> NDArray[np.int64]:
    """Return the matrix of least offsets."""
    near = np.zeros((len(ids), len(ids)), np.int64)
    asked = apart_hz if isinstance(apart_hz, Mapping) else dict.fromkeys(itertools.combinations(ids, 2), apart_hz)
    place = {name: index for index, name in enumerate(ids)}
    for pair, hz in asked.items():
        unknown = [name for name in pair if name not in place]
        if unknown or hz < 0 or pair[0] == pair[1]:
            raise ValueError(f"what members keep apart names two of {', '.join(ids)} and 0 Hz or more: {pair}, {hz}")
        one, two = place[pair[0]], place[pair[1]]
        near[one, two] = near[two, one] = hz
    return near


def _standing(name: str) -> tuple[int, int, str]:
    family = family_named(name)
    return family.order, len(family.coefficients), name


def _check_clearances(name: str, clearances: tuple[tuple[str, int], ...]) -> None:
    for family, clearance_hz in clearances:
        family_named(family)
        if clearance_hz < 1:
            raise ValueError(
                f"{name}: a clearance is at least 1 Hz (not coincident); given {clearance_hz} for {family}"
            )
