"""A comparison tells how far it is, can be stopped, and says the same whoever runs it."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest

from bandwright.core.kit import Companding
from bandwright.core.sound.companding import compander_of
from bandwright.core.sound.fm import FmLink
from bandwright.core.sound.material import Material, made
from bandwright.core.sound.simulate import Chain, RfLevel
from bandwright.engines import sound_compare
from bandwright.engines.sound_compare import compare_chains
from bandwright.engines.worker import Worker

RATE_HZ = 48_000
LINK = FmLink(deviation_hz=50e3, bandwidth_hz=200e3, rate_hz=RATE_HZ)
LEVELS = (RfLevel(name="near", cn_db=40.0), RfLevel(name="far", cn_db=12.0))
SOUND = 0.5 * made(Material.SPEECH, seconds=0.5, rate_hz=RATE_HZ, seed=1)


def chain(name, **axes):
    return Chain(id=name, sent=compander_of(Companding(**axes))[0], link=LINK)


CHAINS = (chain("companded", ratio=2), chain("plain", ratio=1))


def test_every_chain_is_tried_at_every_level_and_one_is_found():
    steps = []
    result = compare_chains(CHAINS, LEVELS, SOUND, keep_sounds=True, progress=steps.append)
    order = [(case.chain, case.level) for case in result.cases]
    assert order == [(c.id, level.name) for c in CHAINS for level in LEVELS]
    assert result.stopped == "done"
    assert result.found.chain == "companded"
    assert set(result.received) == set(order)
    assert all(len(sound) == len(SOUND) for sound in result.received.values())
    done = [step.done for step in steps]
    assert done == sorted(done)
    assert (done[-1], steps[-1].cases, steps[-1].of) == (1.0, 4, 4)


def test_the_worker_says_the_same_as_this_process_and_one_thread_as_two(monkeypatch):
    far = LEVELS[1:]
    here = compare_chains(CHAINS, far, SOUND)
    with Worker() as worker:
        there = worker.submit(compare_chains, CHAINS, far, SOUND).result()
    assert there.cases == here.cases
    assert there.found == here.found
    monkeypatch.setattr(sound_compare, "_MOST_THREADS", 1)
    assert compare_chains(CHAINS, far, SOUND).cases == here.cases


def test_a_comparison_that_is_stopped_keeps_the_cases_that_were_done(monkeypatch):
    monkeypatch.setattr(sound_compare, "_MOST_THREADS", 1)
    steps = []
    result = compare_chains(
        CHAINS,
        LEVELS,
        SOUND,
        progress=steps.append,
        cancelled=lambda: bool(steps) and steps[-1].cases >= 1,
    )
    assert (result.stopped, result.found) == ("cancelled", None)
    assert [(case.chain, case.level) for case in result.cases] == [("companded", "near")]


def test_what_cannot_be_compared_is_refused():
    for chains, levels, said in [
        ((), LEVELS, "at least one chain"),
        ((CHAINS[0], CHAINS[0]), LEVELS, "different names"),
        (CHAINS, (LEVELS[0], LEVELS[0]), "different names"),
    ]:
        with pytest.raises(ValueError, match=said):
            compare_chains(chains, levels, SOUND)
    other = Chain(id="slow", sent=CHAINS[0].sent, link=FmLink(deviation_hz=50e3, bandwidth_hz=2e5, rate_hz=96_000))
    with pytest.raises(ValueError, match="rate of the sound"):
        compare_chains((CHAINS[0], other), LEVELS, SOUND)
    with pytest.raises(ValueError, match="silent"):
        compare_chains(CHAINS, LEVELS, np.zeros(100))


_MEETS_EVERY_KERNEL = """
import numpy as np
from bandwright.core.kit import Companding, Detector
from bandwright.core.sound.companding import compander_of
from bandwright.core.sound.fm import FmLink
from bandwright.core.sound.simulate import Chain, RfLevel
from bandwright.engines.prepare import load_sound
from bandwright.engines.sound_compare import compare_chains
from bandwright.kernels import audio

load_sound()
ready = [len(kernel.signatures) for kernel in (audio.first_order, audio.follow)]
link = FmLink(deviation_hz=2_500, bandwidth_hz=12_500, rate_hz=48_000)
kind = Companding(ratio=2, bands=3, detector=Detector.PEAK, ultrasonic_filter_hz=17_000, expansion=1.5)
chain = Chain(id="any", sent=compander_of(kind)[0], link=link)
compare_chains([chain], [RfLevel(name="far", cn_db=12.0, doppler_hz=3.0)], np.sin(np.arange(2_000) / 9))
print(ready, [len(kernel.signatures) for kernel in (audio.first_order, audio.follow)])
"""


def test_a_comparison_needs_no_kernel_that_was_not_made_ready():
    run = subprocess.run(
        [sys.executable, "-c", _MEETS_EVERY_KERNEL],
        env=os.environ | {"BANDWRIGHT_UNCOMPILED": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.stdout.strip() == "[1, 1] [1, 1]", run.stderr
