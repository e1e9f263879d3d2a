"""The kinds of values a brief holds: each turns what TOML gives into the value the core wants, or says why not.

Frequencies arrive as decimals in MHz or kHz and leave as whole Hz.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from bandwright.core.bands import Span
from bandwright.core.kit import Direction, Emission, MakesProducts, PowerKind, Worn
from bandwright.core.permits import PermitState
from bandwright.core.products import FAMILIES
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.units import HZ_PER_KHZ, HZ_PER_MHZ, hz_from

__all__ = [
    "ID_RULE",
    "ChannelLabels",
    "Clearance",
    "Day",
    "Decibels",
    "DirectionWord",
    "EmissionWord",
    "FamilyName",
    "Flag",
    "Id",
    "IdList",
    "InsideWord",
    "Khz",
    "KhzOrZero",
    "MakesProductsWord",
    "Mhz",
    "Milliwatts",
    "Moment",
    "MovableWord",
    "PermitStateWord",
    "PowerKindWord",
    "PowerList",
    "RadioName",
    "Seconds",
    "Text",
    "UnmeasuredWord",
    "WhereWord",
    "Window",
    "Windows",
    "WornWord",
    "whole",
    "wrong",
]

ID_RULE = "up to 64 letters (a-z, A-Z), digits, '.', '_' and '-', first a letter, digit or '_'"
HIGHEST_MHZ = 300_000
HIGHEST_MW = 1_000_000
LONGEST_TEXT = 200
YEARS = range(1990, 2200)

_ID = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,63}")
_CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)")

Value = TypeVar("Value")


def wrong(code: str, problem: str, *, allowed: str | None = None, hint: str | None = None) -> PydanticCustomError:
    """Return the error of one value; `problem` completes the sentence "... is 0, but"."""
    # pydantic fills {…} in the message, and takes the type of a code as a literal.
    return PydanticCustomError(code, "{problem}", {"problem": problem, "allowed": allowed, "hint": hint})


# ------------------------------------------------------------------------------------------------------- numbers


def _number(value: Any, unit: str) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        hint = "Write it without quotes, with a decimal point." if isinstance(value, str) else None
        raise wrong("not-a-number", f"must be a number{unit}", allowed=f"a number{unit}, without quotes", hint=hint)
    if isinstance(value, Decimal) and not value.is_finite():
        raise wrong("not-finite", "must be a finite number", allowed=f"a finite number{unit}")
    if isinstance(value, int) and abs(value) > 10**18:
        raise wrong("too-large", "must have at most 18 digits", allowed=f"a number{unit} of at most 18 digits")
    return Decimal(value)


def _whole_hz(value: Any, unit: str, hz_per_unit: int) -> int:
    number = _number(value, f" of {unit}")
    highest = HIGHEST_MHZ * HZ_PER_MHZ // hz_per_unit
    if number.copy_abs() > highest:
        raise wrong(
            "too-large",
            f"must be at most {highest} {unit}",
            allowed=f"up to {highest} {unit}",
            hint=_other_unit(number, unit, highest),
        )
    finest = Decimal(1) / hz_per_unit
    rounded = number.quantize(finest)
    if rounded != number:
        raise wrong(
            "finer-than-1-hz",
            f"must be whole Hz, which is at most {-finest.adjusted()} decimals in {unit}",
            allowed="whole Hz",
            hint=f"Round it to {rounded}." if rounded else None,
        )
    return hz_from(number, hz_per_unit=hz_per_unit)


def _other_unit(number: Decimal, unit: str, highest: int) -> str | None:
    """Return what a number far too large for its unit is in a smaller one."""
    for smaller, factor in _SMALLER[unit]:
        if number.copy_abs() <= highest * factor:  # the quotient of an immense number would overflow
            return f"If that is in {smaller}, write {(number / factor).normalize():f}."
    return None


_SMALLER = {"MHz": (("kHz", 1_000), ("Hz", 1_000_000)), "kHz": (("Hz", 1_000),)}


def _above_zero(unit: str, hz_per_unit: int) -> Callable[[Any], int]:
    def check(value: Any) -> int:
        hz = _whole_hz(value, unit, hz_per_unit)
        if hz <= 0:
            raise wrong("not-above-zero", f"must be more than 0 {unit}", allowed=f"more than 0 {unit}")
        return hz

    return check


def _zero_or_more_khz(value: Any) -> int:
    hz = _whole_hz(value, "kHz", HZ_PER_KHZ)
    if hz < 0:
        raise wrong("negative", "must not be negative", allowed="0 kHz or more")
    return hz


def _clearance(value: Any) -> int:
    hz = _whole_hz(value, "kHz", HZ_PER_KHZ)
    if hz == 0:
        raise wrong(
            "zero-clearance",
            "0 is refused: it would let a product fall on the carrier itself",
            allowed="more than 0 kHz",
            hint='Write 0.001 (1 Hz) for "not coincident", or leave the family out to switch it off.',
        )
    if hz < 0:
        raise wrong("negative", "must be more than 0 kHz", allowed="more than 0 kHz")
    return hz


def _milliwatts(value: Any) -> float:
    number = _number(value, " of mW")
    if number <= 0:
        raise wrong("not-above-zero", "must be more than 0 mW", allowed="more than 0 mW")
    if number > HIGHEST_MW or float(number) == 0:
        raise wrong("too-large", f"must be between 0 and {HIGHEST_MW} mW", allowed=f"up to {HIGHEST_MW} mW")
    return float(number)


def _powers(value: Any) -> tuple[float, ...]:
    powers = tuple(_milliwatts(item) for item in (value if isinstance(value, list) else [value]))
    if not powers:
        raise wrong("empty", "must list a power", allowed="one or more powers in mW", hint="Leave it out if unknown.")
    return tuple(sorted(set(powers)))


def _decibels(value: Any) -> float:
    number = _number(value, " of dB")
    if number.copy_abs() > 500:
        raise wrong("too-large", "must lie between -500 and 500", allowed="-500 to 500")
    return float(number)


def _seconds(value: Any) -> float:
    number = _number(value, " of seconds")
    if not 0 < number <= 86_400 or float(number) == 0:
        raise wrong("out-of-range", "must be more than 0 and at most 86400 s", allowed="more than 0, up to 86400 s")
    return float(number)


def whole(low: int, high: int) -> Callable[[Any], int]:
    """Return a check for whole numbers from `low` to `high`."""

    def check(value: Any) -> int:
        allowed = f"a whole number from {low} to {high}"
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise wrong("not-a-whole-number", f"must be {allowed}", allowed=allowed)
        return value

    return check


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise wrong(
            "not-true-or-false", "must be true or false", allowed="true, false", hint="Write it without quotes."
        )
    return value


def _window(value: Any) -> Span:
    if not isinstance(value, list) or len(value) != 2:
        hint = "Write [[606.5, 613.5]] for one window."
        raise wrong("not-a-window", "must be two frequencies in brackets", allowed="[low, high] in MHz", hint=hint)
    low_hz, high_hz = (_above_zero("MHz", HZ_PER_MHZ)(item) for item in value)
    if low_hz >= high_hz:
        raise wrong("reversed", "must run upwards", allowed="[low, high] in MHz", hint="Write the lower edge first.")
    return Span(low_hz, high_hz)


def _nested(value: Any) -> Any:
    """Refuse one window without the outer brackets once, and not for each of its edges."""
    if isinstance(value, list) and value and not any(isinstance(item, list) for item in value):
        hint = "Write [[606.5, 613.5]] for one window."
        allowed = "a list of windows, each [low, high] in MHz"
        raise wrong("not-a-window", "must be a list of windows", allowed=allowed, hint=hint)
    return value


# --------------------------------------------------------------------------------------------------------- words


def _text(value: Any) -> str:
    if not isinstance(value, str):
        hint = f'Write it in quotes: "{value}"' if isinstance(value, int) and abs(value) < 10**9 else None
        raise wrong("not-text", "must be text", allowed='text in quotes, such as "Mara"', hint=hint)
    text = value.strip()
    if not 0 < len(text) <= LONGEST_TEXT or not text.isprintable():
        allowed = f"one line of 1 to {LONGEST_TEXT} letters"
        raise wrong("not-one-line", f"must be {allowed}", allowed=allowed)
    return text


def _id(value: Any) -> str:
    if not isinstance(value, str) or not _ID.fullmatch(value):
        hint = f'Write it in quotes: "{value}"' if isinstance(value, int) and value in range(10**9) else None
        raise wrong("bad-id", f"an id has {ID_RULE}", allowed=ID_RULE, hint=hint)
    return value


def _radio_name(value: Any) -> str:
    parts = value.split("/") if isinstance(value, str) else []
    if not 1 <= len(parts) <= 2 or not all(_ID.fullmatch(part) for part in parts):
        raise wrong("bad-id", "must be the id of a radio type", allowed='"heron", or "heron/narrow" for a variant')
    return "/".join(parts)


def _ids(value: Any) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_id(item) for item in (value if isinstance(value, list) else [value])))


def _labels(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise wrong("not-a-list", "must be a list of TV channel labels", allowed='a list such as ["23", "26"]')
    for item in value:
        if not isinstance(item, str):
            hint = "Labels are text, because there is a 9A."
            allowed = 'a list such as ["23", "26"]'
            raise wrong("not-text", "each label must stand in quotes", allowed=allowed, hint=hint)
    return tuple(dict.fromkeys(value))


def _one_of(kind: type[StrEnum]) -> Callable[[Any], Any]:
    words = [item.value for item in kind]
    return lambda value: kind(_word(value, words))


def _among(*words: str) -> Callable[[Any], str]:
    return lambda value: _word(value, words)


def _word(value: Any, words: list[str] | tuple[str, ...]) -> str:
    if not isinstance(value, str) or value not in words:
        allowed = ", ".join(f'"{word}"' for word in words)
        hint = nearest_hint(value, words) if isinstance(value, str) else None
        raise wrong("unknown-word", f"must be one of {allowed}", allowed=list_text(words), hint=hint)
    return value


def _makes_products(value: Any) -> MakesProducts:
    known: dict[Any, MakesProducts] = {"auto": MakesProducts.AUTO}
    if isinstance(value, bool):
        return MakesProducts.YES if value else MakesProducts.NO
    if not isinstance(value, str) or value not in known:
        raise wrong("unknown-word", 'must be true, false or "auto"', allowed='true, false, "auto"')
    return known[value]


def _family(value: Any) -> str:
    if value not in FAMILIES:
        known = list_text(FAMILIES)
        problem = f"the IM families known here are {known}"
        raise wrong("unknown-family", problem, allowed=known, hint=nearest_hint(str(value), FAMILIES))
    return str(value)


# --------------------------------------------------------------------------------------------------------- times


def _moment(value: Any) -> datetime | date | time:
    if isinstance(value, str) and (clock := _CLOCK.fullmatch(value)):
        return time(int(clock[1]), int(clock[2]))
    if isinstance(value, time):
        return value
    if isinstance(value, date) and value.year in YEARS:
        return value
    allowed = '"HH:MM" on every job date, a date, or a date with time such as 2027-05-14T19:30:00'
    hint = 'Midnight at the end of a day is "00:00".' if value == "24:00" else None
    raise wrong("not-a-time", f"must be {allowed}", allowed=allowed, hint=hint)


def _day(value: Any) -> date:
    if isinstance(value, datetime) or not isinstance(value, date) or value.year not in YEARS:
        allowed = f"dates such as 2027-05-14, without quotes, from {YEARS.start} to {YEARS.stop - 1}"
        hint = "Write it without quotes." if isinstance(value, str) else None
        raise wrong("not-a-date", f"must be a day from {YEARS.start} to {YEARS.stop - 1}", allowed=allowed, hint=hint)
    return value


# --------------------------------------------------------------------------------------------------------- names


def _schema(kind: str, **more: Any) -> WithJsonSchema:
    return WithJsonSchema({"type": kind, **more})


def _words(kind: type[StrEnum]) -> WithJsonSchema:
    return _schema("string", enum=[item.value for item in kind])


_POSITIVE = _schema("number", exclusiveMinimum=0)
_ID_SCHEMA = {"type": "string", "pattern": f"^{_ID.pattern}$"}
_INSIDE = ("bandwidth", "carrier")
_MOVABLE = ("now", "break", "never")
_UNMEASURED = ("avoid", "allow", "close")
_WHERE = ("anywhere", "same-wearer", "same-rack")

Mhz = Annotated[int, PlainValidator(_above_zero("MHz", HZ_PER_MHZ)), _POSITIVE]
Khz = Annotated[int, PlainValidator(_above_zero("kHz", HZ_PER_KHZ)), _POSITIVE]
KhzOrZero = Annotated[int, PlainValidator(_zero_or_more_khz), _schema("number", minimum=0)]
Clearance = Annotated[int, PlainValidator(_clearance), _POSITIVE]
Milliwatts = Annotated[float, PlainValidator(_milliwatts), _POSITIVE]
PowerList = Annotated[
    tuple[float, ...],
    PlainValidator(_powers),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "exclusiveMinimum": 0},
                {"type": "array", "minItems": 1, "items": {"type": "number", "exclusiveMinimum": 0}},
            ]
        }
    ),
]
Decibels = Annotated[float, PlainValidator(_decibels), _schema("number", minimum=-500, maximum=500)]
Seconds = Annotated[float, PlainValidator(_seconds), _schema("number", exclusiveMinimum=0, maximum=86_400)]
Flag = Annotated[bool, PlainValidator(_flag), _schema("boolean")]
Window = Annotated[
    Span,
    PlainValidator(_window),
    _schema("array", items={"type": "number", "exclusiveMinimum": 0}, minItems=2, maxItems=2),
]
Windows = Annotated[list[Window], BeforeValidator(_nested)]
Text = Annotated[str, PlainValidator(_text), _schema("string", minLength=1)]
Id = Annotated[str, PlainValidator(_id), WithJsonSchema(_ID_SCHEMA)]
IdList = Annotated[
    tuple[str, ...],
    PlainValidator(_ids),
    WithJsonSchema({"anyOf": [_ID_SCHEMA, {"type": "array", "items": _ID_SCHEMA}]}),
]
RadioName = Annotated[str, PlainValidator(_radio_name), _schema("string", pattern=f"^{_ID.pattern}(/{_ID.pattern})?$")]
ChannelLabels = Annotated[tuple[str, ...], PlainValidator(_labels), _schema("array", items={"type": "string"})]
FamilyName = Annotated[str, PlainValidator(_family), _schema("string", enum=list(FAMILIES))]
DirectionWord = Annotated[Direction, PlainValidator(_one_of(Direction)), _words(Direction)]
EmissionWord = Annotated[Emission, PlainValidator(_one_of(Emission)), _words(Emission)]
PowerKindWord = Annotated[PowerKind, PlainValidator(_one_of(PowerKind)), _words(PowerKind)]
WornWord = Annotated[Worn, PlainValidator(_one_of(Worn)), _words(Worn)]
PermitStateWord = Annotated[PermitState, PlainValidator(_one_of(PermitState)), _words(PermitState)]
MakesProductsWord = Annotated[
    MakesProducts, PlainValidator(_makes_products), WithJsonSchema({"enum": [True, False, "auto"]})
]
InsideWord = Annotated[str, PlainValidator(_among(*_INSIDE)), _schema("string", enum=list(_INSIDE))]
MovableWord = Annotated[str, PlainValidator(_among(*_MOVABLE)), _schema("string", enum=list(_MOVABLE))]
UnmeasuredWord = Annotated[str, PlainValidator(_among(*_UNMEASURED)), _schema("string", enum=list(_UNMEASURED))]
WhereWord = Annotated[str, PlainValidator(_among(*_WHERE)), _schema("string", enum=list(_WHERE))]
Moment = Annotated[datetime | date | time, PlainValidator(_moment), _schema("string", minLength=5)]
Day = Annotated[date, PlainValidator(_day), _schema("string", format="date")]
