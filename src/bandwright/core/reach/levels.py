"""Carrier to interference at each receiver, for given levels: what lands there, how much of it, and who makes it.

Everything is referred to the terminals of a receiver's antenna. A product counts with the part of its spectrum (as wide
as those of its generators make it) that lies within the receiver's bandwidth. Every receiver is a victim, also of
products that its own carrier takes part in, but for those that only say that two others are close: A+B-C at A.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from bandwright.core.products import family_named
from bandwright.core.reach.intermod import UNDER_TONE_DB
from bandwright.core.reach.receiver_front import FrontEnd
from bandwright.kernels import levels as kernel

__all__ = [
    "WAYS",
    "Found",
    "Interference",
    "LevelModel",
    "Lie",
    "Made",
    "Product",
    "ShareTable",
    "add_fifth",
    "ceilings",
    "fifth_ceilings",
    "fifth_scale",
    "front_factors",
    "fronts_of",
    "interference",
    "lie_of",
    "mw",
    "product_of",
    "share_table",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_EDGE_RMS = 4.0  # rms widths beyond the edge of a receiver, where less than 1/30,000 of a Gaussian is left
_CELL_BITS = 15  # partners are looked up in cells of 32,768 Hz
_LOUDEST_DBM = 300.0  # far above anything real; keeps sums of powers finite
_BELOW_DB = 80.0  # products of fifth order that lie so far below the wanted carrier are passed over


class Made(StrEnum):
    """Where interference comes about: sent as such, in the receiver, or in somebody's transmitter."""

    SENT = "sent"
    RECEIVER = "receiver"
    TRANSMITTER = "transmitter"


# How the kernels say that something is made -> its family, None for another carrier itself, and where.
WAYS: dict[int, tuple[str | None, Made]] = {
    kernel.CARRIER: (None, Made.SENT),
    kernel.RECEIVER: ("2A-B", Made.RECEIVER),
    kernel.TRIPLE: ("A+B-C", Made.RECEIVER),
    kernel.SENDER: ("2A-B", Made.TRANSMITTER),
    kernel.FIFTH: ("3A-2B", Made.RECEIVER),
    kernel.FIFTH + 1: ("2A+B-2C", Made.RECEIVER),
    kernel.FIFTH + 2: ("3A-B-C", Made.RECEIVER),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelModel:
    """One picture of a stage: what arrives of whom at whose receiver. Members are those of a `Problem`, wanted first.

    Parameters
    ----------
    level_dbm : shape (members, members)
        Level of the second at the first one's receiver; minus infinity: not heard. On the diagonal the wanted carrier.
    fronts
        The front end of each receiver, None for members without one (other users) or where its intercept is missing.
    iip5_dbm : shape (members,)
        Input fifth-order intercept point at the antenna; NaN where products of fifth order are not predicted.
    made_db : shape (members, members)
        How far 2A-B made in the first one's transmitter lies below its carrier while the second is near; infinite
        where there is none.
    rms_hz, bandwidth_hz : shape (members,)
        RMS width of what each sends, and the bandwidth of each receiver.
    victim, makes : shape (members,)
        Who has a receiver that matters, and whose carrier takes part in products.
    """

    level_dbm: Floats
    fronts: tuple[FrontEnd | None, ...]
    iip5_dbm: Floats
    made_db: Floats
    rms_hz: Floats
    bandwidth_hz: Floats
    victim: NDArray[np.bool_]
    makes: NDArray[np.bool_]

    def __post_init__(self) -> None:
        size = len(self.fronts)
        for name, square in (("level_dbm", self.level_dbm), ("made_db", self.made_db)):
            if square.shape != (size, size) or np.isnan(square).any():
                raise ValueError(f"{name} is a matrix over all {size} members without NaN; given shape {square.shape}")
        for name, row in (("rms_hz", self.rms_hz), ("bandwidth_hz", self.bandwidth_hz)):
            if row.shape != (size,) or not np.all(np.isfinite(row) & (row >= 0)):
                raise ValueError(f"{name} holds a width of 0 Hz or more for each of {size} members; given {row}")

    @property
    def size(self) -> int:
        """Number of members."""
        return len(self.fronts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """What adds most to the interference at a receiver; `members` are its generators in the order of the letters.

    `family` is None for another carrier itself. `level_dbm` is the part that falls into the receiver's bandwidth.
    """

    family: str | None
    made: Made
    members: tuple[int, ...]
    product_hz: int
    offset_hz: int
    level_dbm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Interference:
    """What a member's receiver meets; both levels in dBm, interference minus infinity where nothing falls into it."""

    victim: int
    wanted_dbm: float
    interference_dbm: float
    strongest: Product | None

    @property
    def ratio_db(self) -> float:
        """Carrier to interference in dB, infinite where nothing falls into the receiver's bandwidth."""
        return math.inf if math.isinf(self.interference_dbm) else self.wanted_dbm - self.interference_dbm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShareTable:
    """The part of a carrier or product that falls into a receiver, by offset in steps of 256 Hz.

    `kind` is that of each member, and `one`, `two` (2A-B) and `three` (A+B-C) tell which row of `share` holds for the
    kinds of its generators and of the victim. Beyond `reach_hz`, 4 rms widths from the edge of a receiver's bandwidth,
    less than 1/30,000 falls into it, and nothing counts.
    """

    kind: Ints
    one: Ints
    two: Ints
    three: Ints
    share: Floats
    reach_hz: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lie:
    """Members on the air, rising in frequency, with what the kernels need to know of where they lie."""

    members: Ints
    f: Ints
    table: ShareTable
    low_hz: int
    first: NDArray[np.int32]
    last: NDArray[np.int32]

    def third(self, front: Floats, ceiling: Floats, air: Floats, made: Floats, *, listed: int = 0) -> Found:
        """Return sums of carriers and products of third order; arrays are over the rising members, in mW."""
        found = Found.room_for(len(self.f), listed)
        table = self.table
        found.count = kernel.third_order(
            self.f, front, ceiling, air, made, table.kind, table.one, table.two, table.three, table.share, self.low_hz,
            _CELL_BITS, self.first, self.last, found.total, found.best, found.who, found.rows, found.weights,
        )  # fmt: skip
        return found


@dataclass(slots=True, kw_only=True, eq=False)
class Found:
    """What kernels fill: power and strongest product of each victim, and products as rows where there is room."""

    total: Floats
    best: Floats
    who: Ints
    rows: NDArray[np.int32]
    weights: Floats
    count: int = 0

    @classmethod
    def room_for(cls, size: int, listed: int) -> Found:
        """Return empty arrays for so many members and rows."""
        return cls(
            total=np.zeros(size),
            best=np.zeros(size),
            who=np.zeros((size, 4), np.int64),
            rows=np.zeros((listed, 5), np.int32),
            weights=np.zeros(listed),
        )


def lie_of(model: LevelModel, carriers_hz: Sequence[int] | Ints) -> Lie:
    """Return who is on the air (a carrier below 0 is none), rising, with the tables that the kernels look into."""
    hz = np.asarray(carriers_hz, np.int64)
    if hz.shape != (model.size,):
        raise ValueError(f"there is one carrier for each of {model.size} members; given {len(hz)}")
    placed = np.flatnonzero(hz >= 0)
    members = placed[np.argsort(hz[placed], kind="stable")]
    f = hz[members]
    table = share_table(model, members)
    reach = table.reach_hz
    low = int(f[0]) - 2 * reach if len(f) else 0
    span = int(f[-1]) + 2 * reach - low if len(f) else 0
    cells = (span >> _CELL_BITS) + 1
    lie = Lie(
        members=members,
        f=f,
        table=table,
        low_hz=low,
        first=np.zeros(cells, np.int32),
        last=np.zeros(cells, np.int32),
    )
    kernel.lookup(f, low, _CELL_BITS, reach, lie.first, lie.last)
    return lie


def share_table(model: LevelModel, members: Ints) -> ShareTable:
    """Return which part of what kinds of members make falls into which kind of receiver, by offset."""
    widths = np.stack([model.rms_hz[members], model.bandwidth_hz[members]], axis=1).reshape(-1, 2)
    kinds, kind = np.unique(widths, axis=0, return_inverse=True)
    n = len(kinds)
    rows: dict[tuple[float, float], int] = {}
    variances, half = kinds[:, 0] ** 2, kinds[:, 1] / 2

    def row(variance: float, victim: int) -> int:
        return rows.setdefault((float(variance), float(half[victim])), len(rows))

    one, two, three = (np.zeros((n,) * (count + 1), np.int64) for count in (1, 2, 3))
    for v in range(n):
        for a in range(n):
            one[a, v] = row(variances[a], v)
            for b in range(n):
                two[a, b, v] = row(4 * variances[a] + variances[b], v)
                for c in range(n):
                    three[a, b, c, v] = row(variances[[a, b, c]].sum(), v)
    variance = np.array([key[0] for key in rows] or [0.0])
    halves = np.array([key[1] for key in rows] or [0.0])
    reach = int((halves + _EDGE_RMS * np.sqrt(variance)).max()) + 1
    share = np.zeros((len(variance), (reach >> kernel.STEP_BITS) + 2))
    kernel.shares(variance, halves, share)
    kind = kind.reshape(-1).astype(np.int64)
    return ShareTable(kind=kind, one=one, two=two, three=three, share=share, reach_hz=reach)


# ------------------------------------------------------------------------------------------------- at the receivers


def interference(
    model: LevelModel, carriers_hz: Sequence[int] | Ints, *, fifth: bool = True
) -> tuple[Interference, ...]:
    """Return what each placed victim meets, in the order of members.

    Parameters
    ----------
    model
        Levels and receivers.
    carriers_hz
        One for each member in Hz, negative for one that is not on the air.
    fifth
        Whether products of fifth order count, where their intercept point is known.
    """
    lie = lie_of(model, carriers_hz)
    air = mw(model.level_dbm[np.ix_(lie.members, lie.members)])
    fronts = front_factors(model, lie)
    made = mw(-model.made_db[np.ix_(lie.members, lie.members)])
    found = lie.third(fronts * air, ceilings(fronts_of(model, lie)), air, made)
    if fifth and len(lie.f):
        add_fifth(model, lie, found)
    told = [_told(model, lie, found, local) for local in range(len(lie.f)) if model.victim[lie.members[local]]]
    return tuple(sorted(told, key=lambda item: item.victim))


def mw(dbm: Floats) -> Floats:
    """Return dBm as mW, 0 for minus infinity; beyond 300 dBm, which is nonsense but may be typed, it stays a number."""
    kept: Floats = np.where(np.isneginf(dbm), 0.0, 10 ** (np.clip(dbm, -_LOUDEST_DBM, _LOUDEST_DBM) / 10))
    return kept


def front_factors(model: LevelModel, lie: Lie) -> Floats:
    """Return by what each tone's power is scaled so that a product of third order is the product of three of them.

    ::

        P = Pa Pb Pc / IIP3^2 (mW), IIP3 for tones that filters weaken as they weaken this one

    Exact for one stage that makes products, and for tones that are weakened alike; else an upper bound (Hoelder), since
    products of several stages are taken to add in voltage.
    """
    factors = np.zeros((len(lie.f), len(lie.f)))
    for local, front in enumerate(fronts_of(model, lie)):
        if front is None:
            continue
        with np.errstate(over="ignore"):
            met = replace(front, carrier_hz=int(lie.f[local])).iip3_for(lie.f, lie.f, lie.f)
        if met is not None:
            factors[local] = 10 ** (-2 / 30 * np.clip(met, -_LOUDEST_DBM, math.inf))
    factors[:, ~model.makes[lie.members]] = 0.0
    return factors


def fronts_of(model: LevelModel, lie: Lie) -> list[FrontEnd | None]:
    """Return the front ends of those on the air, rising."""
    return [model.fronts[member] for member in lie.members.tolist()]


def ceilings(fronts: Sequence[FrontEnd | None]) -> Floats:
    """Return for each receiver how much its strongest tone leaves at most of third order.

    ::

        P <= max(P'a, P'b, P'c) / 9,  P' = P 10^(-s / 10) behind filters that take s dB

    as a part of tones that `front_factors` scales, which are P' 10^(-2/30 IIP3); see `intermod.third_order_dbm`.
    """
    iip3 = np.array([0.0 if front is None else front.iip3_dbm or 0.0 for front in fronts])
    return np.asarray(_of_tones(3) * 10 ** (2 / 30 * np.clip(iip3, -_LOUDEST_DBM, _LOUDEST_DBM)))


def _of_tones(order: int) -> float:
    return float(10 ** (-UNDER_TONE_DB[order] / 10))


def fifth_ceilings(scale: Floats) -> Floats:
    """Return the same for fifth order, with the receivers' `fifth_scale`: a twenty-fifth of the strongest tone."""
    return _of_tones(5) / np.where(scale > 0, scale, math.inf)


def add_fifth(model: LevelModel, lie: Lie, found: Found) -> None:
    """Add products of fifth order; what is listed takes the rows of `found` from their start."""
    scale = fifth_scale(model, lie)
    if not scale.any():
        return
    air = mw(model.level_dbm[np.ix_(lie.members, lie.members)])
    found.count = kernel.fifth_order(
        lie.f, air * scale[:, None] * model.makes[lie.members], fifth_ceilings(scale), model.rms_hz[lie.members] ** 2,
        model.bandwidth_hz[lie.members] / 2, lie.low_hz, _CELL_BITS, lie.first, lie.last,
        np.diagonal(air) * 10 ** (-_BELOW_DB / 10), found.total, found.best, found.who, found.rows, found.weights,
    )  # fmt: skip


def fifth_scale(model: LevelModel, lie: Lie) -> Floats:
    """Return by what each receiver scales powers so that a product of fifth order is the product of five of them."""
    iip5 = model.iip5_dbm[lie.members]
    known: Floats = np.where(np.isnan(iip5), math.inf, np.clip(np.nan_to_num(iip5), -_LOUDEST_DBM, math.inf))
    return np.asarray(10 ** (-4 / 50 * known))


def _told(model: LevelModel, lie: Lie, found: Found, local: int) -> Interference:
    member = int(lie.members[local])
    total = float(found.total[local])
    return Interference(
        victim=member,
        wanted_dbm=float(model.level_dbm[member, member]),
        interference_dbm=10 * math.log10(total) if total > 0 else -math.inf,
        strongest=_product(lie, found, local) if total > 0 else None,
    )


def _product(lie: Lie, found: Found, local: int) -> Product:
    how, *locals_ = found.who[local].tolist()
    return product_of(
        how,
        [int(lie.members[index]) for index in locals_],
        carriers_hz=dict(zip(lie.members.tolist(), lie.f.tolist(), strict=True)),
        victim=int(lie.members[local]),
        power_mw=float(found.best[local]),
    )


def product_of(
    how: int, three: Sequence[int], *, carriers_hz: Mapping[int, int] | Ints, victim: int, power_mw: float
) -> Product:
    """Return a product in words: how it is made (as the kernel says) and of whom, in mW of power."""
    family, made = WAYS[how]
    a, b, c = three
    letters = 1 if family is None else len(family_named(family).coefficients)
    members = {1: (a,), 2: (a, c), 3: (a, b, c)}[letters]
    tones = tuple(int(carriers_hz[member]) for member in members)
    hz = tones[0] if family is None else family_named(family).product_hz(tones)
    return Product(
        family=family,
        made=made,
        members=members,
        product_hz=hz,
        offset_hz=abs(hz - int(carriers_hz[victim])),
        level_dbm=10 * math.log10(power_mw) if power_mw > 0 else -math.inf,
    )
