from __future__ import annotations

import pytest

from bandwright import reference
from bandwright.core.library import Library
from bandwright.documents.brief import init_text, read_brief
from bandwright.errors import InputError

LIBRARY = Library(
    classes=reference.generic_classes(), rasters=reference.rasters(), rules=reference.rule_tables(), kit=()
)
FREQUENCIES = ("carrier_mhz", "bandwidth_khz", "keep_away_khz")


def refusal(key: str, value: str) -> InputError:
    keys = {"carrier_mhz": "600", "bandwidth_khz": "200", key: value}
    table = "\n".join(f"{name} = {given}" for name, given in keys.items())
    with pytest.raises(InputError) as caught:
        read_brief(f'{init_text()}\n[[other]]\nid = "immense"\n{table}\n', file="brief.toml", library=LIBRARY)
    return caught.value


@pytest.mark.parametrize("key", FREQUENCIES)
@pytest.mark.parametrize("value", ["1e999999999", "-1e999999999", "1e999999", "-1e999999", "1e30"])
def test_a_frequency_with_an_immense_exponent_is_refused_with_its_line(key, value):
    (fault,) = refusal(key, value).faults
    assert fault.code == "too-large"
    assert fault.line is not None
    assert f"{key} is {value.upper().replace('E', 'E+')}, but must be at most" in str(fault)


@pytest.mark.parametrize("key", FREQUENCIES)
def test_a_vanishing_frequency_is_finer_than_one_hz(key):
    (fault,) = refusal(key, "1e-999999999").faults
    assert fault.code == "finer-than-1-hz"


def test_an_exponent_that_no_decimal_can_hold_is_said_in_words():
    error = refusal("carrier_mhz", "1e9999999999999999999999")
    assert "it holds a number with an immense exponent. Write the number that is meant." in str(error)


def test_a_number_in_hz_is_still_shown_in_its_own_unit():
    assert "If that is in Hz, write 606.7." in str(refusal("carrier_mhz", "606700000"))
