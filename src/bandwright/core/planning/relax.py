"""One rule at a time made easier: what a radio type, a permit, a TV channel or another user could grant.

A relaxation is the whole job with one thing changed, so that every rule that hangs on it follows. Relaxations of one
rule form a ladder, from the least change to the greatest.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bandwright.core.bands import Span, TvChannel
from bandwright.core.job import Job, Place
from bandwright.core.kit import Link, MakesProducts, RadioType, Worn
from bandwright.core.permits import Permit
from bandwright.core.planning.carriers import examine_carriers, tunable_carriers
from bandwright.core.sweep import Sweep
from bandwright.units import khz_text

__all__ = ["Ladder", "Relaxation", "ladders", "relaxations"]

_USUAL_STEP_HZ = 25_000  # the usual tuning step, for types that have presets only
_NEVER_NOISY_DB = math.inf
_STEPS_DOWN = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxation:
    """One change in words, and the job with it made. `code` is a short stable word."""

    code: str
    change: str
    job: Job


Ladder = tuple[Relaxation, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wish:
    """Room is wished for links of a radio type at a place."""

    job: Job
    radio: RadioType
    place: Place
    sweeps: Sequence[Sweep]

    @property
    def permits(self) -> list[Permit]:
        return [permit for permit in self.job.permits if permit.place in (None, self.place.id)]

    @property
    def step_hz(self) -> int:
        return min((item.step_hz for item in self.radio.tuning), default=_USUAL_STEP_HZ)

    def with_radio(self, radio: RadioType) -> Job:
        """Return the job with the radio type changed wherever it stands."""
        links = (replace(link, radio=radio) if link.radio.id == radio.id else link for link in self.job.links)
        radios = (radio if item.id == radio.id else item for item in self.job.radios)
        return replace(self.job, radios=tuple(radios), links=tuple(links))

    def with_place(self, place: Place) -> Job:
        """Return the job with the place changed."""
        return replace(self.job, places=tuple(place if item.id == place.id else item for item in self.job.places))


def ladders(job: Job, radio: RadioType, place: Place, sweeps: Sequence[Sweep] = ()) -> tuple[Ladder, ...]:
    """Return every ladder of changes that could make room for links of a radio type at a place."""
    wish = _Wish(job=job, radio=radio, place=place, sweeps=sweeps)
    return tuple(ladder for kind in _KINDS for ladder in kind(wish))


def relaxations(job: Job, radio: RadioType, place: Place, sweeps: Sequence[Sweep] = ()) -> tuple[Relaxation, ...]:
    """Return the single changes that people ask about first: a family off, and one step of everything else."""
    found = ladders(job, radio, place, sweeps)
    return tuple(ladder[-1] if ladder[-1].code.startswith("family ") else ladder[0] for ladder in found)


def _tv(wish: _Wish) -> Iterator[Ladder]:
    """Yield one more TV channel: the one that opens most carriers, of those closed and those beside the permits."""
    choices = [*_beside_permits(wish), *_closed(wish)]
    opened = [_newly_open(wish, wider, channel.span) for channel, _, wider in choices]
    if any(opened):
        channel, why, wider = choices[opened.index(max(opened))]
        yield (Relaxation(code="tv", change=f"TV channel {channel.label} as well ({why})", job=wider),)


def _closed(wish: _Wish) -> Iterator[tuple[TvChannel, str, Job]]:
    windows = [window for permit in wish.permits for window in permit.windows]
    for channel in _tunable_tv(wish):
        if channel.label in wish.place.tv_closed and any(channel.span.overlaps(window) for window in windows):
            labels = tuple(label for label in wish.place.tv_closed if label != channel.label)
            yield channel, "closed in the brief", wish.with_place(replace(wish.place, tv_closed=labels))


def _beside_permits(wish: _Wish) -> Iterator[tuple[TvChannel, str, Job]]:
    """Yield TV channels next to one that a permit reaches, each with that permit widened by it."""
    channels = wish.place.raster.channels if wish.place.raster else ()
    tunable = _tunable_tv(wish)
    reached = [[any(c.span.overlaps(w) for w in permit.windows) for c in channels] for permit in wish.permits]
    for index, channel in enumerate(channels):
        shut = channel.label in wish.place.tv_closed or channel not in tunable
        if shut or any(touched[index] for touched in reached):
            continue
        for permit, touched in zip(wish.permits, reached, strict=True):
            if any(touched[max(0, index - 1) : index + 2]):
                wider = replace(permit, windows=(*permit.windows, channel.span))
                permits = tuple(wider if item is permit else item for item in wish.job.permits)
                yield channel, f"beside {permit.reference}", replace(wish.job, permits=permits)
                break


def _tunable_tv(wish: _Wish) -> list[TvChannel]:
    """Return the TV channels that the type has a carrier in."""
    carriers = tunable_carriers(wish.radio)
    channels = wish.place.raster.channels if wish.place.raster else ()
    ends = [np.searchsorted(carriers, (channel.span.low_hz, channel.span.high_hz)).tolist() for channel in channels]
    return [c for c, (low, high) in zip(channels, ends, strict=True) if c.use == "tv" and high > low]


def _newly_open(wish: _Wish, wider: Job, span: Span) -> int:
    """Return how many carriers in and around a span a change opens."""
    radio = wish.radio
    carriers = tunable_carriers(radio)
    near = (carriers > span.low_hz - radio.bandwidth_hz) & (carriers < span.high_hz + radio.bandwidth_hz)
    link = Link(id="any", name=radio.name, radio=radio, worn=Worn.BODY, place=wish.place.id)
    before, after = (examine_carriers(job, link, carriers[near], wish.sweeps).open for job in (wish.job, wider))
    return int(np.sum(after & ~before))


def _families(wish: _Wish) -> Iterator[Ladder]:
    """Yield for each family its clearance in steps down, and the family off."""
    asked = wish.radio.clearance_hz
    for family, clearance_hz in asked:
        code = f"family {family}"
        steps = [clearance_hz - k * wish.step_hz for k in _STEPS_DOWN if clearance_hz > k * wish.step_hz]
        eased = [
            Relaxation(
                code=code,
                change=f"{family} at {khz_text(hz)} kHz in place of {khz_text(clearance_hz)} kHz",
                job=wish.with_radio(
                    replace(wish.radio, clearance_hz=tuple((f, hz if f == family else had) for f, had in asked))
                ),
            )
            for hz in steps
        ]
        kept = tuple(item for item in asked if item[0] != family)
        off = wish.with_radio(replace(wish.radio, clearance_hz=kept))
        yield (*eased, Relaxation(code=code, change=f"family {family} off", job=off))


def _spacing(wish: _Wish) -> Iterator[Ladder]:
    """Yield the carrier spacing in steps down, never under the bandwidth."""
    asked_hz, least_hz = wish.radio.spacing_hz, wish.radio.bandwidth_hz
    lower = sorted({max(least_hz, asked_hz - k * wish.step_hz) for k in _STEPS_DOWN}, reverse=True)
    steps = tuple(
        Relaxation(
            code="spacing",
            change=f"spacing {khz_text(hz)} kHz in place of {khz_text(asked_hz)} kHz",
            job=wish.with_radio(replace(wish.radio, spacing_hz=hz)),
        )
        for hz in lower
        if hz < asked_hz
    )
    if steps:
        yield steps


def _noise(wish: _Wish) -> Iterator[Ladder]:
    if any(sweep.place in (None, wish.place.id) for sweep in wish.sweeps):
        wishes = replace(wish.job.wishes, close_above_floor_db=_NEVER_NOISY_DB)
        job = replace(wish.job, wishes=wishes)
        yield (Relaxation(code="noise", change="noisy slots of the sweep opened", job=job),)


def _unmeasured(wish: _Wish) -> Iterator[Ladder]:
    if wish.job.wishes.unmeasured == "close":
        job = replace(wish.job, wishes=replace(wish.job.wishes, unmeasured="avoid"))
        yield (Relaxation(code="unmeasured", change="slots that no sweep measured opened", job=job),)


def _tv_guard(wish: _Wish) -> Iterator[Ladder]:
    if wish.place.tv_guard_hz:
        change = f"no guard beside closed TV channels in place of {khz_text(wish.place.tv_guard_hz)} kHz"
        yield (Relaxation(code="tv-guard", change=change, job=wish.with_place(replace(wish.place, tv_guard_hz=0))),)


def _others(wish: _Wish) -> Iterator[Ladder]:
    """Yield other users without products, and off the air."""
    here = {other.id for other in wish.job.others if wish.job.place_of(other).id == wish.place.id}
    if not here:
        return
    silent = tuple(
        replace(other, makes_products=MakesProducts.NO) if other.id in here else other for other in wish.job.others
    )
    gone = tuple(other for other in wish.job.others if other.id not in here)
    yield (
        Relaxation(code="others-products", change="products of other users off", job=replace(wish.job, others=silent)),
    )
    yield (Relaxation(code="others", change="other users off the air", job=replace(wish.job, others=gone)),)


_KINDS: tuple[Callable[[_Wish], Iterator[Ladder]], ...] = (
    _tv,
    _families,
    _spacing,
    _noise,
    _unmeasured,
    _tv_guard,
    _others,
)
