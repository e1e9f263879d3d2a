"""What sweeps say of carriers: each sweep against its own floor and what the receiver can bear, the worst of all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.job import Job, Place
from bandwright.core.kit import Link, RadioType
from bandwright.core.planning.places import at_each_place, counts_at
from bandwright.core.planning.plan import AtAntenna, Noise, NoiseState, Warn
from bandwright.core.receiver import bearable
from bandwright.core.sweep import ChannelLevels, Sweep, channel_levels, noise_codes
from bandwright.core.words import and_list

__all__ = [
    "RANK_OF_PLACES",
    "STATES",
    "Heard",
    "bearable_as_read",
    "floor_alone_warnings",
    "heard_on",
    "judged",
    "noise_of",
]

Carriers = npt.NDArray[np.int64]

STATES = tuple(NoiseState)  # quiet, noisy, not deep enough, not measured
RANK_OF_PLACES = np.array([0, 3, 1, 2])  # what one place did not measure, another place cannot make good
_CODES = {state: code for code, state in enumerate(STATES)}
_RANK = np.array([0, 2, 1, -1])  # noisy is worse than not deep enough, which is worse than quiet
_LEVEL_STEP_DB = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """The worst that any sweep says of each carrier, the sweep that says it (-1 = none) and the typical level.

    `state` indexes `STATES`; `grade` is the typical level in steps of 3 dB above the floor.
    """

    state: npt.NDArray[np.int64]
    sweep: npt.NDArray[np.int64]
    grade: npt.NDArray[np.int64]


def judged(
    job: Job, radio: RadioType, sweep: Sweep, carriers_hz: npt.ArrayLike
) -> tuple[ChannelLevels, npt.NDArray[np.int64]]:
    """Return the levels of carriers in one sweep and what it says of each (a place in `STATES`).

    The brief's margin over the floor counts in any case. Where the sweep is calibrated and it is known what receivers
    of the type can bear (`core.receiver.bearable`), that counts too, with the gain ahead taken into account.
    """
    levels = channel_levels(sweep, carriers_hz=carriers_hz, bandwidth_hz=radio.bandwidth_hz)
    as_read_db = bearable_as_read(radio, sweep)
    return levels, noise_codes(levels, above_floor_db=job.wishes.close_above_floor_db, needed_db=as_read_db)


def bearable_as_read(radio: RadioType, sweep: Sweep) -> float | None:
    """Return what the instrument would read of the highest level that a link can bear; None where nobody knows."""
    can_bear = bearable(radio)
    if can_bear is None or not sweep.calibrated or sweep.gain_ahead_db is None:
        return None
    return can_bear.level_dbm + sweep.gain_ahead_db


def heard_on(job: Job, place: Place, radio: RadioType, carriers: Carriers, sweeps: Sequence[Sweep]) -> Heard:
    """Return the worst of all sweeps that count at a place; where two say the same, the higher level is the worse.

    Levels are compared as they were at the antenna where the gain behind it is stated. In different units they do not
    compare: then the one further above its own floor is.
    """
    unmeasured = _CODES[NoiseState.UNMEASURED]
    here = [(number, sweep) for number, sweep in enumerate(sweeps) if counts_at(place, sweep)]
    one_unit = len({sweep.unit for _, sweep in here}) == 1
    state, by = np.full(len(carriers), unmeasured, np.int64), np.full(len(carriers), -1, np.int64)
    grade = np.zeros(len(carriers), np.int64)
    highest = np.full(len(carriers), -np.inf)
    for number, sweep in here:
        levels, codes = judged(job, radio, sweep, carriers)
        read = levels.highest_db - (sweep.gain_ahead_db or 0.0) if one_unit else levels.above_floor_db
        level = np.nan_to_num(read, nan=-np.inf)
        worse = (_RANK[codes] > _RANK[state]) | ((codes == state) & (codes != unmeasured) & (level > highest))
        state, by = np.where(worse, codes, state), np.where(worse, number, by)
        highest = np.where(worse, level, highest)
        above = levels.typical_db - levels.typical_floor_db
        steps = np.nan_to_num(np.floor(np.maximum(above, 0) / _LEVEL_STEP_DB), nan=0.0).astype(np.int64)
        grade = np.maximum(grade, np.where(codes == unmeasured, 0, steps))
    return Heard(state=state, sweep=by, grade=grade)


def noise_of(job: Job, link: Link, carrier_hz: int, sweeps: Sequence[Sweep]) -> Noise:
    """Return the noise evidence for one carrier: from the sweep that says the worst of it, at the worst place."""
    found = [_noise_at_one(job, here, carrier_hz, sweeps) for here in at_each_place(job, link)]
    return max(found, key=lambda noise: (RANK_OF_PLACES[_CODES[noise.state]], noise.above_floor_db or 0.0))


def _noise_at_one(job: Job, link: Link, carrier_hz: int, sweeps: Sequence[Sweep]) -> Noise:
    heard = heard_on(job, job.place_of(link), link.radio, np.array([carrier_hz], np.int64), sweeps)
    if heard.sweep[0] < 0:
        return Noise(state=NoiseState.UNMEASURED)
    sweep = sweeps[int(heard.sweep[0])]
    levels = channel_levels(sweep, carriers_hz=[carrier_hz], bandwidth_hz=link.radio.bandwidth_hz)
    return Noise(
        state=STATES[int(heard.state[0])],
        value=float(levels.highest_db[0]),
        unit=levels.unit,
        over_hz=round(float(levels.over_hz[0])),
        above_floor_db=_known(levels.above_floor_db[0]),
        sweep=sweep.name,
        sweep_started=sweep.started,
        at_antenna=_at_antenna(link.radio, sweep, levels),
    )


def _at_antenna(radio: RadioType, sweep: Sweep, levels: ChannelLevels) -> AtAntenna | None:
    if not sweep.calibrated or sweep.gain_ahead_db is None:
        return None
    can_bear = bearable(radio)
    return AtAntenna(
        outside_dbm=_known(levels.outside_db[0] - sweep.gain_ahead_db),
        depth_dbm=_known(levels.floor_db[0] - sweep.gain_ahead_db),
        bears_dbm=None if can_bear is None else can_bear.level_dbm,
        bears_because=None if can_bear is None else can_bear.grounds,
    )


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def floor_alone_warnings(radios: Sequence[RadioType], sweeps: Sequence[Sweep]) -> Iterator[Warn]:
    """Say once where levels were compared with the floor of a sweep alone, and what is missing for more."""
    reasons = list(_missing(radios, sweeps))
    if reasons:
        text = (
            "Levels were compared with the sweep's own noise floor only, not with what a receiver can bear: "
            f"{'; '.join(reasons)}."
        )
        yield Warn(code="floor-alone", text=text)


def _missing(radios: Sequence[RadioType], sweeps: Sequence[Sweep]) -> Iterator[str]:
    relative = {
        "dB": "uncalibrated dB",
        "dBuV": "dBuV, of which nobody knows the impedance",
        "dBuV/m": "dBuV/m, which says nothing of an antenna",
    }
    for unit, words in relative.items():
        names = list(dict.fromkeys(sweep.name for sweep in sweeps if sweep.unit == unit))
        if names:
            yield f"{and_list(names)} {'is' if len(names) == 1 else 'are'} in {words}"
    unstated = [sweep.name for sweep in sweeps if sweep.unit == "dBm" and not sweep.calibrated]
    if unstated:
        yield f"nobody stated both antenna and gain_ahead_db of {and_list(list(dict.fromkeys(unstated)))}"
    unknown = list(dict.fromkeys(radio.name for radio in radios if bearable(radio) is None))
    if unknown and any(sweep.calibrated for sweep in sweeps):
        neither = "states neither" if len(unknown) == 1 else "state neither"
        yield f"{and_list(unknown)} {neither} noise_figure_db nor sensitivity_dbm with needs_cn_db"
