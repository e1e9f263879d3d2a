"""The book of authorities itself: it must refuse what does not agree."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

SOURCE = "arithmetic"


def test_equal_numbers_agree(authority):
    authority("one and one", source=SOURCE, ours=1 + 1, theirs=2)
    authority("a half", source=SOURCE, ours=Decimal("0.5"), theirs=0.5)


def test_a_number_outside_the_tolerance_fails_and_both_values_are_named(authority):
    with pytest.raises(AssertionError, match=r"ours is 1\.1, arithmetic says 1; they differ by 0\.1, allowed is 0\.05"):
        authority("one", source=SOURCE, ours=1.1, theirs=1, tolerance=0.05)


def test_sequences_are_compared_item_by_item(authority):
    authority("two numbers", source=SOURCE, ours=(1.0, 2.01), theirs=[1, 2], tolerance=0.02)
    with pytest.raises(AssertionError):
        authority("two numbers", source=SOURCE, ours=(1.0, 2.01), theirs=[1], tolerance=0.02)


@pytest.mark.parametrize(("ours", "theirs"), [(math.nan, 1), ("1", 1), (None, 0), (True, 2), ([1], 1)])
def test_what_is_no_number_never_agrees_by_tolerance(authority, ours, theirs):
    with pytest.raises(AssertionError):
        authority("no number", source=SOURCE, ours=ours, theirs=theirs, tolerance=10)


def test_an_unknown_kind_lists_the_known_ones(authority):
    with pytest.raises(AssertionError, match="published, library, arithmetic, common practice, memory"):
        authority("one", source=SOURCE, ours=1, theirs=1, kind="hearsay")
