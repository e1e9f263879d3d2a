"""Carriers as people write them, and what is said of what they cannot have meant."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandwright.cli import run
from bandwright.documents.frequency import read_mhz


@given(st.decimals(min_value="0.000001", max_value=100_000, places=6), st.sampled_from(["", " MHz", "mhz"]))
def test_six_decimals_are_read_exactly_with_point_or_comma(mhz, unit):
    for text in (f"{mhz:f}", f"{mhz:f}".replace(".", ",")):
        assert read_mhz(text + unit).hz == int(mhz * Decimal(1_000_000))


@pytest.mark.parametrize(
    ("text", "code", "hint"),
    [
        ("609500", "out-of-range", "Did you mean 609.500?"),
        ("174000", "out-of-range", "Did you mean 174.000?"),
        ("609500000", "out-of-range", "Did you mean 609.500?"),
        ("609512.5 MHz", "out-of-range", "Did you mean 609.5125?"),
        ("123456789012", "out-of-range", None),
        ("0", "out-of-range", None),
        ("606.70001234", "finer-than-1-hz", None),
        ("six", "not-a-number", None),
        ("-606.7", "not-a-number", None),
        ("1e3", "not-a-number", None),
        ("", "not-a-number", None),
        ("9" * 5000, "not-a-number", None),
    ],
)
def test_what_is_no_carrier_is_refused_with_what_was_meant(text, code, hint):
    found = read_mhz(text)
    assert (found.hz, found.code, found.hint) == (None, code, hint)


def test_why_says_what_was_meant(tmp_path, capsys):
    brief = tmp_path / "b.toml"
    assert run(["init", str(brief)]) == 0
    capsys.readouterr()
    assert run(["why", str(brief), "609500"]) == 2
    said = capsys.readouterr().err
    assert '"609500" is no carrier of a radio link (MHz are asked for, not kHz or Hz)' in said
    assert "Did you mean 609.500?" in said
    assert run(["why", str(brief), "606.70001234"]) == 2
    assert '"606.70001234" MHz is finer than 1 Hz' in capsys.readouterr().err
