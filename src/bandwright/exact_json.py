"""JSON in and out without loss: decimals stay decimals digit for digit, and nothing passes through a float unasked."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, time
from decimal import Decimal
from enum import Enum
from json.encoder import encode_basestring
from typing import Any, NoReturn

__all__ = ["dumps", "loads", "moment_text", "plain"]

_DEEPEST = 100
_MOST_EXPONENT = 300  # a double, which is what a page has, goes no further

Other = Callable[[Any], Any]
"""Returns what is written in the place of a value that JSON has no form for; raises TypeError where nothing is."""


def dumps(value: Any, *, other: Other | None = None) -> str:
    """Return a value as compact JSON text.

    >>> dumps({"hold_mhz": Decimal("606.700"), "count": 2})
    '{"hold_mhz":606.700,"count":2}'

    Parameters
    ----------
    value
        None, True, False, text, `int`, a finite `Decimal`, or lists and mappings of these (keys are text). A tuple is
        written as a list. A `Decimal` without a fraction or an exponent comes back as the equal `int`.
    other
        What to do with anything else, such as `plain`.

    Raises
    ------
    ValueError
        For text that is no Unicode (half of a surrogate pair), a number that is not finite or has more digits than
        Python reads, or more than 100 levels of lists and tables.
    TypeError
        For anything else; without `other` for a `float` too, since most decimals have no exact binary form.
    """
    written: list[str] = []
    _write(value, written.append, _DEEPEST, other or _refused)
    return "".join(written)


def loads(text: str | bytes, *, deepest: int | None = None, as_double: bool = False) -> Any:
    """Return the value of a JSON text; numbers with a fraction or an exponent are `Decimal`.

    >>> loads('{"hold_mhz":606.700,"count":2}')
    {'hold_mhz': Decimal('606.700'), 'count': 2}

    Parameters
    ----------
    text
        The text, or its bytes in UTF-8.
    deepest
        How many levels of lists and tables there may be; None for as many as Python reads.
    as_double
        Whether to refuse numbers beyond the range of a double, which no page can hold.

    Raises
    ------
    ValueError
        When it is no JSON, nests without end, or holds half of a surrogate pair, NaN or an infinity.
    """
    found = _decimal_as_double if as_double else Decimal
    whole = _whole_as_double if as_double else None
    try:
        value = json.loads(text, parse_float=found, parse_int=whole, parse_constant=_no_constant)
    except (RecursionError, ArithmeticError) as error:
        raise ValueError("it nests without end, or a number in it is immense") from error
    if "\\u" in text if isinstance(text, str) else b"\\u" in text:  # only such a sign can stand for half of a pair
        json.dumps(value, ensure_ascii=False, default=str).encode()
    if deepest is not None:
        _refuse_deep(value, deepest, deepest)
    return value


def plain(value: Any) -> Any:
    """Return what JSON writes in the place of a value of the program's own; for `dumps`.

    A `float` becomes the decimal that Python shows for it; dates and times become text, a time of the day as a brief
    has it; dataclasses become tables, enumerations their values.

    Raises
    ------
    TypeError
        For what JSON has no form for.
    """
    if isinstance(value, float):
        return Decimal(repr(value))
    if isinstance(value, date | time):
        return moment_text(value)
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: getattr(value, field.name) for field in fields(value)}
    return _refused(value)


def moment_text(value: date | time) -> str:
    """Return a date or time as text: a time of the day as a brief has it, 19:30."""
    if isinstance(value, time):
        return value.isoformat("minutes" if not (value.second or value.microsecond) else "auto")
    return value.isoformat()


# ------------------------------------------------------------------------------------------------------- writing


def _write(value: Any, write: Callable[[str], Any], left: int, other: Other) -> None:
    if left < 0:
        raise ValueError(f"lists and tables lie more than {_DEEPEST} deep in each other")
    if isinstance(value, str):
        write(_text(value))
    elif isinstance(value, Mapping):
        _write_table(value, write, left, other)
    elif isinstance(value, list | tuple):
        _write_list(value, write, left, other)
    elif (scalar := _scalar(value)) is not None:
        write(scalar)
    else:
        _write(other(value), write, left - 1, other)


def _write_table(value: Mapping[Any, Any], write: Callable[[str], Any], left: int, other: Other) -> None:
    between = "{"
    for key, item in value.items():
        if not isinstance(key, str):
            raise TypeError(f"a key is text, not {key!r}")
        write(f"{between}{_text(key)}:")
        _write(item, write, left - 1, other)
        between = ","
    write("}" if value else "{}")


def _write_list(value: list[Any] | tuple[Any, ...], write: Callable[[str], Any], left: int, other: Other) -> None:
    between = "["
    for item in value:
        write(between)
        _write(item, write, left - 1, other)
        between = ","
    write("]" if value else "[]")


def _scalar(value: Any) -> str | None:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return _digits(value)
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise ValueError(f"{value} is not a finite number")
        return str(value)
    return None


def _digits(value: int) -> str:
    try:
        return int.__repr__(value)
    except ValueError as error:
        raise ValueError(f"a whole number of more than {sys.get_int_max_str_digits()} digits") from error


def _text(value: str) -> str:
    if not value.isascii():
        try:
            value.encode()
        except UnicodeEncodeError as error:
            raise ValueError(f"{value!r} holds half a surrogate pair, which is no letter") from error
    return encode_basestring(value)


def _refused(value: Any) -> NoReturn:
    raise TypeError(f"{type(value).__name__} cannot be kept exactly; give text, int or Decimal")


# ------------------------------------------------------------------------------------------------------- reading


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number that JSON knows")


def _decimal_as_double(text: str) -> Decimal:
    value = Decimal(text)
    if value and abs(value.adjusted()) > _MOST_EXPONENT:
        raise ValueError(f"{text[:40]} is beyond the numbers that are taken")
    return value


def _whole_as_double(text: str) -> int:
    if len(text) > _MOST_EXPONENT:
        raise ValueError(f"{text[:40]}... is beyond the numbers that are taken")
    return int(text)


def _refuse_deep(value: Any, left: int, deepest: int) -> None:
    if left < 0:
        raise ValueError(f"lists and tables lie more than {deepest} deep in each other")
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    for item in inner:
        _refuse_deep(item, left - 1, deepest)
