"""Comparing kinds of companding from a brief: which, at which levels, with what sound, and files of it."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from bandwright.core.sound import comparing
from bandwright.errors import Cancelled, InputError
from bandwright.readers.wav import parse
from bandwright.service import sound_compare as service
from bandwright.service.context import Context
from bandwright.service.sound_compare import compare_sound
from bandwright.sheets.wav import wav

BRIEF = """
bandwright = 1
[job]
title = "Lantern Quay"
[[permit]]
id = "shared"
reference = "shared licence"
state = "granted"
windows_mhz = [[606.5, 613.5]]
[[radio]]
id = "heron"
name = "Heron (invented)"
direction = "from-person"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 48
spacing_khz = 350
clearance_khz = { "2A-B" = 100 }
companding = [
  { name = "full/on", ratio = 2, attack_ms = 3, preemphasis_us = 50, ultrasonic_filter_khz = 17 },
  { name = "flat", ratio = 1, preemphasis_us = 50 },
  { name = "open" },
]
[[radio]]
id = "bare"
name = "Bare (invented)"
direction = "from-person"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
clearance_khz = { "2A-B" = 100 }
[[radio]]
id = "numbers"
name = "Numbers (invented)"
direction = "from-person"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
emission = "digital"
bandwidth_khz = 200
spacing_khz = 350
clearance_khz = { "2A-B" = 100 }
[[radio]]
id = "wide"
name = "Wide (invented)"
direction = "from-person"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 1500
spacing_khz = 2000
clearance_khz = { "2A-B" = 100 }
companding = [{ name = "any", ratio = 2 }]
[[source]]
id = "aria"
what = "singing"
quietest_db_spl = 70
loudest_db_spl = 110
at_m = 0.1
[[link]]
id = "L01"
name = "Mara"
radio = "heron"
source = "aria"
"""


@pytest.fixture
def brief(tmp_path):
    path = tmp_path / "quay.toml"
    path.write_text(BRIEF, encoding="utf-8")
    return path


@pytest.fixture(autouse=True)
def short(monkeypatch):
    """Half a second at half the rate is enough here."""
    monkeypatch.setattr(service, "SECONDS", 0.5)
    monkeypatch.setattr(service, "RATE_HZ", 48_000)
    assert (comparing.SECONDS, comparing.RATE_HZ) == (10, 96_000)


def test_a_link_is_compared_with_a_sound_like_its_source_and_files_are_no_louder(brief, tmp_path):
    told = []
    result = compare_sound(Context(progress=told.append), brief, name="L01", wav=tmp_path / "heard")
    document = result.document().model_dump(by_alias=True)
    assert (document["schema"], document["radio"], document["link"]) == ("bandwright.sound-compare/1", "heron", "L01")
    assert document["sound"]["what"] == "sung"
    assert [kind["name"] for kind in document["kinds"]] == ["full/on", "flat"]
    assert document["kinds"][0]["ultrasonic_filter_khz"] == 17
    assert "detector" in document["kinds"][0]["assumed"]
    assert [(case["kind"], case["level"]) for case in document["cases"]] == [
        (kind, level) for kind in ("full/on", "flat") for level in ("near", "far", "limit")
    ]
    assert document["found"]["kind"] == "full/on"
    assert document["found"]["margin_db"] > 0
    names = sorted(path.name for path in (tmp_path / "heard").iterdir())
    assert names == sorted(item["file"] for item in document["files"])
    assert "full-on-near.wav" in names
    peaks = {}
    for path in (tmp_path / "heard").iterdir():
        data = path.read_bytes()
        peaks[path.name] = np.abs(parse(data, size=len(data), name=path.name, most_s=60).samples).max()
    assert max(peaks.values()) <= peaks["sent.wav"] + 2**-22
    assert peaks["sent.wav"] == pytest.approx(10 ** (-12 / 20), rel=0.01)
    assert told[-1].done == 1.0
    assert result.exit_code == 0
    text = result.text(columns=80)
    assert max(map(len, text.splitlines())) <= 80
    assert "Found: full/on, weighted error at its worst" in text
    assert "open: left out, since it states no ratio" in text
    assert "no louder than the sound that went in" in text
    assert "25 dB counts meanwhile" in " ".join(text.split())


def test_a_radio_type_is_compared_with_any_recording(brief, tmp_path):
    at_s = np.arange(8_000) / 8_000
    take = tmp_path / "take.wav"
    take.write_bytes(wav(0.25 * np.sin(2 * np.pi * 440 * at_s), rate_hz=8_000)[:-900])
    result = compare_sound(Context(), brief, name="heron", source_file=take, walking=True, seed=4)
    document = result.document()
    assert (document.sound.what, document.sound.file, document.link) == ("file", "take.wav", None)
    assert document.sound.seconds == pytest.approx(1 - 300 / 8_000, abs=1e-3)
    assert [item.name for item in document.inputs] == ["quay.toml", "take.wav"]
    assert [item.code for item in document.warnings] == ["cut-off"]
    assert document.cases[1].doppler_hz == pytest.approx(1.4 * 470.1e6 / 299_792_458, abs=0.01)
    assert document.files == ()
    assert "~" in result.text(columns=100)


def test_the_same_seed_gives_the_same_document(brief):
    one, again = (compare_sound(Context(), brief, name="heron", material="keys", seed=3).document() for _ in range(2))
    assert one == again
    assert one.sound.what == "keys"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"name": "bare"}, "bare states no kind of companding"),
        ({"name": "numbers"}, "numbers is digital: companding is simulated for FM in mono"),
        ({"name": "wide"}, "wide is 1500 kHz wide: up to 1000 kHz are simulated"),
        ({"name": "herom"}, 'there is no radio or link "herom"'),
        ({"name": "heron", "material": "drums"}, 'there is no sound "drums"; known: speech, sung, keys, clapper'),
    ],
)
def test_what_cannot_be_compared_is_refused_in_words(brief, options, said):
    with pytest.raises(InputError) as error:
        compare_sound(Context(), brief, **options)
    assert said in str(error.value)


def test_a_recording_that_is_missing_silent_or_none_is_refused(brief, tmp_path):
    silent = tmp_path / "silent.wav"
    silent.write_bytes(wav(np.zeros(500), rate_hz=48_000))
    other = tmp_path / "other.wav"
    other.write_bytes(struct.pack("<200H", *range(200)))
    for path, said in [
        (silent, "nothing but silence in this recording"),
        (other, "no WAV file"),
        (tmp_path / "none.wav", "there is no WAV file here"),
        (tmp_path, "there is no WAV file here"),
    ]:
        with pytest.raises(InputError) as error:
            compare_sound(Context(), brief, name="heron", source_file=path)
        assert said in str(error.value)


def test_files_never_go_over_the_recording_they_come_from(brief, tmp_path):
    take = tmp_path / "sent.wav"
    take.write_bytes(wav(0.1 * np.ones(500), rate_hz=48_000))
    with pytest.raises(InputError, match="lies in this folder itself"):
        compare_sound(Context(), brief, name="heron", source_file=take, wav=tmp_path)
    with pytest.raises(InputError):
        compare_sound(Context(), brief, name="heron", wav=take)


def test_stopped_before_anything_it_ends_as_cancelled_and_later_it_shows_what_is_done(brief, tmp_path):
    with pytest.raises(Cancelled):
        compare_sound(Context(cancelled=lambda: True), brief, name="heron", wav=tmp_path / "heard")
    assert not (tmp_path / "heard").exists()
    told = []
    stop = Context(
        progress=told.append, cancelled=lambda: bool(told) and not told[-1].text.startswith(("prep", "simulating: 0"))
    )
    result = compare_sound(stop, brief, name="heron", wav=tmp_path / "heard")
    document = result.document()
    assert (document.stopped, document.found, document.files) == ("cancelled", None, ())
    assert 0 < len(document.cases) < 6
    assert "Stopped before the end" in result.text(columns=80)
    assert not (tmp_path / "heard").exists()
