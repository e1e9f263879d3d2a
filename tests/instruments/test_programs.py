"""Rows of a program that sweeps: passed on whole and unchanged, and every way to fail in one sentence."""

from __future__ import annotations

import sys

import pytest
from fake_receivers import HOPS, Replay, rtl_row, rtl_sweep

from bandwright.errors import MachineError
from bandwright.instruments.programs import PROGRAMS, rows_of
from bandwright.instruments.transport import Child, Stream
from bandwright.instruments.wish import Wish
from bandwright.readers import rtl_power

RTL = PROGRAMS["rtl_power"]
WISH = Wish(low_hz=606_000_000, high_hz=614_000_000, bin_hz=25_000)


def rows(replay, **given):
    return rows_of(replay, program=RTL, read=rtl_power.parse, clock=replay.clock, **given)


def text_of(replay, **given):
    return b"".join(taken.text for taken in rows(replay, **given) if taken is not None).decode()


def test_rows_come_through_byte_for_byte_and_as_blocks():
    sweep = rtl_sweep()
    taken = [item for item in rows(Replay([*sweep, None, 0])) if item is not None]
    assert b"".join(item.text for item in taken).decode() == "".join(sweep)
    blocks = [block for item in taken for block in item.blocks]
    assert [round(block.first_hz) for block in blocks] == [606_000_000 + 2_000_000 * hop for hop in range(HOPS)]


def test_a_row_without_its_end_is_never_passed_on():
    half = rtl_row(1)[:200]
    assert text_of(Replay([rtl_row(0), half, 0])) == rtl_row(0)


@pytest.mark.parametrize("fields", [4, 6, 30])
def test_a_row_with_too_few_levels_is_never_passed_on(fields):
    short = ",".join(rtl_row(1).split(",")[:fields]) + "\n"
    assert text_of(Replay([rtl_row(0), short, rtl_row(2), 0])) == rtl_row(0) + rtl_row(2)


def test_levels_that_the_program_calls_nan_stay_missing():
    row = rtl_row(0).replace("-61.85,", "nan,", 1)
    assert "nan" in row
    assert text_of(Replay([row, 0])) == row


def test_nonsense_on_its_output_is_told_with_an_example():
    with pytest.raises(MachineError, match=r"rtl_power prints what is no row of levels, for example .Segm\?ntation"):
        text_of(Replay([rtl_row(0), *["Segm\x07ntation fault\n"] * 3]))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("rtl_power", b"No supported devices found.\n"),
        ("hackrf_sweep", b"hackrf_open() failed: HackRF not found (-5)\n"),
    ],
)
def test_a_missing_receiver_is_told(name, words):
    replay = Replay([words, 1])
    with pytest.raises(MachineError, match=rf"{name} finds no receiver it can use \(.*ound.*\); plug it in"):
        list(rows_of(replay, program=PROGRAMS[name], read=rtl_power.parse, clock=replay.clock))


def test_what_waits_when_the_receiver_is_lost_is_dropped_as_it_may_be_of_before():
    replay = Replay([*rtl_sweep(), None, b"Error: dropped samples.\n", *rtl_sweep(second=1), 0])
    passed = []
    with pytest.raises(MachineError, match=r"lost its receiver during the sweep \(.Error: dropped samples"):
        passed.extend(item.text for item in rows(replay) if item is not None)
    stale = Replay([*rtl_sweep(), b"Error: dropped samples.\n"])
    with pytest.raises(MachineError, match="lost its receiver"):
        passed.extend(item.text for item in rows(stale) if item is not None)
    assert not any(b"09:00:01" in text for text in passed)


def test_a_program_that_ends_by_itself_is_told_with_its_last_words():
    with pytest.raises(MachineError, match=r"rtl_power ended by itself with code 7 \(.usb trouble.\); look whether"):
        text_of(Replay([rtl_row(0), b"usb trouble\n", 7]))
    with pytest.raises(MachineError, match="ended without a single row of levels"):
        text_of(Replay([0]))


def test_of_its_words_those_that_tell_an_error_are_shown_and_not_the_help_behind_them():
    words = [
        b"argument error: FFT bin width (-w) must be no less than 2445\n",
        b"Usage:\n",
        b"\t-r filename # output file\n",
    ]
    with pytest.raises(MachineError, match=r"with code 1 \(.argument error: FFT bin width"):
        text_of(Replay([*words, 1]))


def test_a_program_that_hangs_is_told_after_a_while():
    with pytest.raises(MachineError, match=r"has sent no levels for 5 s; unplug the receiver"):
        text_of(Replay([rtl_row(0)]), patience_s=5)


def test_rows_are_handed_on_after_half_a_second_also_when_they_never_pause():
    replay = Replay([rtl_row(index % HOPS) for index in range(40)] + [0], step_s=0.1)
    first = next(item for item in rows(replay) if item is not None)
    assert 1 < len(first.blocks) < 10


def test_the_arguments_name_range_bin_and_single_sweep():
    once = Wish(low_hz=606_500_000, high_hz=613_500_000, bin_hz=25_000, once=True)
    assert RTL.arguments(once) == ["-f", "606500000:613500000:25000", "-i", "1", "-1", "-"]
    assert PROGRAMS["hackrf_sweep"].arguments(once) == ["-f", "606:614", "-w", "25000", "-1"]
    assert "-1" not in RTL.arguments(WISH)
    wide = Wish(low_hz=470_000_000, high_hz=694_000_000, bin_hz=25_000)
    assert RTL.arguments(wide)[2:4] == ["-i", "3"]  # 224 MHz are some 94 hops, and take more than a second


@pytest.mark.parametrize(("low", "high", "step"), [(0, 1, 1), (5, 5, 1), (6, 5, 1), (5, 9, 0), (5, 9, 5)])
def test_a_wish_that_makes_no_sense_is_refused(low, high, step):
    with pytest.raises(ValueError, match="given"):
        Wish(low_hz=low, high_hz=high, bin_hz=step)


def child(code):
    return Child([sys.executable, "-c", code])


def heard_until_end(process):
    said = []
    while not said or said[-1].stream is not Stream.END:
        one = process.heard(30)
        assert one is not None
        said.append(one)
    return said


def test_a_child_says_its_lines_its_complaints_and_its_code():
    process = child("import sys; print('a'); print('b', file=sys.stderr); sys.stdout.write('c'); sys.exit(3)")
    said = heard_until_end(process)
    process.stop()
    assert [one.line.strip() for one in said if one.stream is Stream.OUT] == [b"a", b"c"]
    assert [one.line.strip() for one in said if one.stream is Stream.ERROR] == [b"b"]
    assert said[-1].code == 3


def test_a_child_that_never_ends_and_floods_is_stopped():
    process = child("while True: print('x' * 100)")
    assert process.heard(30) is not None
    process.stop()
    assert process._process.returncode is not None


def test_a_program_that_cannot_be_started_is_told(tmp_path):
    with pytest.raises(MachineError, match=r"nothing-here cannot be started: No such file"):
        Child([str(tmp_path / "nothing-here")])
