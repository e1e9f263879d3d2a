"""What each rule says of a carrier by itself: tuning, permit, TV, other users, noise.

Everything here works on arrays of carriers, so that one piece of code answers for one carrier (`why`, `check`) and for
all that a radio can be set to (`plan`). Frequencies are whole Hz and edges are included on both sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import Span, TvChannel
from bandwright.core.job import Job, Place
from bandwright.core.kit import Link, Other, PowerKind, RadioType
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.blocks import closed_by_blocks
from bandwright.core.planning.earshot import hears
from bandwright.core.planning.heard import RANK_OF_PLACES, STATES, heard_on
from bandwright.core.planning.places import at_each_place
from bandwright.core.planning.plan import NoiseState
from bandwright.core.sweep import Sweep
from bandwright.core.when import covered, days_of
from bandwright.core.words import sweep_label
from bandwright.units import ERP_TO_EIRP_DB

__all__ = [
    "CarrierFacts",
    "closed_tv",
    "examine_carriers",
    "hears",
    "needed_from_other_hz",
    "permit_power_mw",
    "power_fits",
    "tunable_carriers",
]

Carriers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CarrierFacts:
    """What the rules say of carriers for one link.

    `closed` maps a rule word to the carriers it closes; `permit` is the index of the permit that covers each carrier
    (-1 = none); `noise` the worst state over all sweeps (index into quiet, noisy, not deep enough, not measured);
    `grade` the typical level in steps of 3 dB above the quietest one, 0 where nothing is known. `closed_by` is the
    sweep that closed each carrier as noisy (index into `sweeps`, their names and times; -1 = none).
    """

    carriers_hz: Carriers
    closed: dict[str, Flags]
    permit: npt.NDArray[np.int64]
    noise: npt.NDArray[np.int64]
    grade: npt.NDArray[np.int64]
    closed_by: npt.NDArray[np.int64]
    sweeps: tuple[str, ...]

    @property
    def open(self) -> Flags:
        """The carriers that no rule closes."""
        shut = np.zeros(len(self.carriers_hz), np.bool_)
        for mask in self.closed.values():
            shut |= mask
        return ~shut

    def states(self) -> tuple[NoiseState, ...]:
        """Return the noise state of each carrier."""
        return tuple(STATES[code] for code in self.noise.tolist())


def tunable_carriers(radio: RadioType) -> Carriers:
    """Return every carrier a radio type can be set to, rising, each once."""
    pieces = [np.arange(r.low_hz, r.high_hz + 1, r.step_hz, dtype=np.int64) for r in radio.tuning]
    pieces.append(np.array([preset.carrier_hz for preset in radio.presets], np.int64))
    return np.unique(np.concatenate(pieces))


def needed_from_other_hz(link: Link, other: Other) -> int:
    """Return the least offset from another user's carrier: half its bandwidth and half our spacing, or its own wish."""
    if other.keep_away_hz is not None:
        return other.keep_away_hz
    return -(-(other.bandwidth_hz + link.radio.spacing_hz) // 2)


def closed_tv(place: Place) -> tuple[TvChannel, ...]:
    """Return the TV channels closed at a place: those listed, and those the raster keeps for other services."""
    if place.raster is None:
        return ()
    return tuple(c for c in place.raster.channels if c.use != "tv" or c.label in place.tv_closed)


def power_fits(power_mw: float, kind: PowerKind | None, limit_mw: float, limit_kind: PowerKind) -> bool | None:
    """Return whether a power is within a limit; None where the antenna would have to be known.

    ERP refers to a half-wave dipole, e.i.r.p. to an isotropic radiator: 2.15 dB apart. Conducted power says nothing
    about radiated power without the antenna.

    >>> power_fits(50, PowerKind.ERP, 50, PowerKind.EIRP), power_fits(30, PowerKind.ERP, 50, PowerKind.EIRP)
    (False, True)
    """
    if kind is None:
        return None
    if kind is limit_kind:
        return power_mw <= limit_mw
    if PowerKind.CONDUCTED in (kind, limit_kind):
        return None
    factor = float(10 ** (ERP_TO_EIRP_DB / 10))
    radiated = power_mw * factor if kind is PowerKind.ERP else power_mw / factor
    return radiated <= limit_mw


def permit_power_mw(link: Link, permit: Permit) -> tuple[float | None, bool | None]:
    """Return the power a link would use under a permit and whether it is within the limit (None = not shown).

    The link's stated power, or else the highest setting of its radio that fits.
    """
    settings = (link.power_mw,) if link.power_mw is not None else tuple(sorted(link.radio.power_mw, reverse=True))
    limit = permit.max_power
    limit_mw = limit.for_worn(link.worn) if limit is not None else None
    if limit is None or limit_mw is None:
        return (settings[0] if settings else None), None if limit is not None else True
    verdicts = [(mw, power_fits(mw, link.radio.power_kind, limit_mw, limit.kind)) for mw in settings]
    for wanted in (True, None, False):
        for mw, verdict in verdicts:
            if verdict is wanted:
                return mw, verdict
    return None, None


def _usable_permits(job: Job, link: Link) -> list[tuple[int, Permit]]:
    """Return the permits of the link's place, those in doubt last: only applied for, power not shown to be within."""
    place = job.place_of(link)
    here = [(i, p) for i, p in enumerate(job.permits) if p.place is None or p.place == place.id]
    return sorted(here, key=lambda item: (item[1].state is PermitState.APPLIED, _not_shown(link, item[1]), item[0]))


def _not_shown(link: Link, permit: Permit) -> bool:
    return permit_power_mw(link, permit)[1] is None


def _in_time(job: Job, link: Link, permit: Permit) -> bool:
    """Whether the permit is valid whenever the link is on air; where it states no times, on every date of the job."""
    if not permit.valid:
        return True
    if not link.on_air:
        return days_of(permit.valid).issuperset(job.dates)
    return all(covered(span, permit.valid) for span in link.on_air)


def _permit_masks(job: Job, link: Link, carriers: Carriers) -> tuple[dict[str, Flags], npt.NDArray[np.int64]]:
    """Return what the permits close, by the first term that fails, and the permit that covers each carrier."""
    rules = ("permit", "time", "bandwidth", "grid", "power")
    passed = {rule: np.zeros(len(carriers), np.bool_) for rule in rules}
    covering = np.full(len(carriers), -1, np.int64)
    for index, permit in _usable_permits(job, link):
        good = _inside(permit, link.radio, carriers)
        widest = permit.max_bandwidth_hz
        steps: dict[str, Flags | bool] = {
            "permit": True,
            "time": _in_time(job, link, permit),
            "bandwidth": widest is None or link.radio.bandwidth_hz <= widest,
            "grid": _on_grid(permit, carriers),
            "power": permit_power_mw(link, permit)[1] is not False,
        }
        for rule in rules:
            good = good & steps[rule]
            passed[rule] |= good
        covering = np.where((covering < 0) & good, index, covering)
    before = np.ones(len(carriers), np.bool_)
    closed = {}
    for rule in rules:
        closed[rule] = before & ~passed[rule]
        before = passed[rule]
    return closed, covering


def _inside(permit: Permit, radio: RadioType, carriers: Carriers) -> Flags:
    half = 0 if permit.inside_carrier else -(-radio.bandwidth_hz // 2)
    good = np.zeros(len(carriers), np.bool_)
    for window in permit.windows:
        good |= (carriers - half >= window.low_hz) & (carriers + half <= window.high_hz)
    return good & ~_overlapping(permit.closed, radio, carriers)


def _on_grid(permit: Permit, carriers: Carriers) -> Flags:
    if permit.grid_hz is None:
        return np.ones(len(carriers), np.bool_)
    return np.asarray((carriers - permit.grid_anchor_hz) % permit.grid_hz == 0)


def _overlapping(spans: Sequence[Span], radio: RadioType, carriers: Carriers, guard_hz: int = 0) -> Flags:
    half = -(-radio.bandwidth_hz // 2) + guard_hz
    hit = np.zeros(len(carriers), np.bool_)
    for span in spans:
        hit |= (carriers + half > span.low_hz) & (carriers - half < span.high_hz)
    return hit


def _tuning_mask(radio: RadioType, carriers: Carriers) -> Flags:
    good = np.isin(carriers, np.array([preset.carrier_hz for preset in radio.presets], np.int64))
    for r in radio.tuning:
        good |= (carriers >= r.low_hz) & (carriers <= r.high_hz) & ((carriers - r.low_hz) % r.step_hz == 0)
    return ~good


def examine_carriers(job: Job, link: Link, carriers_hz: npt.ArrayLike, sweeps: Sequence[Sweep] = ()) -> CarrierFacts:
    """Return what every rule that needs no other link says of these carriers.

    Parameters
    ----------
    job
        Permits, places, other users and wishes.
    link
        Whose carrier it would be.
    carriers_hz : shape (n,)
        Whole Hz.
    sweeps
        What was measured; sweeps of other places do not count. Without any, nothing is measured.

    A spare carrier is open where it is at every place it stands by for, and measured where it was at all of them.
    """
    carriers = np.asarray(carriers_hz, np.int64)
    there = [_examine_at_one(job, here, carriers, sweeps) for here in at_each_place(job, link)]
    return there[0] if len(there) == 1 else _worst_of(job, there)


def _examine_at_one(job: Job, link: Link, carriers: Carriers, sweeps: Sequence[Sweep]) -> CarrierFacts:
    place = job.place_of(link)
    closed, permit = _permit_masks(job, link, carriers)
    closed["tuning"] = _tuning_mask(link.radio, carriers)
    if link.hold_hz is not None:
        closed["hold"] = carriers != link.hold_hz
    closed["tv"] = _overlapping([c.span for c in closed_tv(place)], link.radio, carriers, place.tv_guard_hz)
    if job.blocks:
        closed["block"] = closed_by_blocks(job, link, carriers)
    closed["other"] = np.zeros(len(carriers), np.bool_)
    for other in job.others:
        if hears(job, link, other):
            closed["other"] |= np.abs(carriers - other.carrier_hz) < needed_from_other_hz(link, other)
    heard = heard_on(job, place, link.radio, carriers, sweeps)
    closed["noise"] = heard.state == STATES.index(NoiseState.NOISY)
    if job.wishes.unmeasured == "close":
        closed["unmeasured"] = heard.state >= STATES.index(NoiseState.SHALLOW)
    return CarrierFacts(
        carriers_hz=carriers,
        closed=closed,
        permit=permit,
        noise=heard.state,
        grade=heard.grade,
        closed_by=np.where(closed["noise"], heard.sweep, -1),
        sweeps=tuple(sweep_label(sweep.name, sweep.started) for sweep in sweeps),
    )


def _worst_of(job: Job, there: Sequence[CarrierFacts]) -> CarrierFacts:
    """Return what holds at all places: closed where one closes, the worst noise, only applied for where one is."""
    applied = np.array([*(permit.state is PermitState.APPLIED for permit in job.permits), False], np.bool_)
    permit, noise, closed_by = there[0].permit, there[0].noise, there[0].closed_by
    for facts in there[1:]:
        worse = (facts.permit < 0) | ((permit >= 0) & applied[facts.permit])
        permit = np.where(worse, facts.permit, permit)
        noise = np.where(RANK_OF_PLACES[facts.noise] > RANK_OF_PLACES[noise], facts.noise, noise)
        closed_by = np.where(closed_by < 0, facts.closed_by, closed_by)
    return CarrierFacts(
        carriers_hz=there[0].carriers_hz,
        closed={rule: np.any([facts.closed[rule] for facts in there], axis=0) for rule in there[0].closed},
        permit=permit,
        noise=noise,
        grade=np.max([facts.grade for facts in there], axis=0),
        closed_by=closed_by,
        sweeps=there[0].sweeps,
    )
