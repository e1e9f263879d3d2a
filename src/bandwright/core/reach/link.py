"""One link judged: its branches, fading while somebody walks at the farthest point, sound, squelch, and what to do."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial

import numpy as np

from bandwright.core.job import Job
from bandwright.core.kit import Diversity, Emission, Link, RadioType
from bandwright.core.reach.audible import Audible, audible_dropouts_per_s, audible_of, margin_needed_db
from bandwright.core.reach.budget import Branch, branch_of
from bandwright.core.reach.coverage_fading import outages
from bandwright.core.reach.facts import Gap, LinkFacts, link_facts, runs_of
from bandwright.core.reach.fading import Fading, dropouts_per_s, fade_duration_s, outage, spatial_correlation
from bandwright.core.reach.path import chance_above, wavelength_m
from bandwright.core.reach.sound import FM_THRESHOLD_DB, deemphasis_gain_db, fm_gain_db
from bandwright.core.reach.strong import Strong, strong_of
from bandwright.core.reach.tables import ReachTables

__all__ = ["WALKING_M_PER_S", "LinkReach", "Squelch", "State", "Walk", "fading_of", "link_reach"]

WALKING_M_PER_S = 1.4
"""5 km/h: how fast people are taken to walk; common practice."""

AUDIO_HZ = 15_000
"""Highest audio frequency that counts for FM noise; common practice for radio microphones."""

_SQUELCH_OVER_NOISE_DB = (6.0, 10.0)
_SQUELCH_UNDER_LOWEST_DB = 10.0


class State(StrEnum):
    """How a link stands: its margin is enough, too small, or cannot be told."""

    ENOUGH = "enough"
    SHORT = "short"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """Fading while somebody walks at the farthest point; `margin_db` is the mean of the branches that count, in dB.

    `counted` are those branches by number: the ones with which most is left over what fading asks for, so that an
    antenna that hears nothing takes nothing away. `fading` is that of so many; `outage` counts all of them.
    `dips_per_min` counts every dip below what is needed, `dropouts_per_min` those that are `audible`. `needed_db` is
    the margin for no more than one of these in `every_s`, `needed_alone_db` the same with one antenna. `duration_s` is
    that of a dip in the mean, None where the signal is practically never there. `places` is the part of all points so
    far away that keep the margin, where the scatter of levels is known.
    """

    fading: Fading
    margin_db: float
    doppler_hz: float
    outage: float
    audible: Audible
    dips_per_min: float
    dropouts_per_min: float
    duration_s: float | None
    needed_db: float
    needed_alone_db: float
    every_s: float
    spacing_m: float | None
    places: float | None
    counted: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Squelch:
    """Where to set the squelch at the receiver's input; `level_dbm` is None where no setting fits both rules."""

    level_dbm: float | None
    over_noise_dbm: tuple[float, float]
    under_lowest_dbm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkReach:
    """Everything that can be told of one link."""

    facts: LinkFacts
    branches: tuple[Branch, ...]
    walk: Walk | None
    snr_db: float | None
    squelch: Squelch | None
    gaps: tuple[Gap, ...]
    strong: tuple[Strong, ...] = ()

    @property
    def link(self) -> Link:
        """The link itself."""
        return self.facts.link

    @property
    def best(self) -> Branch:
        """The branch with the highest level."""
        return max(self.branches, key=lambda branch: -math.inf if branch.level_dbm is None else branch.level_dbm)

    @property
    def margin_db(self) -> float | None:
        """The mean margin of the branches that count, in dB; None where that of one cannot be told."""
        return None if self.walk is None else self.walk.margin_db

    @property
    def state(self) -> State:
        """How the link stands."""
        if self.walk is None:
            return State.OPEN
        return State.ENOUGH if self.walk.margin_db >= self.walk.needed_db else State.SHORT


def link_reach(job: Job, link: Link, *, carriers: Mapping[str, int], tables: ReachTables, every_s: float) -> LinkReach:
    """Return how one link stands at the farthest point of its area.

    Parameters
    ----------
    job
        With runs, antennas and places.
    carriers
        Carriers of a plan by link, in Hz; links that it does not name stand on what they hold, or a permitted middle.
    tables
        Cables, materials, indoor classes and body losses.
    every_s
        No more than one audible dropout in so many seconds of walking is wanted.
    """
    facts = link_facts(job, link, carriers=carriers, tables=tables)
    runs = runs_of(job, link)
    branches = tuple(branch_of(facts, run, tables) for run in runs) or (branch_of(facts, None, tables),)
    spacing_m = _spacing_m(branches)
    more = _gaps_of_branches(facts, branches, spacing_m)
    return LinkReach(
        facts=facts,
        branches=branches,
        walk=_walk(facts, branches, spacing_m, every_s),
        snr_db=_snr_db(link.radio, branches),
        squelch=_squelch(link.radio, branches),
        gaps=tuple(dict.fromkeys([*(gap for branch in branches for gap in branch.gaps), *more])),
        strong=strong_of(job, facts, branches, tables),
    )


def _walk(facts: LinkFacts, branches: Sequence[Branch], spacing_m: float | None, every_s: float) -> Walk | None:
    margins = [branch.margin_db for branch in branches if branch.margin_db is not None]
    if len(margins) < len(branches):
        return None
    doppler_hz = WALKING_M_PER_S / wavelength_m(facts.carrier_hz)
    audible = audible_of(facts.link.radio)
    needs = partial(margin_needed_db, doppler_hz=doppler_hz, audible_s=audible.s, at_most_every_s=every_s)
    every = fading_of(facts, count=len(branches), spacing_m=spacing_m)
    fading, counted = _counting(margins, every, needs)
    margin_db, needed_db = _mean(margins, counted), needs(fading)
    duration_s = fade_duration_s(margin_db, fading, doppler_hz=doppler_hz)
    sigma_db = branches[0].path.sigma_db if branches[0].path is not None else None
    return Walk(
        fading=fading,
        margin_db=margin_db,
        doppler_hz=doppler_hz,
        outage=outage(margin_db, every) if every.alone else float(outages(np.array(margins), every)),
        audible=audible,
        dips_per_min=dropouts_per_s(margin_db, fading, doppler_hz=doppler_hz) * 60,
        dropouts_per_min=60 * audible_dropouts_per_s(margin_db, fading, doppler_hz=doppler_hz, audible_s=audible.s),
        duration_s=duration_s if math.isfinite(duration_s) else None,
        needed_db=needed_db,
        needed_alone_db=needs(fading.one()),
        every_s=every_s,
        spacing_m=spacing_m,
        places=None if sigma_db is None else chance_above(margin_db=margin_db - needed_db, sigma_db=sigma_db),
        counted=counted,
    )


def _counting(
    margins: Sequence[float], every: Fading, needs: Callable[[Fading], float]
) -> tuple[Fading, tuple[int, ...]]:
    """Return how those branches fade with which most is left, and which they are; all where there is no diversity.

    A branch whose mean is below what is needed fades into it all the time, and does not count beside others.
    """
    if every.alone:
        return every, tuple(range(len(margins)))
    ranked = sorted(range(len(margins)), key=lambda number: -margins[number])
    choices = [(every.one(), tuple(ranked[:1]))]
    helping = sum(margin >= 0 for margin in margins)
    choices += [(replace(every, branches=n), tuple(sorted(ranked[:n]))) for n in range(2, helping + 1)]
    return max(choices, key=lambda choice: _mean(margins, choice[1]) - needs(choice[0]))


def _mean(values: Sequence[float], numbers: Sequence[int]) -> float:
    return sum(values[number] for number in numbers) / len(numbers)


def fading_of(facts: LinkFacts, *, count: int, spacing_m: float | None) -> Fading:
    """Return how a link fades with so many antennas: only a receiver with diversity has any use for a second one."""
    k_db = facts.place.rice_k_db
    rice_k = 0.0 if k_db is None else float(10 ** (k_db / 10))
    diversity = facts.link.radio.diversity
    if not facts.inward or diversity in (None, Diversity.NONE) or count < 2:
        return Fading(rice_k=rice_k)
    alike = (
        0.0
        if spacing_m is None
        else spatial_correlation(spacing_m=spacing_m, wavelength_m=wavelength_m(facts.carrier_hz))
    )
    return Fading(branches=count, diversity=diversity, correlation=alike, rice_k=rice_k)


def _spacing_m(branches: Sequence[Branch]) -> float | None:
    """Return how far apart the two nearest antennas stand; 0 where two runs begin at one; None if unknown."""
    antennas = [branch.run.antenna for branch in branches if branch.run is not None]
    found = []
    for one, two in itertools.combinations(antennas, 2):
        if one.id == two.id:
            return 0.0
        if one.at_m is None or two.at_m is None:
            return None
        found.append(math.dist(one.at_m, two.at_m))
    return min(found, default=None)


def _gaps_of_branches(facts: LinkFacts, branches: Sequence[Branch], spacing_m: float | None) -> list[Gap]:
    radio = facts.link.radio
    found: list[Gap] = []
    if len(branches) < 2 or not facts.inward:
        return found
    if radio.diversity is None:
        found.append(Gap(table="radio", id=radio.id, key="diversity", meanwhile="one antenna counts"))
    if spacing_m is None:
        ids = [branch.run.antenna.id for branch in branches if branch.run is not None and not branch.run.antenna.at_m]
        found += [Gap(table="antenna", id=one, key="at_m", meanwhile="they count as far apart") for one in ids]
    return found


def _snr_db(radio: RadioType, branches: Sequence[Branch]) -> float | None:
    """Return the signal-to-noise ratio of FM audio before companding; None where it cannot be told.

    De-emphasis counts where its time constant is stated.
    """
    known = [branch.cn_db for branch in branches if branch.cn_db is not None]
    if radio.emission is not Emission.FM or radio.peak_deviation_hz is None or not known:
        return None
    if max(known) < FM_THRESHOLD_DB:
        return None
    audio_hz = min(AUDIO_HZ, radio.bandwidth_hz / 2)
    gain_db = fm_gain_db(deviation_hz=radio.peak_deviation_hz, audio_hz=audio_hz, bandwidth_hz=radio.bandwidth_hz)
    if radio.preemphasis_us is not None:
        gain_db += deemphasis_gain_db(time_constant_s=radio.preemphasis_us / 1e6, audio_hz=audio_hz)
    return max(known) + gain_db


def _squelch(radio: RadioType, branches: Sequence[Branch]) -> Squelch | None:
    """Return where to set the squelch: 6 to 10 dB over the noise, 10 dB under the lowest level (common practice)."""
    levels = [(branch.noise_dbm, branch.lowest_dbm) for branch in branches]
    if radio.emission is Emission.DIGITAL or not levels:
        return None
    noises = [noise for noise, _ in levels if noise is not None]
    lowest = [low for _, low in levels if low is not None]
    if len(noises) < len(levels) or len(lowest) < len(levels):
        return None
    over = (max(noises) + _SQUELCH_OVER_NOISE_DB[0], max(noises) + _SQUELCH_OVER_NOISE_DB[1])
    under = min(lowest) - _SQUELCH_UNDER_LOWEST_DB
    return Squelch(
        level_dbm=min(over[1], under) if under >= over[0] else None, over_noise_dbm=over, under_lowest_dbm=under
    )
