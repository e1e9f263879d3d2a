"""JSON without loss: written as the standard and Python write it, and read back digit for digit."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from enum import Enum
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from json_values import alike, decimals, letters, values, whole
from thorough import cases

from bandwright.exact_json import dumps, loads, plain


@given(values)
@settings(max_examples=cases(300), deadline=None)
def test_any_value_comes_back_with_its_type_and_its_digits(value: Any) -> None:
    assert alike(value, loads(dumps(value)))


plain_values = st.recursive(
    st.none() | st.booleans() | whole | letters,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(letters, inner, max_size=4),
    max_leaves=12,
)


@given(plain_values)
@settings(max_examples=cases(200), deadline=None)
def test_text_and_whole_numbers_are_written_as_python_writes_them(value: Any) -> None:
    # Outside the project: Python's own json module.
    assert dumps(value) == json.dumps(value, ensure_ascii=False, separators=(",", ":"))


# RFC 8259, section 6: number = [ minus ] int [ frac ] [ exp ]
RFC_8259_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?")


@given(decimals)
@settings(max_examples=cases(300), deadline=None)
def test_a_decimal_is_written_as_the_standard_writes_numbers(value: Decimal) -> None:
    assert RFC_8259_NUMBER.fullmatch(dumps(value))


def test_a_decimal_keeps_the_zeros_that_somebody_typed() -> None:
    assert dumps(loads(b'{"hold_mhz": 606.700}')) == '{"hold_mhz":606.700}'
    assert loads("0.1") == Decimal("0.1")


@pytest.mark.parametrize("text", ["NaN", "[Infinity]", '{"a":-Infinity}'])
def test_not_a_number_is_no_json(text: str) -> None:
    with pytest.raises(ValueError, match="is no number that JSON knows"):
        loads(text)


@pytest.mark.parametrize("text", ['"\\ud800"', '{"\\udfff": 1}', b'["\\ud83d"]'])
def test_half_of_a_surrogate_pair_is_no_letter(text: str | bytes) -> None:
    with pytest.raises(ValueError, match="surrogates not allowed"):
        loads(text)


def test_a_letter_that_is_written_as_a_surrogate_pair_is_read() -> None:
    assert loads('"\\ud83d\\ude00"') == "\U0001f600"


@pytest.mark.parametrize("text", ["[" * 100_000, '{"a":' * 100_000, '{"a":1e9999999999999999999}'])
def test_json_without_end_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="nests without end, or a number in it is immense"):
        loads(text)


def test_a_reader_says_how_deep_it_goes() -> None:
    assert loads("[[1]]", deepest=2) == [[1]]
    with pytest.raises(ValueError, match="more than 2 deep in each other"):
        loads("[[[1]]]", deepest=2)


@pytest.mark.parametrize("text", ["1e999", "1e-999", "9" * 301])
def test_what_no_page_can_hold_is_refused_where_pages_are_asked(text: str) -> None:
    # Outside the project: IEEE 754 binary64 goes to about 1.8e308.
    loads(text)
    with pytest.raises(ValueError, match="is beyond the numbers that are taken"):
        loads(text, as_double=True)


class Colour(Enum):
    RED = "red"


@dataclass(frozen=True, slots=True)
class Part:
    name: str
    level_db: float


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (-96.5, "-96.5"),
        (Part("Mara", 0.1), '{"name":"Mara","level_db":0.1}'),
        ([Colour.RED], '["red"]'),
        (date(2027, 5, 14), '"2027-05-14"'),
        (datetime(2027, 5, 14, 23, 0, tzinfo=UTC), '"2027-05-14T23:00:00+00:00"'),
        (time(19, 30), '"19:30"'),
        (time(19, 30, 5), '"19:30:05"'),
    ],
)
def test_values_of_the_program_are_written_where_that_is_asked_for(value: Any, text: str) -> None:
    assert dumps(value, other=plain) == text
    with pytest.raises(TypeError, match="cannot be kept exactly"):
        dumps(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_float_is_read_by_python_as_the_same_float(value: float) -> None:
    assert json.loads(dumps(value, other=plain)) == value


@pytest.mark.parametrize("value", [float("inf"), float("nan"), {1, 2}, b"bytes", {1: 2}, Part])
def test_what_json_has_no_form_for_is_never_written(value: Any) -> None:
    with pytest.raises((ValueError, TypeError)):
        dumps(value, other=plain)
