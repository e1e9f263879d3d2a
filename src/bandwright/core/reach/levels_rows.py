"""Every carrier and product that falls into a receiver, as rows: what depends on carriers alone, apart from levels."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.levels import (
    WAYS,
    Found,
    LevelModel,
    Product,
    add_fifth,
    lie_of,
    mw,
    product_of,
)
from bandwright.core.reach.levels_fronts import ceilings, fifth_ceilings, fifth_scale, front_factors
from bandwright.kernels import levels as kernel

__all__ = ["Rows", "Weights", "level_dbm_of", "pairs_of", "rows_of", "values_in_pictures", "weakened"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_Who: TypeAlias = tuple[Ints, Ints, Ints, Ints]

_MOST_DB = 300.0  # keeps what may be typed finite


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weights:
    """All of rows that does not depend on levels; with them (in mW) it gives the power that falls into a receiver.

    `power` is by what the product of its carriers is scaled; `ceiling` (rows, 3) what each of three carriers leaves at
    most, where a product is made in a receiver.
    """

    power: Floats
    ceiling: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Every product that falls into a receiver, one a row, by members.

    `how` is one of the constants of `kernels.levels`, `three` who makes it; `value_mw` is the power that falls into the
    receiver in the model that it was listed for.
    """

    model: LevelModel
    carriers_hz: Ints
    victim: Ints
    how: Ints
    three: Ints
    weights: Weights
    value_mw: Floats

    def __len__(self) -> int:
        return len(self.victim)

    def product(self, row: int) -> Product:
        """Return one row in words."""
        return product_of(
            int(self.how[row]),
            self.three[row].tolist(),
            carriers_hz=self.carriers_hz,
            victim=int(self.victim[row]),
            power_mw=float(self.value_mw[row]),
        )


def rows_of(model: LevelModel, carriers_hz: Sequence[int] | Ints) -> Rows:
    """Return every carrier and product that falls into a victim's receiver, fifth order included where it is known."""
    hz = np.asarray(carriers_hz, np.int64)
    lie = lie_of(model, hz)
    air = mw(model.level_dbm[np.ix_(lie.members, lie.members)])
    ends = [model.fronts[member] for member in lie.members.tolist()]
    fronts, ceiling = front_factors(ends, lie.f, model.makes[lie.members]), ceilings(ends)
    made = mw(-model.made_db[np.ix_(lie.members, lie.members)])
    third = _listed(lambda room: lie.third(fronts * air, ceiling, air, made, listed=room))

    def fifth(room: int) -> Found:
        found = Found.room_for(len(lie.f), room)
        if len(lie.f):
            add_fifth(model, lie, found)
        return found

    both = [third, _listed(fifth)]
    rows = np.concatenate([found.rows for found in both]).astype(np.int64)
    share = np.concatenate([found.weights for found in both])
    v, how, a, b, c = rows.T
    kept = model.victim[lie.members[v]] if len(v) else np.zeros(0, np.bool_)
    v, how, a, b, c, share = v[kept], how[kept], a[kept], b[kept], c[kept], share[kept]
    fifths = fifth_scale(model.iip5_dbm[lie.members])
    scaled = {3: (fronts, ceiling), 5: (np.broadcast_to(fifths[:, None], air.shape), fifth_ceilings(fifths))}
    weight, most, value = np.zeros(len(v)), np.zeros((len(v), 3)), np.zeros(len(v))
    for way, rule in _VALUES.items():
        at = np.flatnonzero(how == way)
        who = (v[at], a[at], b[at], c[at])
        weight[at] = share[at] * rule.times
        if rule.order == 1:
            value[at] = weight[at] * rule.power(air, who) * (made[a[at], c[at]] if way == kernel.SENDER else 1.0)
            continue
        front, of = scaled[rule.order]
        weight[at] *= rule.power(front, who)
        most[at] = (share[at] * of[v[at]])[:, None] * _each(front, who)
        value[at] = np.minimum(weight[at] * rule.power(air, who), (most[at] * _each(air, who)).max(axis=1))
    members = lie.members
    return Rows(
        model=model,
        carriers_hz=hz,
        victim=members[v],
        how=how,
        three=members[np.stack([a, b, c], axis=1)] if len(v) else np.zeros((0, 3), np.int64),
        weights=Weights(power=weight, ceiling=most),
        value_mw=value,
    )


def level_dbm_of(rows: Rows, victim: int, family: str, members: Sequence[int]) -> float | None:
    """Return what a product adds at a victim in dBm, wherever it is made; None where it is not among the rows."""
    letters, three = list(members), rows.three
    a, c = letters[0], letters[-1]
    b = letters[1] if len(letters) > 2 else a
    at = (rows.victim == victim) & np.isin(rows.how, [way for way, (name, _) in WAYS.items() if name == family])
    if len(letters) > 2 or family == "3A-2B":
        pair = (three[:, 0] == a) & (three[:, 1] == (b if len(letters) > 2 else c))
        turned = (three[:, 0] == b) & (three[:, 1] == a) if family == "A+B-C" else np.zeros(len(rows), np.bool_)
        at &= (pair | turned) & (three[:, 2] == c)
    else:
        at &= (three[:, 0] == a) & (three[:, 2] == c)
    total = float(rows.value_mw[at].sum())
    return 10 * math.log10(total) if total > 0 else None


def _listed(find: Callable[[int], Found]) -> Found:
    """Return what is found with all of it listed."""
    return find(find(0).count)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rule:
    """How a row's power follows from levels: A^i B^j C^k, times a weight that the receiver brings above first order."""

    powers: tuple[int, int, int]
    times: float = 1.0

    @property
    def order(self) -> int:
        """How many carriers take part, each as often as it stands."""
        return sum(self.powers)

    def power(self, of: Floats, who: _Who) -> Floats:
        """Return A^i B^j C^k, where `of[v, a]` belongs to victim and carrier, for victims and three carriers each."""
        (v, a, b, c), (i, j, k) = who, self.powers
        found: Floats = of[v, a] ** i * of[v, b] ** j * of[v, c] ** k
        return found


# B of 2A-B stands last, and of 3A-2B twice.
_VALUES: dict[int, _Rule] = {
    kernel.CARRIER: _Rule(powers=(1, 0, 0)),
    kernel.RECEIVER: _Rule(powers=(2, 0, 1)),
    kernel.TRIPLE: _Rule(powers=(1, 1, 1), times=4.0),
    kernel.SENDER: _Rule(powers=(1, 0, 0)),
    kernel.FIFTH: _Rule(powers=(3, 2, 0)),
    kernel.FIFTH + 1: _Rule(powers=(2, 1, 2), times=9.0),
    kernel.FIFTH + 2: _Rule(powers=(3, 1, 1), times=4.0),
}


def _each(of: Floats, who: _Who) -> Floats:
    """Return what belongs to victims and each of three carriers."""
    v, *three = who
    return np.stack([of[v, one] for one in three], axis=1)


def weakened(rows: Rows, weaker_db: Floats) -> Weights:
    """Return the weights of rows where carriers arrive so many dB weaker; shape (members, members), victims first."""
    factor = 10 ** (-np.minimum(weaker_db, _MOST_DB) / 10)
    a, b, c = rows.three.T
    found = rows.weights.power.copy()
    for way, rule in _VALUES.items():
        at = np.flatnonzero(rows.how == way)
        found[at] *= rule.power(factor, (rows.victim[at], a[at], b[at], c[at]))
    return Weights(power=found, ceiling=rows.weights.ceiling * _each(factor, (rows.victim, a, b, c)))


def pairs_of(rows: Rows) -> tuple[Ints, Ints]:
    """Return the pairs of transmitters that make products of each other, and for each such row which pair it is."""
    three = rows.three[rows.how == kernel.SENDER]
    pairs, number = np.unique(three[:, [0, 2]].reshape(-1, 2), axis=0, return_inverse=True)
    return pairs, number.reshape(-1)


def values_in_pictures(rows: Rows, weights: Weights, site: Ints, air: Floats, made: Floats) -> Floats:
    """Return what falls into each receiver in each picture, in mW; shape (pictures, members).

    Parameters
    ----------
    rows, weights
        What falls into receivers, and the weights of each row.
    site : shape (members,)
        Where each member's receiver is.
    air : shape (pictures, sites, members)
        What arrives of whom, in mW.
    made : shape (pictures, pairs)
        What each pair of `pairs_of` makes of each other, as a part of the first one's power.
    """
    second = rows.three[:, 1].copy()
    second[rows.how == kernel.SENDER] = pairs_of(rows)[1]
    total = np.zeros((air.shape[0], air.shape[2]))
    first, third = rows.three[:, 0].copy(), rows.three[:, 2].copy()
    kernel.values_in_pictures(
        rows.victim, rows.how, first, second, third, weights.power, weights.ceiling, site, air, made, total
    )
    return total
