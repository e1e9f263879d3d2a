"""`bandwright sound`: line-up, matches, times, ears and clocks of a brief, and what is told of them."""

from __future__ import annotations

import itertools
import json
import math
from importlib import resources
from pathlib import Path

import pytest
from brief_examples import library
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from sound_examples import AES, EARS, HEAD, HERON, L01, L02, RECORDER, VOICE, WHOLE
from thorough import cases

from bandwright.cli import program
from bandwright.core.drawing import Anchor, Line, Text, walk
from bandwright.core.picture_sound import sound_pictures
from bandwright.core.sound.report import report_on
from bandwright.documents.brief import read_brief
from bandwright.documents.outputs import sound_document
from bandwright.errors import InputError
from bandwright.reference import sound_tables
from bandwright.service.context import Context
from bandwright.service.sound import Sounded, sound_of_links
from bandwright.sheets.sound_text import sound_text
from bandwright.sheets.terminal import display_width


@pytest.fixture
def sounded(tmp_path: Path):
    def read(text: str, *links: str) -> Sounded:
        brief = tmp_path / "quay.toml"
        brief.write_text(text, encoding="utf-8")
        return sound_of_links(Context(), brief, link_ids=links)

    return read


def way(found: Sounded, link: str = "L01", number: int = 0):
    item = next(one for one in found.report.links if one.link.id == link)
    return item.ways[number]


def codes(found: Sounded, link: str = "L01") -> dict[str, str]:
    return {one.code: one.grade.value for one in way(found, link).remarks}


def texts(found: Sounded, link: str = "L01") -> str:
    return "\n".join(one.text for one in way(found, link).remarks)


def test_every_level_from_mouth_to_recorder_is_that_of_a_sum_by_hand(sounded, authority):
    found = way(sounded(WHOLE)).line_up
    # By hand: a shout at 1 m, brought to 0.2 m, through 20 mV/Pa, with the gain that leaves 6 dB over its peaks.
    peak = 82.30 + 15
    at_microphone = peak - 20 * math.log10(0.2)
    in_dbu = at_microphone - 93.979 + 20 * math.log10(0.020 / 0.774597)
    source = "ANSI S3.5-1997; 1/r law; 1 Pa = 93.979 dB SPL; 0 dBu = 0.774597 V; gain setting -18 dB of -24, -21, ..."
    assert in_dbu - 18 + 26 <= -6 < in_dbu - 15 + 26
    for where, theirs in (
        ("microphone", at_microphone),
        ("input", in_dbu),
        ("transmitter", in_dbu - 18 + 26),
        ("receiver", in_dbu - 18 + 26 + 18),
        ("reading", in_dbu - 18 + 26 + 18 - 24),
    ):
        point = found.point(where)
        assert point is not None
        authority(
            f"Loudest peak at {where}", source=source, ours=point.peak, theirs=theirs, tolerance=0.01, kind="arithmetic"
        )
    gain = found.setting("transmitter gain")
    assert gain is not None
    assert (gain.value_db, gain.stated) == (-18, False)


def test_the_tone_reads_what_the_standard_says_at_line_level(sounded, authority):
    found = way(sounded(WHOLE)).line_up
    receiver, trim = found.point("receiver"), found.setting("input trim")
    assert receiver is not None
    assert trim is not None
    authority(
        "Tone at -20 dBFS: receiver output, dBu",
        source="SMPTE RP 155 (+4 dBu)",
        ours=receiver.tone,
        theirs=4.0,
        tolerance=0.01,
    )
    assert trim.value_db == 0
    r68 = WHOLE.replace("smpte-rp155", "ebu-r68").replace("full_scale_dbu = 24", "full_scale_dbu = 18")
    point = way(sounded(r68)).line_up.point("receiver")
    assert point is not None
    authority(
        "Tone at -18 dBFS: receiver output, dBu", source="EBU R68 (0 dBu)", ours=point.tone, theirs=0.0, tolerance=0.01
    )
    told = one_line(sounded(WHOLE).text(columns=200))
    assert "tone at -20 dBFS: transmitter -14.0 dB against full deviation, receiver output line +4.0 dBu, input" in told


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_noise_adds_up_by_power_and_the_quietest_stands_over_it(sounded):
    found = way(sounded(WHOLE)).line_up
    quietest = 62.35 - 20 * math.log10(0.2)
    microphone = 26 - 93.979 + 20 * math.log10(0.020 / 0.774597)
    to_reading = -18 + 26 + 18 - 24
    noises = (microphone + to_reading, -118 + to_reading, -108 + 18 - 24, -110 - 24)
    noise = 10 * math.log10(sum(10 ** (one / 10) for one in noises))
    reading = quietest - 93.979 + 20 * math.log10(0.020 / 0.774597) + to_reading
    assert found.over_noise_db == pytest.approx(reading - noise, abs=0.01)


def test_a_gain_is_one_of_the_device_and_the_highest_that_leaves_the_headroom(sounded):
    for headroom_db in (0, 3, 6, 9.5, 12):
        text = WHOLE.replace("peaks_db = 15", f"peaks_db = 15\nheadroom_db = {headroom_db}")
        found = way(sounded(text)).line_up
        gain, point = found.setting("transmitter gain"), found.point("transmitter")
        assert gain is not None
        assert point is not None
        assert point.peak is not None
        assert gain.value_db in range(-24, 37, 3)
        assert point.peak <= -headroom_db < point.peak + 3


def test_nothing_is_wrong_with_a_chain_that_fits(sounded):
    found = sounded(WHOLE)
    assert found.exit_code == 0
    assert [item.state.value for item in found.report.links] == ["fits", "fits"]
    assert found.report.clocks[0].one is True


@pytest.mark.parametrize(
    ("old", "new", "code", "grade", "told"),
    [
        (
            "full_scale_dbu = 24",
            "full_scale_dbu = 6\noutput_db = 0\ntrim_db = 0",
            "hot",
            "wrong",
            "12 dB hot for recorder",
        ),
        (
            "full_scale_dbu = 24",
            "full_scale_dbu = 6\noutput_db = 0\ntrim_db = 0",
            "hot",
            "wrong",
            "receiver output to -12 dB",
        ),
        (
            "from_source_m = 0.2",
            "from_source_m = 0.2\ngain_db = 0",
            "clips",
            "wrong",
            "clips by 11.5 dB, first at heron",
        ),
        ("from_source_m = 0.2", "from_source_m = 0.2\ngain_db = 0", "gain-high", "caution", "set it to -18 dB"),
        (
            "from_source_m = 0.2",
            "from_source_m = 0.2\ngain_db = -24",
            "gain-low",
            "note",
            "could be 6 dB higher (-18 dB)",
        ),
        ("from_source_m = 0.2", "from_source_m = 0.2\ngain_db = -17", "no-such-setting", "wrong", "near is -18 dB"),
        ("input_most_dbu = 0", "input_most_dbu = -20", "clips", "wrong", "first at transmitter input; no gain helps"),
        ("most_db_spl = 130", "most_db_spl = 105", "clips", "wrong", "take a microphone that bears"),
        ('needs = "bias"', 'needs = "phantom"', "powering", "wrong", "needs phantom, and the transmitter gives bias"),
        ('output = "line"', 'output = "mic"', "mic-line", "caution", "A mic level output into a line level input"),
        ('output = "line"', 'output = "mic"\ntrim_db = 0', "low", "caution", "input trim to +30 dB"),
        ('input = "line"', 'input = "aes3"', "plug", "wrong", "A line output does not go into an AES3 input"),
        ('input = "line"', 'input = "line"\nphantom = true', "phantom", "caution", "Phantom power is on at recorder"),
        ('input = "line"', 'input = "line"\ncable_m = 12\nbalanced = false', "balance", "caution", "pick up hum"),
        ("self_noise_db = 26", "self_noise_db = 70", "noise", "caution", "dB over the noise"),
        (
            "from_source_m = 0.2",
            'from_source_m = 0.2\nreceiver_companding = "flat"',
            "pairing",
            "wrong",
            'set the receiver to "full"',
        ),
        (
            'needs = "bias"\ninverts = false',
            'needs = "bias"\ninverts = true',
            "polarity",
            "caution",
            "Polarity is turned",
        ),
        (
            'what = "speech"\nquietest = "normal"\nloudest = "shout"',
            'what = "singing"\nquietest_db_spl = 60\nloudest_db_spl = 90',
            "companding",
            "caution",
            "brittle",
        ),
    ],
)
def test_each_mismatch_is_told_with_what_to_do(sounded, old, new, code, grade, told):
    assert old in WHOLE
    found = sounded(WHOLE.replace(old, new), "L01")
    assert (code, grade) in {(one.code, one.grade.value) for one in way(found).remarks}, texts(found)
    assert told in texts(found)
    assert found.exit_code == ("wrong" in codes(found).values())


def test_phantom_that_an_output_does_not_bear_is_wrong(sounded):
    text = WHOLE.replace('input = "line"', 'input = "line"\nphantom = true')
    text = text.replace("full_dbu = 18,", "full_dbu = 18, bears_phantom = false,")
    assert codes(sounded(text))["phantom"] == "wrong"


def test_one_output_at_two_inputs_that_want_it_different_is_told(sounded):
    camera = RECORDER.replace('"recorder"', '"camera"').replace("= 24", "= 6").replace('"smpte-rp155"', '"ebu-r68"')
    camera = camera.replace("trims = { low_db = -6, high_db = 30, step_db = 1 }\n", "")
    found = sounded(WHOLE + camera, "L01")
    assert "shared-output" in {one.code for one in way(found, number=1).remarks}


def test_a_microphone_without_a_noise_figure_has_that_of_its_resistance(sounded, authority):
    text = WHOLE.replace("self_noise_db = 26", "output_ohm = 150")
    point = way(sounded(text)).line_up.point("microphone")
    assert point is not None
    theirs = -130.96 + 93.979 - 20 * math.log10(0.020 / 0.774597)
    source = "thermal noise of 150 ohm over 20 kHz, -130.96 dBu, at 20 mV/Pa"
    authority(
        "Noise of a microphone by its resistance, dB SPL",
        source=source,
        ours=point.noise,
        theirs=theirs,
        tolerance=0.01,
    )


def test_ways_of_one_sound_are_evened_out_by_the_delay_that_is_told(sounded):
    (group,) = sounded(WHOLE).report.together
    one, two = group.members
    air_ms = 0.1 / 343.2 * 1000  # 20 cm and 30 cm
    assert one.early_ms == pytest.approx(3 - 0.3 + air_ms, abs=1e-6)
    assert (two.early_ms, two.samples, two.notches_hz) == (0, 0, ())
    assert one.samples == round((2.7 + air_ms) * 48)
    assert one.metres == pytest.approx((2.7 + air_ms) / 1000 * 343.2)
    assert one.notches_hz[0] == pytest.approx(500 / (2.7 + air_ms))


def test_one_link_by_two_feeds_into_one_device_is_told_apart(sounded):
    second = RECORDER.replace('id = "recorder"', 'id = "backup"')
    text = one_line(sounded(HEAD + HERON + VOICE + L01 + RECORDER + second, "L01").text(columns=100))
    assert "L01 by recorder: arrives after" in text
    assert "L01 by backup: arrives after" in text


def test_many_alike_are_not_one_sound(sounded):
    assert sounded(WHOLE.replace("one = true", "one = false")).report.together == ()


def test_polarity_that_is_turned_on_one_way_alone_is_told(sounded):
    text = WHOLE.replace(
        "noise_db = 115\nlatency_ms = 3\ninverts = false", "noise_db = 115\nlatency_ms = 3\ninverts = true"
    )
    (group,) = sounded(text).report.together
    assert group.inverted in (("L01",), ("L02",))
    assert "is turned against the others" in sounded(text).text(columns=100)


def test_two_clocks_in_one_device_are_wrong(sounded):
    second = L02.replace("L02", "L03") + AES.replace('"aes"', '"aes2"').replace("L02", "L03").replace(
        'clock = "mixer"', 'clock = "house"'
    )
    found = sounded(WHOLE + second)
    assert found.report.clocks[0].one is False
    assert found.exit_code == 1
    assert "several clocks" in found.text(columns=120)
    converted = sounded(WHOLE + second.replace('clock = "house"', "converts_rate = true"))
    assert converted.report.clocks[0].one is True
    alone = sounded(WHOLE.replace("full_dbfs = 0", "full_dbfs = 0, own_clock = true"))
    assert alone.report.clocks[0].masters == (("receiver of L02", ("L02",)),)


def test_the_level_at_the_ear_is_that_of_the_power_in_the_earpiece(sounded, authority):
    found = sounded(HEAD + EARS, "E01")
    ear = way(found, "E01").ear
    assert ear is not None
    # Full deviation is +4 dBu = 1.22765 V in 32 ohm = 47.1 mW; the programme lies 12 dB, the limiter 15 dB under that.
    full_db = 110 + 10 * math.log10(1.22765**2 / 32 * 1000)
    source = "P = V^2 / R, 110 dB SPL for 1 mW"
    authority(
        "Most at the ear, dB SPL",
        source=source,
        ours=ear.most_db,
        theirs=full_db - 15,
        tolerance=0.01,
        kind="arithmetic",
    )
    assert ear.loudest_db == ear.most_db  # 12 dB under full is above the limiter
    upper = next(one for one in ear.by_loudest if one.limit.over_8h_db == 85)
    assert upper.hours == pytest.approx(8 * 2 ** ((85 - full_db + 15) / 3), rel=1e-4)
    assert upper.kept is False
    assert codes(found, "E01")["hearing"] in ("caution", "note")
    assert "In-ear levels can harm hearing" in found.text(columns=100)


def test_peaks_above_a_published_limit_are_told(sounded, authority):
    loud = EARS.replace("limiter_db = -15\n", "").replace("db_spl_per_mw = 110", "db_spl_per_mw = 121")
    found = sounded(HEAD + loud, "E01")
    ear = way(found, "E01").ear
    assert ear is not None
    told = next(one.text for one in way(found, "E01").remarks if one.code == "peak")
    authority(
        "Peak of a sine over its level, dB",
        source="definition: sqrt(2)",
        ours=float(told.split("about ")[1].split(" dB")[0]) - ear.most_db,
        theirs=3.01,
        tolerance=0.51,
        kind="arithmetic",
    )
    assert "above the peak of the limit value (140 dB, C-weighted" in told
    assert "peak" not in codes(sounded(HEAD + EARS, "E01"), "E01")


def test_an_earpiece_stated_by_volts_is_as_loud_as_one_stated_by_power(sounded):
    by_volts = 110 + 10 * math.log10(1 / 32 * 1000)
    text = EARS.replace("db_spl_per_mw = 110, ohm = 32", f"db_spl_per_v = {by_volts:.6f}")
    one, two = way(sounded(HEAD + EARS, "E01"), "E01").ear, way(sounded(HEAD + text, "E01"), "E01").ear
    assert one is not None
    assert two is not None
    assert one.most_db == pytest.approx(two.most_db, abs=1e-4)


def test_the_own_voice_in_the_ear_is_as_late_as_both_links_together(sounded):
    mara = WHOLE.replace('name = "Mara"', 'name = "Mara"\nwearer = "mara"') + EARS
    (loop,) = sounded(mara).report.loops
    assert loop.total_ms == pytest.approx(0.2 / 343.2 * 1000 + 0.3 + 0.5)


def test_what_is_missing_is_listed_and_the_rest_is_told(sounded):
    bare = HEAD + HERON.split("companding", maxsplit=1)[0] + '[[link]]\nid = "L01"\nradio = "heron"\n'
    found = sounded(bare)
    assert found.exit_code == 1
    assert found.report.links[0].state.value == "open"
    keys = {(gap.table, gap.key) for gap in found.report.links[0].gaps}
    assert {("link", "source"), ("link", "microphone"), ("feed", "for"), ("radio", "audio")} <= keys
    assert "source in [[link]] for L01" in found.text(columns=100)
    half = sounded(WHOLE.replace("self_noise_db = 26\n", "").replace("most_db_spl = 130\n", ""))
    assert half.report.links[0].ways[0].line_up.over_noise_db is None
    assert half.report.links[0].ways[0].line_up.headroom_db is not None


def test_noise_of_which_a_part_is_not_known_is_not_told_as_if_it_were(sounded):
    item = way(sounded(WHOLE.replace("noise_db = 108\n", ""), "L01")).line_up
    assert item.point("input").noise is not None
    assert item.over_noise_db is None


@pytest.mark.parametrize(
    ("gone", "key"),
    [
        ("most_db_spl = 130\n", "most_db_spl in [[microphone]] for lav"),
        ("input_most_dbu = 0\n", "audio.input_most_dbu in [[radio]] for heron"),
    ],
)
def test_what_clips_where_nobody_says_is_asked_for(sounded, gone, key):
    text = one_line(sounded(WHOLE.replace(gone, ""), "L01").text(columns=100))
    assert f"{key}; until then it is taken not to clip" in text


def test_what_feeds_a_microphone_is_asked_for_where_nobody_says(sounded):
    found = sounded(WHOLE.replace('gives = "bias"\n', "", 1), "L01")
    line = "audio.gives in [[radio]] for heron; until then it is taken to feed its microphone"
    assert line in one_line(found.text(columns=100))


def test_polarity_that_is_turned_as_far_as_stated_is_told(sounded):
    text = WHOLE.replace('needs = "bias"\ninverts = false', 'needs = "bias"\ninverts = true')
    found = sounded(text.replace("latency_ms = 0.3\ninverts = false\n", "latency_ms = 0.3\n"), "L01")
    assert codes(found)["polarity"] == "caution"
    assert "the rest of the way is not stated" in texts(found)


def test_a_gain_that_nobody_stated_is_not_called_the_lowest_and_the_pad_is_large_enough(sounded):
    gains = "gains = { low_db = -24, high_db = 36, step_db = 3 }\n"
    found = sounded(WHOLE.replace(gains, ""), "L01")
    over_db = -way(found).line_up.headroom_db
    assert f"turn its gain down if it has one (audio.gains), else a pad of {math.ceil(over_db + 3)} dB" in texts(found)
    lowest = sounded(WHOLE.replace(gains, gains.replace("-24", "0")), "L01")
    assert f"its gain is at the lowest already: a pad of {math.ceil(over_db + 3)} dB or more" in texts(lowest)


def test_a_bridge_of_which_too_little_is_stated_is_open(sounded):
    text = WHOLE + HERON.replace('"heron"', '"crane"').split("companding")[0]
    found = sounded(text.replace("from_source_m = 0.2", 'from_source_m = 0.2\nreceiver_radio = "crane"'), "L01")
    (item,) = found.report.links
    assert (item.pairing.match.value, item.state.value) == ("open", "open")
    assert ("crane", "companding: ratio") in {(gap.id, gap.key) for gap in item.gaps}
    assert ("heron", "companding: ratio") not in {(gap.id, gap.key) for gap in item.gaps}


def test_links_alike_share_one_diagram(sounded):
    text = WHOLE.replace('radio = "heron"\nsource', 'radio = "heron"\ncount = 5\nsource')
    found = sounded(text).text(columns=100)
    assert "L01.1, L01.2, L01.3, L01.4, L01.5: heron" in found
    assert found.count("to recorder:") == 1


def test_the_command_prints_one_json_object_with_every_level(tmp_path):
    brief = tmp_path / "quay.toml"
    brief.write_text(WHOLE + EARS, encoding="utf-8")
    done = CliRunner().invoke(program, ["sound", str(brief), "--json"])
    found = json.loads(done.output)
    assert found["schema"] == "bandwright.sound/1"
    points = found["links"][0]["ways"][0]["points"]
    assert [point["where"] for point in points] == [
        "source", "microphone", "input", "transmitter", "receiver", "feed", "reading",
    ]  # fmt: skip
    assert points[-1]["tone"] == -20
    assert {pair["match"] for pair in found["matrix"]} == {"same", "wrong"}
    assert found["links"][2]["ways"][0]["ear"]["limited"] is True
    told = CliRunner().invoke(program, ["sound", str(brief), "--link", "L01"])
    assert (told.exit_code, "L02:" in told.output) == (0, False)


def test_json_is_what_its_schema_says(tmp_path):
    schema = json.loads(resources.files("bandwright.documents").joinpath("schemas", "sound.json").read_text("utf-8"))
    for text in (WHOLE + EARS, HEAD + HERON + '[[link]]\nid = "L01"\nradio = "heron"\n'):
        brief = tmp_path / "quay.toml"
        brief.write_text(text, encoding="utf-8")
        done = CliRunner().invoke(program, ["sound", str(brief), "--json"])
        Draft202012Validator(schema).validate(json.loads(done.output))


@pytest.mark.parametrize("columns", [80, 100, 140])
def test_no_line_is_wider_than_the_terminal(sounded, columns):
    camera = RECORDER.replace('"recorder"', '"camera"').replace("= 24", '= 6\nname = "Camera of the second unit"')
    text = WHOLE.replace('name = "Mara"', 'name = "The understudy of the lamplighter, second cast"') + EARS + camera
    lines = sounded(text).text(columns=columns).splitlines()
    assert [line for line in lines if display_width(line) > columns] == []


_FACTS = [
    number
    for number, line in enumerate((WHOLE + EARS).splitlines())
    if " = " in line and not line.startswith(("id", "title", "state", "windows", "tuning", "defaults", "what", "radio"))
]


@settings(max_examples=cases(40), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sets(st.sampled_from(_FACTS)))
def test_whatever_is_left_out_the_rest_is_told(gone):
    kept = [line for number, line in enumerate((WHOLE + EARS).splitlines()) if number not in gone]
    try:
        job = read_brief("\n".join(kept) + "\n", file="quay.toml", library=library())
    except InputError:
        return  # what cannot be left out is asked for
    report = report_on(job, job.links, sound_tables())
    assert "Label" in sound_text(report, notes=())
    for item in report.links:
        for one in item.ways:
            levels = [value for point in one.line_up.points for value in (point.peak, point.noise, point.full)]
            assert all(value is None or math.isfinite(value) for value in levels)
    assert sound_document(report, inputs=(), warnings=()).links
    assert sound_pictures(report, {link.id: link.name for link in job.links})


def test_the_sheet_lists_a_missing_clock_and_no_ceiling_strikes_through_a_figure(sounded):
    text = WHOLE.replace('clock = "mixer"', "")
    peak = next(one.peak for one in sounded(text).report.links[0].ways[0].line_up.points if one.unit == "dB SPL")
    found = sounded(text.replace("most_db_spl = 130", f"most_db_spl = {peak + 18:.1f}"))
    names = {item.link.id: item.link.name for item in found.report.links}
    drawn = [item for page in sound_pictures(found.report, names) for item in walk(page.items)]
    words = [item for item in drawn if isinstance(item, Text)]
    assert any(item.text.startswith("clock in [[feed]]") for item in words)
    figures = [item for item in words if item.anchor is Anchor.MIDDLE and item.text.lstrip("-")[:1].isdigit()]
    ceilings = [item for item in drawn if isinstance(item, Line) and item.width == 2.0]
    assert figures
    assert ceilings
    for line, figure in itertools.product(ceilings, figures):
        across = line.start[0] < figure.at[0] < line.end[0]
        assert not (across and figure.at[1] - 5 < line.start[1] < figure.at[1] - 0.5)


_BARE = '[[link]]\nid = "T01"\nradio = "heron"\n[[link]]\nid = "T02"\nradio = "osprey"\n'


def test_links_of_which_no_level_can_be_told_are_named_in_one_line_and_have_no_table(sounded):
    found = sounded(WHOLE + _BARE).text(columns=200)
    assert found.count("quietest loudest") == 2  # those of L01 and L02
    said = "No level can be told of: T01, T02. Fill in source and microphone in [[link]]; for in [[feed]]."
    assert found.splitlines().count(said) == 1
    assert not any(line.startswith("T01: ") for line in found.splitlines())
    assert "No level can be told" not in sounded(WHOLE).text(columns=200)


def test_what_somebody_set_or_what_is_wrong_is_told_of_a_link_without_levels(sounded):
    gain = sounded(WHOLE + _BARE.replace('T01"', 'T01"\ngain_db = 6')).text(columns=200)
    assert "to nowhere that is stated: transmitter gain +6 dB" in gain
    assert gain.count("quietest loudest") == 2
    bridged = sounded(WHOLE + _BARE.replace('"heron"', '"heron"\nreceiver_companding = "flat"')).text(columns=200)
    assert "wrong: A compressor without an expander" in " ".join(bridged.split())


def test_on_paper_no_heading_stands_without_what_it_is_for(sounded):
    many = "".join(f'[[link]]\nid = "B{n:02}"\nradio = "heron"\n' for n in range(60))
    for text in (WHOLE + _BARE, WHOLE + many):
        found = sounded(text)
        ids = {item.link.id: item.link.name for item in found.report.links}
        pages = sound_pictures(found.report, ids)
        for page in pages:
            words = [item for item in walk(page.items) if isinstance(item, Text)]
            headings = [item for item in words if item.bold and item.at[0] == 0 and item.text not in ids]
            for item in headings:
                below = [other.at[1] for other in words if other.at[1] > item.at[1] and other not in headings]
                assert below, (page.title, item.text)
        told = [item.text for page in pages for item in walk(page.items) if isinstance(item, Text)]
        assert not any(text.endswith("to nowhere that is stated") for text in told)
        assert not any("more lines" in text for text in told)
        assert sum(text.startswith("No level can be told of: ") for text in told) == 1


def test_a_clock_that_nobody_stated_is_named_once(sounded):
    text = WHOLE.replace('clock = "mixer"', "")
    assert "Digital into mixer: clock of L02 not stated." in sounded(text).text(columns=100).splitlines()


def test_a_link_that_is_not_there_is_named_with_those_that_are(sounded):
    with pytest.raises(InputError, match="L09") as caught:
        sounded(WHOLE, "L09")
    assert "L01" in caught.value.faults[0].text
    with pytest.raises(InputError, match="the brief has no links"):
        sounded(HEAD + HERON)
