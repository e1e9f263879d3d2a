"""How well a chain carries a sound, in numbers, and which of several carries it best."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.sound.probing import (
    Burst,
    Noise,
    NoiseProbe,
    StaticPoint,
    burst_through,
    db_of,
    noise_of,
    noise_probe,
    static_curve,
)
from bandwright.core.sound.simulate import Chain, RfLevel, on_air, passed, wanted
from bandwright.core.sound.weighting import Weighting, power_of

__all__ = ["CLEAR_DB", "Case", "Recommendation", "Trial", "case_of", "recommended", "trial_of"]

Floats = npt.NDArray[np.float64]

CLEAR_DB = 1.0
"""Two levels that are closer than this are taken as alike; a choice of ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One chain at one RF level, with one sound.

    Errors are differences between sent and received, in dB against the sound sent: lower is better. `error_db` counts
    20 Hz to 20 kHz alike, `error_468_db` and `error_a_db` are weighted (the sound is not). `tracking_468_db` is what
    would be left without noise and fading: what compander, limiter and filters do by themselves. `limited_share` is the
    part of the time that the deviation limiter cuts off peaks of the sound.
    """

    chain: str
    level: str
    cn_db: float | None
    doppler_hz: float | None
    error_db: float
    error_468_db: float
    error_a_db: float
    tracking_468_db: float
    limited_share: float
    noise: Noise
    burst: Burst
    static: tuple[StaticPoint, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Trial:
    """A sound and what a chain makes of it whatever the RF level: modulation, and what comes out without noise."""

    chain: Chain
    sound: Floats
    modulating: Floats
    wanted: Floats
    clean: Floats
    noise: NoiseProbe


@dataclass(frozen=True, slots=True, kw_only=True)
class Recommendation:
    """Which chain was found best among those compared, and the numbers that decided it.

    `decided_by` is error_468_db, each chain's worst over all RF levels (for `chain` that is at `level`), or
    rest_468_db, its worst noise at rest: of several chains that are less than `CLEAR_DB` from the least error, one that
    is quieter than the others by as much. `value_db` and `next_db` are the two numbers of it, `next_chain` is the
    runner-up, None where there is no other. `alike` names all chains whose errors are that close. `ranked` is all of
    them by their worst error.
    """

    chain: str
    level: str
    decided_by: str
    value_db: float
    next_chain: str | None
    next_db: float | None
    alike: tuple[str, ...]
    ranked: tuple[tuple[str, float], ...]

    @property
    def margin_db(self) -> float | None:
        """By how much it is better in what decided."""
        return None if self.next_db is None else self.next_db - self.value_db


def trial_of(chain: Chain, sound: Floats, *, heard: Callable[[float], None] = lambda _: None) -> Trial:
    """Return a sound with all that a chain makes of it whatever the RF level."""
    modulating = on_air(sound, chain)
    clean = passed(sound, chain, RfLevel(name="clean", cn_db=None), seed=0, modulating=modulating, heard=heard)
    return Trial(
        chain=chain,
        sound=sound,
        modulating=modulating,
        wanted=wanted(sound, chain),
        clean=clean,
        noise=noise_probe(chain),
    )


def case_of(
    trial: Trial, level: RfLevel, *, seed: int, heard: Callable[[float], None] = lambda _: None
) -> tuple[Case, Floats]:
    """Return the numbers of a trial at an RF level, and the sound as it is received.

    Raises
    ------
    ValueError
        When the sound is silent: nothing can be held against it.
    """
    chain, rate_hz = trial.chain, trial.chain.link.rate_hz
    reference = power_of(trial.wanted, Weighting.FLAT, rate_hz=rate_hz)
    if reference <= 0:
        raise ValueError("a silent sound has no error")
    received = passed(trial.sound, chain, level, seed=seed, modulating=trial.modulating, heard=heard)
    error = received - trial.wanted
    tracking = trial.clean - trial.wanted
    case = Case(
        chain=chain.id,
        level=level.name,
        cn_db=level.cn_db,
        doppler_hz=level.doppler_hz,
        error_db=db_of(power_of(error, Weighting.FLAT, rate_hz=rate_hz), reference),
        error_468_db=db_of(power_of(error, Weighting.BS468, rate_hz=rate_hz), reference),
        error_a_db=db_of(power_of(error, Weighting.A, rate_hz=rate_hz), reference),
        tracking_468_db=db_of(power_of(tracking, Weighting.BS468, rate_hz=rate_hz), reference),
        limited_share=float(np.mean(np.abs(trial.modulating) > 1)),
        noise=noise_of(chain, level, trial.noise, seed=seed),
        burst=burst_through(chain, level, seed=seed),
        static=static_curve(chain, level, seed=seed),
    )
    return case, received


def recommended(cases: Sequence[Case]) -> Recommendation:
    """Return the chain whose worst error is least, or of several that are alike in that, one that is quieter at rest.

    Parameters
    ----------
    cases
        At least one; each chain at every RF level that counts.
    """
    worst: dict[str, Case] = {}
    rest: dict[str, float] = {}
    for case in cases:
        if case.chain not in worst or case.error_468_db > worst[case.chain].error_468_db:
            worst[case.chain] = case
        rest[case.chain] = max(rest.get(case.chain, case.noise.rest_468_db), case.noise.rest_468_db)
    errors = {chain: case.error_468_db for chain, case in worst.items()}
    ranked = sorted(errors, key=errors.__getitem__)
    alike = [chain for chain in ranked if errors[chain] < errors[ranked[0]] + CLEAR_DB]
    quiet = sorted(alike, key=rest.__getitem__)
    by_rest = len(alike) > 1 and rest[quiet[1]] >= rest[quiet[0]] + CLEAR_DB
    order, values = (quiet, rest) if by_rest else (ranked, errors)
    second = order[1] if len(order) > 1 else None
    return Recommendation(
        chain=order[0],
        level=worst[order[0]].level,
        decided_by="rest_468_db" if by_rest else "error_468_db",
        value_db=values[order[0]],
        next_chain=second,
        next_db=None if second is None else values[second],
        alike=tuple(alike),
        ranked=tuple((chain, errors[chain]) for chain in ranked),
    )
