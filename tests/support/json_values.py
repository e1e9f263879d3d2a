"""Values that JSON can hold, and whether two are the same to the digit."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

letters = st.text(st.characters(exclude_categories=["Cs"]))
decimals = st.decimals(allow_nan=False, allow_infinity=False)
whole = st.integers() | st.integers(-(10**4000), 10**4000)
scalars = st.none() | st.booleans() | whole | decimals | letters
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(letters, inner, max_size=4), max_leaves=12
)


def alike(one: Any, two: Any) -> bool:
    """Whether two values are the same in type and digits; a decimal without a fraction may come back as an int."""
    if isinstance(one, Decimal) and one.as_tuple().exponent == 0 and isinstance(two, int):
        return one == two
    if type(one) is not type(two):
        return False
    if isinstance(one, dict):
        return list(one) == list(two) and all(alike(one[key], two[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(two) and all(map(alike, one, two))
    if isinstance(one, Decimal):
        return one.as_tuple() == two.as_tuple()
    return bool(one == two)
