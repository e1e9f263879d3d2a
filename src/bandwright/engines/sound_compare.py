"""Several chains at several RF levels with one sound: the long work behind a comparison of kinds of companding."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from bandwright.core.sound.judging import Case, Recommendation, Trial, case_of, recommended, trial_of
from bandwright.core.sound.simulate import Chain, RfLevel
from bandwright.engines.prepare import prepare_sound
from bandwright.engines.stop import Stop

__all__ = ["Comparison", "ComparisonStep", "compare_chains"]

Floats = npt.NDArray[np.float64]
Sounds = npt.NDArray[np.float32]

_MOST_THREADS = 2  # each holds about 30 bytes for each sample of the sound, and memory bandwidth is soon shared


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonStep:
    """How far a comparison is: the share of all its work, and how many of how many cases are done."""

    done: float
    cases: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """All cases in order of chains and levels, and what was found; None where somebody stopped it before the end.

    `received` holds what comes out by chain and level, where it was asked for, on the scale of the sound given.
    """

    cases: tuple[Case, ...]
    found: Recommendation | None
    stopped: str
    received: Mapping[tuple[str, str], Sounds] = field(default_factory=dict)


def compare_chains(
    chains: Sequence[Chain],
    levels: Sequence[RfLevel],
    sound: Floats,
    *,
    seed: int = 1,
    keep_sounds: bool = False,
    progress: Callable[[ComparisonStep], None] = lambda _: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Comparison:
    """Return how each chain carries a sound at each RF level, and which was found best.

    Two cases are worked on at a time where there are two processors; results do not depend on it.

    Parameters
    ----------
    chains
        Of different ids, and all at the rate of the sound.
    levels
        Of different names.
    sound
        Samples; 1.0 is the peak of a 1 kHz tone that modulates fully.
    seed
        Of noise and fading, which are the same for all chains.
    keep_sounds
        Whether to give back what comes out.
    progress, cancelled
        Told about each thousandth; asked as often. A comparison that was stopped has the cases that were done.

    Raises
    ------
    ValueError
        When there is nothing to compare, names are not different, or the sound is silent.
    """
    _check(chains, levels)
    prepare_sound()
    work = _Work(
        levels=levels,
        sound=sound,
        seed=seed,
        keep_sounds=keep_sounds,
        progress=progress,
        cancelled=cancelled,
        chains=len(chains),
    )
    with ThreadPoolExecutor(min(_MOST_THREADS, os.cpu_count() or 1)) as pool:
        futures = [pool.submit(work.chain, chain) for chain in chains]
        errors = [error for future in futures if (error := future.exception()) is not None]
    for error in errors:
        if not isinstance(error, Stop):
            raise error
    order = [(chain.id, level.name) for chain in chains for level in levels]
    cases = tuple(work.cases[key] for key in order if key in work.cases)
    return Comparison(
        cases=cases,
        found=None if errors else recommended(cases),
        stopped="cancelled" if errors else "done",
        received={key: work.received[key] for key in order if key in work.received},
    )


def _check(chains: Sequence[Chain], levels: Sequence[RfLevel]) -> None:
    if not chains or not levels:
        raise ValueError("a comparison wants at least one chain and one RF level")
    if len({chain.id for chain in chains}) < len(chains) or len({level.name for level in levels}) < len(levels):
        raise ValueError("chains and RF levels of a comparison have different names")
    if len({chain.link.rate_hz for chain in chains}) > 1:
        raise ValueError("all chains of a comparison run at the rate of the sound")


@dataclass(slots=True, kw_only=True)
class _Work:
    """What threads share: how far each case is, and what came out."""

    levels: Sequence[RfLevel]
    sound: Floats
    seed: int
    keep_sounds: bool
    progress: Callable[[ComparisonStep], None]
    cancelled: Callable[[], bool]
    chains: int
    cases: dict[tuple[str, str], Case] = field(default_factory=dict)
    received: dict[tuple[str, str], Sounds] = field(default_factory=dict)
    shares: dict[tuple[str, str], float] = field(default_factory=dict)
    told: float = 0.0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def chain(self, chain: Chain) -> None:
        """Work on all cases of one chain."""
        trial = trial_of(chain, self.sound, heard=lambda share: self.tell((chain.id, ""), share))
        for level in self.levels:
            self.case(trial, level)

    def case(self, trial: Trial, level: RfLevel) -> None:
        key = (trial.chain.id, level.name)
        case, received = case_of(trial, level, seed=self.seed, heard=lambda share: self.tell(key, 0.7 * share))
        with self.lock:
            self.cases[key] = case
            if self.keep_sounds:
                self.received[key] = received.astype(np.float32)
        self.tell(key, 1.0)

    def tell(self, key: tuple[str, str], share: float) -> None:
        with self.lock:
            if self.cancelled():
                raise Stop("cancelled")
            self.shares[key] = share
            done = sum(self.shares.values()) / (self.chains * (len(self.levels) + 1))
            if done < self.told + 0.001 and done < 1:
                return
            self.told = done
            self.progress(ComparisonStep(done=min(done, 1.0), cases=len(self.cases), of=self.chains * len(self.levels)))
