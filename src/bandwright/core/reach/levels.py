"""Carrier to interference at each receiver, for given levels: what lands there, how much of it, and who makes it.

Everything is referred to the terminals of a receiver's antenna. A product counts with the part of its spectrum (as wide
as those of its generators make it) that lies within the receiver's bandwidth. Every receiver is a victim, also of
products that its own carrier takes part in, but for those that only say that two others are close: A+B-C at A.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from bandwright.core.products import family_named
from bandwright.core.reach.levels_fronts import LOUDEST_DBM, ceilings, fifth_ceilings, fifth_scale, front_factors
from bandwright.core.reach.levels_shares import ShareTable, share_table
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
    "add_fifth",
    "interference",
    "lie_of",
    "mw",
    "product_of",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CELL_BITS = 15  # partners are looked up in cells of 32,768 Hz
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
    table = share_table(model.rms_hz[members], model.bandwidth_hz[members])
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
    fronts = [model.fronts[member] for member in lie.members.tolist()]
    front = front_factors(fronts, lie.f, model.makes[lie.members])
    made = mw(-model.made_db[np.ix_(lie.members, lie.members)])
    found = lie.third(front * air, ceilings(fronts), air, made)
    if fifth and len(lie.f):
        add_fifth(model, lie, found)
    told = [_told(model, lie, found, local) for local in range(len(lie.f)) if model.victim[lie.members[local]]]
    return tuple(sorted(told, key=lambda item: item.victim))


def mw(dbm: Floats) -> Floats:
    """Return dBm as mW, 0 for minus infinity; beyond 300 dBm, which is nonsense but may be typed, it stays a number."""
    kept: Floats = np.where(np.isneginf(dbm), 0.0, 10 ** (np.clip(dbm, -LOUDEST_DBM, LOUDEST_DBM) / 10))
    return kept


def add_fifth(model: LevelModel, lie: Lie, found: Found) -> None:
    """Add products of fifth order; what is listed takes the rows of `found` from their start."""
    scale = fifth_scale(model.iip5_dbm[lie.members])
    if not scale.any():
        return
    air = mw(model.level_dbm[np.ix_(lie.members, lie.members)])
    found.count = kernel.fifth_order(
        lie.f, air * scale[:, None] * model.makes[lie.members], fifth_ceilings(scale), model.rms_hz[lie.members] ** 2,
        model.bandwidth_hz[lie.members] / 2, lie.low_hz, _CELL_BITS, lie.first, lie.last,
        np.diagonal(air) * 10 ** (-_BELOW_DB / 10), found.total, found.best, found.who, found.rows, found.weights,
    )  # fmt: skip


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
