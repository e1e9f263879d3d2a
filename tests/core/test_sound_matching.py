"""Whether two ends go together: by axes, with the loss or the fix named."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from bandwright.core.audio import Audio
from bandwright.core.job import Job
from bandwright.core.kit import Companding, Detector, Direction, Emission, RadioType
from bandwright.core.sound.matching import End, Match, level_slope, matrix, pairing


def radio(radio_id: str = "heron", *kinds: Companding, **more: object) -> RadioType:
    facts = {
        "direction": Direction.FROM_PERSON,
        "emission": Emission.FM,
        "bandwidth_hz": 200_000,
        "spacing_hz": 350_000,
        "clearance_hz": (),
        "companding": kinds,
    }
    return RadioType(id=radio_id, name=radio_id, **{**facts, **more})  # type: ignore[arg-type]


FULL = Companding(name="full", ratio=2, detector=Detector.RMS, attack_ms=3, release_ms=80, preemphasis_us=50)
FLAT = Companding(name="flat", ratio=1, preemphasis_us=50)
REDUCED = replace(FULL, name="reduced", expansion=1.5)


def ends(one: Companding | None, two: Companding | None, **more: object) -> tuple[End, End]:
    first = radio("heron", *(kind for kind in (one, two) if kind is not None), **more)
    return End(radio=first, kind=one), End(radio=first, kind=two)


def test_the_same_kind_at_both_ends_is_the_same_also_when_nobody_described_it():
    assert pairing(*ends(FULL, FULL)).match is Match.SAME
    assert pairing(*ends(None, None)).match is Match.SAME


def test_a_compressor_without_an_expander_is_wrong_and_the_fix_is_named():
    found = pairing(*ends(FULL, FLAT))
    assert found.match is Match.WRONG
    assert found.faults == ("a compressor without an expander behind it: noise and room come up, dynamics are gone",)
    assert found.fix == 'set the receiver to "full" (2:1 rms, 50 us)'
    other = pairing(*ends(FLAT, FULL))
    assert other.faults == ("an expander without a compressor before it: quiet sounds vanish, loud ones jump",)
    assert other.fix == 'set the receiver to "flat" (no companding, 50 us)'


def test_the_transmitter_is_changed_where_the_receiver_has_nothing_that_fits():
    one = End(radio=radio("heron", FULL, FLAT), kind=FULL)
    two = End(radio=radio("osprey", FLAT), kind=FLAT)
    assert pairing(one, two).fix == 'set the transmitter to "flat" (no companding, 50 us)'
    alone = pairing(replace(one, radio=radio("heron", FULL)), two)
    assert alone.fix == "receive it with a heron"


def test_a_reduced_expander_goes_with_the_full_compressor_and_is_told():
    found = pairing(*ends(FULL, REDUCED))
    assert found.match is Match.SAME
    assert found.notes == ("the receiver hands on dynamics reduced to 75% of the dB, as it is meant to",)
    assert level_slope(*ends(FULL, REDUCED)) == 0.75


@pytest.mark.parametrize(("ratio", "match"), [(1.8, Match.COMPATIBLE), (3.0, Match.WRONG)])
def test_other_ratios_are_judged_by_what_they_do_20_db_down(authority, ratio, match):
    found = pairing(*ends(FULL, replace(FULL, ratio=ratio)))
    assert found.match is match
    (text,) = (*found.faults, *found.losses)
    # By definition: 20 dB down becomes 10 dB on the air (2:1), and 10 dB times the receiver's ratio behind it.
    error_db = -10 * ratio + 20
    word = "higher" if error_db > 0 else "lower"
    assert text.endswith(f"comes out {abs(error_db):.1f} dB {word}")
    source = "definition: 80 dB in, 40 dB on the air at 2:1, times the ratio of the expander behind it"
    slope = level_slope(*ends(FULL, replace(FULL, ratio=ratio)))
    authority(
        f"Slope of 2:1 into 1:{ratio:g}",
        source=source,
        ours=slope,
        theirs=ratio / 2,
        tolerance=1e-12,
        kind="arithmetic",
    )


def test_emphasis_that_differs_is_what_two_filters_give_at_10_khz(authority):
    found = pairing(*ends(replace(FULL, preemphasis_us=75), FULL))
    assert found.match is Match.COMPATIBLE
    at = 2 * math.pi * 10_000
    _, response = signal.freqs([75e-6, 1], [50e-6, 1], [at])
    theirs = 20 * np.log10(abs(response[0]))
    (text,) = found.losses
    ours = float(text.split("expander ")[1].split(" dB")[0])
    authority(
        "75 us into 50 us at 10 kHz, dB",
        source="scipy.signal.freqs",
        ours=ours,
        theirs=theirs,
        tolerance=0.05,
        kind="library",
    )
    assert pairing(*ends(replace(FULL, preemphasis_us=0), FULL)).match is Match.WRONG


def test_times_detectors_and_bands_that_differ_are_losses_and_no_more():
    other = replace(FULL, detector=Detector.PEAK, release_ms=400)
    found = pairing(*ends(replace(FULL, bands=1), replace(other, bands=2)))
    assert found.match is Match.COMPATIBLE
    assert len(found.losses) == 3


def test_deviation_that_differs_moves_everything_by_twice_its_db_behind_a_1_to_2_expander():
    one = End(radio=radio("heron", FULL, peak_deviation_hz=40_000), kind=FULL)
    two = End(radio=radio("osprey", FULL, peak_deviation_hz=50_000), kind=FULL)
    texts = pairing(one, two).losses
    assert "deviation differs: everything comes out 3.9 dB lower" in texts
    assert any(text.startswith("two radio types are bridged") for text in texts)
    far = replace(two, radio=radio("osprey", FULL, peak_deviation_hz=10_000))
    assert pairing(one, far).match is Match.WRONG


@pytest.mark.parametrize(
    ("one", "two", "told"),
    [
        ({}, {"tone_squelch_hz": 32_768}, "the receiver opens on a tone of 32.768 kHz"),
        ({"encrypted": True}, {"encrypted": False}, "only one end is encrypted"),
        ({"digital_mode": "wide"}, {"digital_mode": "dense"}, "the transmitter is in mode wide, the receiver in dense"),
    ],
)
def test_pairing_facts_that_do_not_agree_are_wrong(one, two, told):
    first = radio("heron", FULL, audio=Audio(**one))
    second = radio("osprey", FULL, audio=Audio(**two))
    found = pairing(End(radio=first, kind=FULL), End(radio=second, kind=FULL))
    assert found.match is Match.WRONG
    assert found.faults[0].startswith(told)


def test_stereo_and_mono_and_digital_and_analogue():
    stereo = End(radio=radio("wren", FULL, emission=Emission.FM_STEREO), kind=FULL)
    mono = End(radio=radio("heron", FULL), kind=FULL)
    digital = End(radio=radio("osprey", emission=Emission.DIGITAL), kind=None)
    assert any("side signal is lost" in text for text in pairing(stereo, mono).losses)
    assert "a mono transmitter on a stereo receiver: the same sound left and right" in pairing(mono, stereo).notes
    assert pairing(mono, digital).faults == ("one end is digital and the other is not: nothing is heard",)


def test_what_nobody_stated_leaves_it_open():
    one = End(radio=radio("heron"), kind=None)
    two = End(radio=radio("heron/narrow", FULL), kind=FULL)
    found = pairing(one, two)
    assert (found.match, found.not_stated) == (Match.OPEN, ("ratio", "preemphasis_us"))


def test_only_types_that_could_be_meant_for_each_other_are_compared():
    kit = (
        radio("heron", FULL, emission=Emission.FM),
        radio("stilt", emission=Emission.FM_STEREO),
        radio("osprey", emission=Emission.DIGITAL),
        radio("crane", emission=Emission.DIGITAL, direction=Direction.BOTH),
        radio("wren", FULL, direction=Direction.TO_PERSON),
    )
    job = Job(title="Quay", places=(), permits=(), radios=kit, links=())
    found = {(pair.transmitter.radio.id, pair.receiver.radio.id) for pair in matrix(job)}
    alone = {(one.id, one.id) for one in kit}
    assert found == alone | {("heron", "stilt"), ("stilt", "heron")}
