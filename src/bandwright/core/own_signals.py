"""Whose signal it is: own carriers and own intermodulation products in a sweep, and what touches which link."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.air import NEAR_HZ
from bandwright.core.bands import occupied
from bandwright.core.compare import AirChange, AirComparison, ChangeKind
from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.heard import STATES, judged
from bandwright.core.planning.plan import NoiseState
from bandwright.core.products import FAMILIES, Family
from bandwright.core.sweep import Sweep

__all__ = ["OwnSignal", "Touched", "own_signal", "touched_links"]

_Ints = npt.NDArray[np.int64]

_PRODUCT_HZ = 10_000
_NAMED_FAMILIES = ("2A-B", "A+B-C", "3A-2B")
_BY_CHANCE = 0.2  # where more of the band lies on products, one more says nothing
_MOST_LINKS = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnSignal:
    """A signal of our own: the link on whose carrier it stands, or the product that falls there."""

    link: str | None = None
    product: str | None = None

    @property
    def words(self) -> str:
        """What it is."""
        return f"own carrier of {self.link}" if self.link is not None else f"own IM product {self.product}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """A link whose occupied bandwidth something touches. `intruder`: energy on its carrier that is not its own."""

    link: str
    carrier_hz: int
    intruder: bool
    text: str


def own_signal(
    change: AirChange, links: Sequence[Link], carriers_hz: Mapping[str, int], *, sweep: Sweep
) -> OwnSignal | None:
    """Return whose signal a change is, where own transmitters were on; None where it is not ours or nobody knows.

    The nearest link counts; one in whose bandwidth the signal is not centred only where no product fits better. Nobody
    sends on a spare carrier, so what stands there is not ours. A product is named where fewer than a fifth of the
    places between the lowest and the highest product of its family lie on one, within the larger of a bin and 10 kHz:
    elsewhere a match says nothing.
    """
    placed = [link for link in links if link.id in carriers_hz and not link.spare_at]
    if sweep.own_transmitters != "on" or not placed:
        return None

    def apart(link: Link) -> float:
        return abs(change.centre_hz - carriers_hz[link.id])

    nearest = min(placed, key=apart)
    if apart(nearest) <= nearest.radio.bandwidth_hz / 2:
        return OwnSignal(link=nearest.id)
    near_hz = max(float(sweep.grid.width_near([change.centre_hz])[0]), _PRODUCT_HZ)
    ids = [link.id for link in placed][:_MOST_LINKS]
    for name in _NAMED_FAMILIES:
        product = _product(FAMILIES[name], ids, [carriers_hz[item] for item in ids], change.centre_hz, near_hz)
        if product is not None:
            return OwnSignal(product=product)
    reach = max(nearest.radio.bandwidth_hz, change.high_hz - change.low_hz) / 2 + NEAR_HZ
    return OwnSignal(link=nearest.id) if apart(nearest) <= reach else None


@functools.lru_cache(maxsize=8)
def _products(family: str, carriers_hz: tuple[int, ...]) -> tuple[_Ints, _Ints]:
    """Return which carriers stand for the letters of a family, every way, and the product of each."""
    coefficients = FAMILIES[family].coefficients
    picks = np.array(list(itertools.permutations(range(len(carriers_hz)), len(coefficients))), dtype=np.int64)
    return picks, np.array(carriers_hz, dtype=np.int64)[picks] @ np.array(coefficients, dtype=np.int64)


def _product(
    family: Family, ids: Sequence[str], carriers_hz: Sequence[int], wanted_hz: float, near_hz: float
) -> str | None:
    letters = len(family.coefficients)
    if len(ids) < letters:
        return None
    picks, products = _products(family.name, tuple(carriers_hz))
    best = int(np.argmin(np.abs(products - wanted_hz)))
    places = np.unique(np.round(products / (2 * near_hz)))
    crowded = places.size / max(1.0, float(places[-1] - places[0] + 1)) > _BY_CHANCE and places.size > 2 * letters
    if crowded or abs(products[best] - wanted_hz) > near_hz:
        return None
    return family.words([ids[index] for index in picks[best].tolist()])


def touched_links(
    comparison: AirComparison,
    job: Job,
    links: Sequence[Link],
    carriers_hz: Mapping[str, int],
    owners: Sequence[OwnSignal | None],
) -> tuple[Touched, ...]:
    """Return the links on whose occupied bandwidth something new, or energy that is not theirs, stands.

    With own transmitters off, or where nobody states it, energy on a planned carrier is an intruder; with them on, the
    sweep tells nothing of the carriers they were on, and what lies on a link's own carrier is that link; nobody of ours
    sends on a spare carrier, so that what came up there and is no product of ours is an intruder.
    """
    placed = [link for link in links if link.id in carriers_hz]
    found = [
        *_by_changes(comparison, placed, carriers_hz, owners),
        *_intruders(comparison.new, job, placed, carriers_hz),
    ]
    once: dict[str, Touched] = {}
    for item in found:
        earlier = once.get(item.link)
        once[item.link] = item if earlier is None else _joined(earlier, item)
    return tuple(once[link.id] for link in placed if link.id in once)


def _joined(one: Touched, two: Touched) -> Touched:
    text = one.text if two.text in one.text else f"{one.text}; {two.text}"
    return Touched(link=one.link, carrier_hz=one.carrier_hz, intruder=one.intruder or two.intruder, text=text)


def _by_changes(
    comparison: AirComparison,
    placed: Sequence[Link],
    carriers_hz: Mapping[str, int],
    owners: Sequence[OwnSignal | None],
) -> Iterator[Touched]:
    for link in placed:
        hz = carriers_hz[link.id]
        span = occupied(hz, link.radio.bandwidth_hz)
        for change, owner in zip(comparison.changes, owners, strict=True):
            apart = change.high_hz <= span.low_hz or span.high_hz <= change.low_hz
            if apart or change.kind is ChangeKind.GONE or (owner is not None and owner.link is not None):
                continue
            what = f" of TV channel {change.channel}" if change.channel is not None else ""
            whose = f", {owner.words}" if owner is not None else ""
            text = f"{change.of.value}{what} {change.kind.value}{whose}"
            intruder = comparison.new.own_transmitters == "on" and bool(link.spare_at) and owner is None
            yield Touched(link=link.id, carrier_hz=hz, intruder=intruder, text=text)


def _intruders(sweep: Sweep, job: Job, placed: Sequence[Link], carriers_hz: Mapping[str, int]) -> Iterator[Touched]:
    if sweep.own_transmitters == "on":
        return
    for link in placed:
        hz = carriers_hz[link.id]
        levels, [code] = judged(job, link.radio, sweep, [hz])
        if STATES[code] is NoiseState.NOISY:
            above = f"{levels.above_floor_db[0]:.0f} dB above the floor"
            yield Touched(link=link.id, carrier_hz=hz, intruder=True, text=f"energy on its carrier, {above}")
