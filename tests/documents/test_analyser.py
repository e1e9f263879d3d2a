"""Files on analysers: what they may say, and every mistake in them by line."""

from __future__ import annotations

import pytest

from bandwright.documents.analyser import read_analyser
from bandwright.errors import InputError
from bandwright.reference import analyser_files

((_, SHIPPED),) = analyser_files()


def test_the_shipped_file_is_the_kind_that_any_analyser_is_taken_to_be():
    kind = read_analyser(SHIPPED, file="shipped")
    assert (kind.id, kind.answers_to, kind.unit) == ("scpi-1999", (), "dBm")
    assert not kind.answers("Anything at all")


def test_all_words_of_a_reply_have_to_be_there():
    kind = read_analyser(f'{SHIPPED}\nanswers_to = ["pier", "42"]\n', file="own")
    assert kind.answers("Pier Instruments,Model 42,7,2.0")
    assert not kind.answers("Pier Instruments,Model 43,7,2.0")


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("most_points = 1001", "most_points = 1", r"own:\d+: .*most_points"),
        ("STOP {stop_hz}", "STOP {end_hz}", r"\{end_hz\} is not known; known are .*\{stop_hz\}"),
        ('unit = "dBm"', 'unit = "W"', r'unit is "W", but levels are in "dBm" or "dBuV"'),
        ("ask_trace =", "ask_traces =", r"ask_traces.*Did you mean .ask_trace"),
        ('prepare = ["FORMat:DATA ASCii", "INITiate:CONTinuous OFF"]', "prepare = 5", "a list of commands is needed"),
        ("bandwright_analyser = 1", "bandwright_analyser = 2", "bandwright_analyser"),
    ],
)
def test_a_mistake_is_told_with_what_is_allowed(old, new, sentence):
    assert old in SHIPPED
    with pytest.raises(InputError, match=f"(?s){sentence}"):
        read_analyser(SHIPPED.replace(old, new), file="own")
