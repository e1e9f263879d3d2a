"""Sound through a simulated link: ten seconds at 96 kHz, and four kinds of companding at three RF levels.

Processor time, since other programs on the machine would count otherwise; a comparison works on two cases at a time,
so that it takes about half of its processor time where two processors are free.
"""

from __future__ import annotations

import functools
import time
from collections.abc import Callable, Sequence

import numpy as np

from bandwright.core.kit import Companding
from bandwright.core.sound.companding import compander_of
from bandwright.core.sound.fm import FmLink, through_fm
from bandwright.core.sound.material import Material, made
from bandwright.core.sound.recording import driven
from bandwright.core.sound.simulate import Chain, RfLevel, on_air, out_of, passed
from bandwright.engines.prepare import prepare_sound
from bandwright.engines.sound_compare import compare_chains
from benchmarks.measure import Benchmark, Figure

__all__ = ["benchmarks"]

RATE_HZ = 96_000
SECONDS = 10.0
LINK = FmLink(deviation_hz=50e3, bandwidth_hz=200e3, rate_hz=RATE_HZ)
KINDS = (
    Companding(name="full", ratio=2, preemphasis_us=75, ultrasonic_filter_hz=17_000),
    Companding(name="bands", ratio=2, preemphasis_us=50, bands=3),
    Companding(name="soft", ratio=2, preemphasis_us=0),
    Companding(name="flat", ratio=1, preemphasis_us=50),
)
LEVELS = (
    RfLevel(name="near", cn_db=40.0),
    RfLevel(name="far", cn_db=25.0, doppler_hz=2.8),
    RfLevel(name="limit", cn_db=12.0),
)


@functools.cache
def sound() -> np.ndarray:
    """Return the sound, with all kernels ready."""
    prepare_sound()
    return driven(made(Material.SPEECH, seconds=SECONDS, rate_hz=RATE_HZ, seed=1))


@functools.cache
def chains() -> tuple[Chain, ...]:
    """Return a chain of each kind."""
    return tuple(Chain(id=str(kind.name), sent=compander_of(kind)[0], link=LINK) for kind in KINDS)


def _processor_s(work: Callable[[], object], *, rounds: int = 3) -> float:
    work()
    found = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def _whole_chain_s(kind: int, level: RfLevel) -> float:
    return _processor_s(lambda: passed(sound(), chains()[kind], level, seed=1))


def _comparison_s() -> float:
    start = time.process_time()
    compare_chains(chains(), LEVELS, sound())
    return time.process_time() - start


def _part_s(part: str) -> float:
    chain, random = chains()[0], np.random.default_rng(1)
    air = on_air(sound(), chain)
    parts: dict[str, Callable[[], object]] = {
        "transmitter": lambda: on_air(sound(), chain),
        "carrier": lambda: through_fm(air, LINK, cn_db=40.0, random=random),
        "receiver": lambda: out_of(air, chain),
    }
    return _processor_s(parts[part])


def benchmarks() -> Sequence[Benchmark | Figure]:
    """Return what is measured."""
    whole = [
        Figure(
            name=f"sound: 10 s at 96 kHz through the whole link, {KINDS[kind].name}, {level.name}",
            measure=functools.partial(_whole_chain_s, kind, level),
            unit="s",
            limit=5.0,
        )
        for kind, level in ((0, LEVELS[0]), (0, LEVELS[1]), (1, LEVELS[2]))
    ]
    parts = [
        Figure(name=f"sound: of that, {part}", measure=functools.partial(_part_s, part), unit="s")
        for part in ("transmitter", "carrier", "receiver")
    ]
    comparison = Figure(
        name="sound: 4 kinds at 3 RF levels, processor time", measure=_comparison_s, unit="s", limit=120.0
    )
    return (*whole, *parts, comparison)
