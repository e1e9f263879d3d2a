"""What a brief says of sound."""

from __future__ import annotations

import pytest
from brief_examples import library

from bandwright.core.audio import Plug
from bandwright.core.kit import Companding, Detector, LinkSound
from bandwright.documents.brief import read_brief
from bandwright.errors import InputError

HEAD = """
[job]
title = "Lantern Quay"
[[permit]]
id = "shared"
state = "granted"
windows_mhz = [[606.5, 613.5]]
"""
RADIO = """
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606, high_mhz = 614, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
"""
KINDS = """companding = [
  { name = "smooth", ratio = 2, detector = "rms", attack_ms = 3, release_ms = 80, preemphasis_us = 50 },
  { name = "flat", ratio = 1, preemphasis_us = 0, ultrasonic_filter_khz = 17 },
]
"""
LINK = """
[[link]]
id = "L01"
radio = "heron"
"""


def read(text: str):
    return read_brief(HEAD + text, file="quay.toml", library=library())


def faults(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(text)
    return [fault.text for fault in caught.value.faults]


def test_a_radio_type_lists_the_kinds_of_companding_it_can_be_set_to():
    smooth, flat = read(RADIO + KINDS).radios[0].companding
    assert smooth == Companding(
        name="smooth", ratio=2, detector=Detector.RMS, attack_ms=3, release_ms=80, preemphasis_us=50
    )
    assert (flat.ratio, flat.preemphasis_us, flat.ultrasonic_filter_hz) == (1, 0, 17_000)
    assert flat.detector is None


def test_a_variant_has_the_companding_of_its_base_unless_it_says_otherwise():
    text = (
        RADIO + KINDS + '[[radio.variant]]\nid = "narrow"\n[[radio.variant]]\nid = "d"\ncompanding = [{ ratio = 1 }]\n'
    )
    _, narrow, other = read(text).radios
    assert [kind.name for kind in narrow.companding] == ["smooth", "flat"]
    assert [kind.ratio for kind in other.companding] == [1]


def test_a_link_chooses_a_kind_at_each_end():
    link = read(RADIO + KINDS + LINK + 'companding = "flat"\nreceiver_companding = "smooth"\n').links[0]
    assert link.sound == LinkSound(companding="flat", receiver_companding="smooth")


def test_an_unknown_kind_is_told_with_those_that_there_are():
    (text,) = faults(RADIO + KINDS + LINK + 'companding = "smoth"\n')
    assert text == 'link "L01": there is no kind of companding "smoth"; known: smooth, flat.'


def test_the_receiver_may_be_of_another_type_with_kinds_of_its_own():
    other = RADIO.replace("heron", "osprey") + 'companding = [{ name = "old", ratio = 2 }]\n'
    link = read(RADIO + KINDS + other + LINK + 'receiver_radio = "osprey"\nreceiver_companding = "old"\n').links[0]
    assert (link.sound.receiver_radio, link.sound.receiver_companding) == ("osprey", "old")
    (text,) = faults(RADIO + KINDS + LINK + 'receiver_radio = "heorn"\n')
    assert text == 'link "L01": there is no radio type "heorn"; known: heron.'


@pytest.mark.parametrize(
    ("kinds", "told"),
    [
        ("[{ ratio = 2 }, { ratio = 3 }]", "must give each of several kinds a name of its own."),
        ('[{ name = "a" }, { name = "a" }]', "must give each of several kinds a name of its own."),
        ("[]", "must describe a kind of companding."),
        ("[{ ratio = 0.5 }]", "companding[1].ratio is 0.5, but must lie between 1 and 20."),
        ('[{ detector = "vu" }]', 'companding[1].detector is "vu", but must be one of "rms", "peak".'),
        ("[{ preemphasis_us = -1 }]", "preemphasis_us is -1, but must lie between 0 and 1000 us."),
        ("[{ attack_ms = 0 }]", "attack_ms is 0, but must lie between 0.001 and 10000 ms."),
        ("{ ratio = 2 }", "must be a list."),
    ],
)
def test_what_cannot_be_a_kind_of_companding_is_told(kinds: str, told: str):
    (text,) = faults(RADIO + f"companding = {kinds}\n")
    assert told in text


AUDIO = """
[radio.audio]
input_full_dbu = -30
gains = { low_db = -12, high_db = 32, step_db = 4 }
gives = "bias"
outputs = [{ name = "XLR", what = "line", full_dbu = 18 }, { what = "mic", full_dbu = -20 }]
noise_db = 108
"""
SOUND = """
[[microphone]]
id = "lavalier"
sensitivity_mv_per_pa = 20
needs = "bias"
[[source]]
id = "voice"
what = "speech"
quietest = "normal"
loudest = "shout"
[[feed]]
id = "recorder"
for = ["L01"]
output = "XLR"
input = "line"
reference = "smpte-rp155"
full_scale_dbu = 24
"""
WHOLE = RADIO + AUDIO + LINK + 'source = "voice"\nmicrophone = "lavalier"\nfrom_source_m = 0.2\n' + SOUND


def test_a_link_names_what_it_carries_and_a_feed_where_it_goes():
    job = read(WHOLE)
    audio = job.radios[0].audio
    assert audio is not None
    assert [output.name for output in audio.outputs] == ["XLR", "mic"]
    assert audio.gains is not None
    assert audio.gains.settings_db == (-12, -8, -4, 0, 4, 8, 12, 16, 20, 24, 28, 32)
    assert job.links[0].sound == LinkSound(source="voice", microphone="lavalier", from_source_m=0.2)
    assert (job.sources[0].name, job.sources[0].loudest, job.sources[0].one) == ("voice", "shout", False)
    assert (job.feeds[0].links, job.feeds[0].output, job.feeds[0].input) == (("L01",), "XLR", Plug.LINE)


def test_a_feed_names_the_links_that_a_count_makes():
    job = read(WHOLE.replace('radio = "heron"', 'radio = "heron"\ncount = 2'))
    assert job.feeds[0].links == ("L01.1", "L01.2")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('source = "voice"', 'source = "voise"', 'link "L01": there is no source "voise"; known: voice.'),
        ('microphone = "lavalier"', 'microphone = "x"', 'link "L01": there is no microphone "x"; known: lavalier.'),
        ('loudest = "shout"', 'loudest = "scream"', "known: normal, raised, loud, shout."),
        ("smpte-rp155", "rp155", "known: ebu-r68, smpte-rp155, minus-12."),
        ('output = "XLR"', 'output = "xlr"', 'feed "recorder": there is no output "xlr"; known: XLR, mic.'),
        ('for = ["L01"]', 'for = ["L1"]', 'there is no unit, link, rack or receiver "L1"; known: L01.'),
        ('what = "speech"', 'what = "instrument"', "but an instrument has no quietest."),
        ('what = "speech"', 'what = "programme"', "but a programme has no quietest."),
        ('quietest = "normal"', "quietest_db_spl = 90\nloudest_db_spl = 60", "but must run upwards."),
        ("step_db = 4 }", "step_db = 0 }", "step_db is 0, but must lie between 0.01 and 100 dB."),
        ("low_db = -12,", "low_db = 40,", "but must run upwards."),
        ("low_db = -12,", "low_db = -499,", "has more than 1000 settings"),
        ('name = "XLR"', 'name = "mic"', "must give each output a name of its own."),
        ('input = "line"', "earpiece = { ohm = 32 }", "must say how loud it is."),
        ('needs = "bias"', 'needs = "battery"', 'needs is "battery", but must be one of "nothing", "bias", "phantom".'),
    ],
)
def test_what_cannot_be_about_sound_is_told(old: str, new: str, told: str):
    text = WHOLE.replace(old, new)
    if "-499" in new:
        text = text.replace("step_db = 4", "step_db = 0.01")
    assert text != WHOLE
    assert any(told in found for found in faults(text)), faults(text)
