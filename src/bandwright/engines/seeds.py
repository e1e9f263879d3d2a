"""Large plans from algebra: a Sidon set on the raster, cut to the band, rid of what breaks a rule, and filled up.

On a raster as coarse as the clearance of `A+B-C` the differences of a Sidon set keep that rule by themselves. Its
images (factors and shifts round the modulus) differ in how often they break `2A-B`, `3A-2B`, spacing and in how many
of their cells are open; those that break least are mended on the count arrays, which know every rule exactly. In wide
bands this places more than moves and ascents do, and sooner.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem
from bandwright.engines.moves import attempt, greedy, load, order_of, thin_out
from bandwright.engines.raster import Layout, new_state
from bandwright.engines.run import Run
from bandwright.engines.sidon import SidonSet, sets_about

__all__ = ["Lattice", "lattice_of", "least_broken", "may_stand", "plant", "stands"]

_FAMILY = "A+B-C"
_LARGE = 40
_SHORTEST, _LONGEST = 0.95, 1.25  # moduli, as multiples of the band: measured best from 1.0 to 1.15
_STARTS = 12
_PLANTED = 6
_WORTH_A_LOOK = 4.0
_MENDED_BY_ONE = 0.5
_MOVES = 5_000
_LOT = 50


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lattice:
    """Cells of `unit_hz` from `low_hz`, which of them are candidates, and the rules in cells.

    Two cells are at least `near` apart; 2a - b and 3a - 2b are at least `two` and `three` from any third cell.
    """

    low_hz: int
    unit_hz: int
    is_open: NDArray[np.bool_]
    near: int
    two: int
    three: int


def may_stand(problem: Problem) -> bool:
    """Whether some context is large enough for this."""
    return max(Counter(context for item in problem.wanted for context in item.contexts).values(), default=0) >= _LARGE


def stands(run: Run, layout: Layout) -> list[NDArray[np.int64]]:
    """Return the members of each context that is large enough for this, and that asks for `A+B-C` mostly."""
    contexts = [
        np.array([m for m, item in enumerate(run.problem.wanted) if context in item.contexts], np.int64)
        for context in range(run.problem.contexts)
    ]
    return [members for members in contexts if len(members) >= _LARGE and lattice_of(layout, members) is not None]


def lattice_of(layout: Layout, members: NDArray[np.int64]) -> Lattice | None:
    """Return the raster for the commonest kind among members; None where it does not ask for `A+B-C`."""
    problem = layout.problem
    seats, counts = np.unique(layout.seat_of[members], return_counts=True)
    main = int(seats[counts.argmax()])
    alike = members[layout.seat_of[members] == main]
    asks = dict(problem.choices[problem.wanted[alike[0]].choice].clearance_hz)
    own = _candidates_hz(layout, main)
    if asks.get(_FAMILY, 0) == 0 or len(own) < len(members) or len(alike) < 2:
        return None
    step_hz = _commonest(np.diff(own))
    unit_hz = -(-asks[_FAMILY] // step_hz) * step_hz
    residue = _commonest(own % unit_hz)
    every = np.unique(np.concatenate([_candidates_hz(layout, seat) for seat in seats.tolist()]))
    every = every[every % unit_hz == residue]
    is_open = np.zeros((every[-1] - every[0]) // unit_hz + 1, np.bool_)
    is_open[(every - every[0]) // unit_hz] = True
    return Lattice(
        low_hz=int(every[0]),
        unit_hz=unit_hz,
        is_open=is_open,
        near=-(-_commonest(problem.near_hz[alike[0], alike[1:]]) // unit_hz),
        two=-(-asks.get("2A-B", 0) // unit_hz),
        three=-(-asks.get("3A-2B", 0) // unit_hz),
    )


def plant(run: Run, layout: Layout, members: NDArray[np.int64], *, first: int, last: int) -> None:
    """Try the images `first` to `last` of the sets that fit the band for `members`, and offer what comes of the best.

    Parameters
    ----------
    run, layout, members
        The search, the cells, and which wanted members to place; others stay where the best set has them.
    first, last
        Which (set, factor) of all, in an order drawn by the seed; each is looked at from several starts.
    """
    lattice = lattice_of(layout, members)
    if lattice is None:
        return
    run.tell("planting algebraic sets")
    found: list[NDArray[np.int64]] = []
    best = -np.inf
    for cells in _images(lattice, seed=run.seed, first=first, last=last):
        run.moves += 1
        likely = _likely(cells, lattice)
        if likely > best - _WORTH_A_LOOK:
            best = max(best, likely)
            found.append(least_broken(cells, lattice))
        if run.over() or (found and len(found[-1]) >= len(members)):
            break
    found.sort(key=len, reverse=True)
    for cells in found[:_PLANTED]:
        _grow(run, layout, members, lattice.low_hz + cells * lattice.unit_hz)
        if run.finished:
            return
    run.pause()


def least_broken(cells: NDArray[np.int64], lattice: Lattice) -> NDArray[np.int64]:
    """Take out cells, always the one that is in most of what is broken, until `2A-B`, `3A-2B` and spacing hold."""
    rows = _broken(cells, lattice)
    keep = np.ones(len(cells), np.bool_)
    while len(rows):
        worst = int(np.bincount(rows.ravel(), minlength=len(cells)).argmax())
        keep[worst] = False
        rows = rows[(rows != worst).all(axis=1)]
    return cells[keep]


def _candidates_hz(layout: Layout, seat: int) -> NDArray[np.int64]:
    carriers: NDArray[np.int64] = layout.carrier_hz[
        layout.rising[layout.rising_start[seat] : layout.rising_start[seat + 1]]
    ]
    return carriers


def _commonest(values: NDArray[np.int64]) -> int:
    kinds, counts = np.unique(values, return_counts=True)
    return int(kinds[counts.argmax()])


def _images(lattice: Lattice, *, seed: int, first: int, last: int) -> Iterator[NDArray[np.int64]]:
    """Yield the open cells of images, from the starts that have most of them."""
    length = len(lattice.is_open)
    pairs = [(s, f) for s in sets_about(length, shortest=_SHORTEST, longest=_LONGEST) for f in s.factors]
    order = np.random.Generator(np.random.PCG64(seed)).permutation(len(pairs))
    for index in order[first:last].tolist():
        sidon, factor = pairs[index]
        yield from _cut(sidon, factor, lattice)


def _cut(sidon: SidonSet, factor: int, lattice: Lattice) -> Iterator[NDArray[np.int64]]:
    """Yield the open cells of an image begun at each of its residues in turn, those with most cells first."""
    image = sidon.image(factor)
    length = len(lattice.is_open)
    padded = np.append(lattice.is_open, np.zeros(max(0, sidon.modulus - length), np.bool_))
    from_start = (image[None, :] - image[:, None]) % sidon.modulus
    held = padded[from_start]
    for start in np.argsort(-held.sum(axis=1), kind="stable")[:_STARTS].tolist():
        yield np.sort(from_start[start][held[start]])


def _likely(cells: NDArray[np.int64], lattice: Lattice) -> float:
    """Return about how many cells will be left: each that goes mends about two broken rules."""
    if len(cells) == 0:
        return 0.0
    length = len(lattice.is_open)
    below = np.zeros(5 * length + 1 + 2 * (lattice.two + lattice.three), np.int64)
    zero = 2 * length + lattice.two + lattice.three
    below[cells + zero + 1] = 1
    below = np.cumsum(below)
    broken = 0.0
    for twice, width, each in ((2, lattice.two, 0.5), (3, lattice.three, 1.0)):
        if width:
            product = twice * cells[:, None] - (twice - 1) * cells[None, :] + zero
            broken += each * (int(np.sum(below[product + width] - below[product - width + 1])) - len(cells))
    return len(cells) - _MENDED_BY_ONE * broken


def _broken(cells: NDArray[np.int64], lattice: Lattice) -> NDArray[np.int64]:
    """Return rows of three indices (one twice for spacing) of cells that break something together."""
    count, length = len(cells), len(lattice.is_open)
    at = np.full(5 * length + 2 * (lattice.two + lattice.three) + 1, -1, np.int64)
    zero = 2 * length + lattice.two + lattice.three
    at[cells + zero] = np.arange(count)
    a, b = np.nonzero(~np.eye(count, dtype=np.bool_))
    rows = []
    for twice, width in ((2, lattice.two), (3, lattice.three)):
        product = twice * cells[a] - (twice - 1) * cells[b] + zero
        for off in range(1 - width, width):
            hit = at[product + off]
            rows.append(np.stack([a, b, hit], axis=1)[(hit >= 0) & (hit != a) & (hit != b)])
    close = (cells[b] > cells[a]) & (cells[b] - cells[a] < lattice.near)
    rows.append(np.stack([a, a, b], axis=1)[close])
    return np.unique(np.sort(np.concatenate(rows), axis=1), axis=0)


def _grow(run: Run, layout: Layout, members: NDArray[np.int64], carriers_hz: NDArray[np.int64]) -> None:
    """Put members on the carriers, take out what breaks something, fill up; then mend by moves if few are missing."""
    start = run.best.copy()
    start[members] = -1
    for m, hz in _by_kind(run, layout, members, carriers_hz):
        start[m] = hz
    state = new_state(layout, seed=run.seed)
    load(state, start)
    thin_out(run, state)
    everyone = np.arange(run.wanted, dtype=np.int64)
    greedy(state, order_of(run, layout, everyone), leftmost=False, only_clean=True)
    run.offer_state(state)
    here = state.carriers_hz()
    missing = int(np.sum(here[members] < 0))
    if not run.complete and 0 < missing <= max(2, len(members) // 8):
        attempt(run, layout, everyone, lot=_LOT, moves=_MOVES, start=here)


def _by_kind(
    run: Run, layout: Layout, members: NDArray[np.int64], carriers_hz: NDArray[np.int64]
) -> Iterator[tuple[int, int]]:
    """Yield (member, carrier): important members first, then kinds that can use few of the carriers."""
    can_use = {
        seat: np.intersect1d(carriers_hz, _candidates_hz(layout, seat))
        for seat in np.unique(layout.seat_of[members]).tolist()
    }
    room = np.array([len(can_use[seat]) for seat in layout.seat_of[members].tolist()], np.int64)
    taken: set[int] = set()
    for m in members[np.lexsort((members, room, -run.priority[members]))].tolist():
        own = next((hz for hz in can_use[int(layout.seat_of[m])].tolist() if hz not in taken), None)
        if own is not None:
            taken.add(own)
            yield m, own
