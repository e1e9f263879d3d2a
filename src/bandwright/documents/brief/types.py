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
from bandwright.core.job import KHZ_RULES, OBJECTIVES, Binds
from bandwright.core.kit import Direction, Diversity, Emission, LoSide, MakesProducts, PowerKind, Worn
from bandwright.core.permits import PermitState
from bandwright.core.products import FAMILIES
from bandwright.core.rig import PartKind, Supply
from bandwright.core.words import is_one_line
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.units import HIGHEST_CARRIER_HZ, HZ_PER_KHZ, HZ_PER_MHZ, hz_from

__all__ = [
    "ID_RULE",
    "BindsWord",
    "Celsius",
    "ChannelLabels",
    "Clearance",
    "Day",
    "Decibels",
    "DirectionWord",
    "DiversityWord",
    "EmissionWord",
    "Exponent",
    "FamilyName",
    "Flag",
    "Id",
    "IdList",
    "InsideWord",
    "Khz",
    "KhzOrZero",
    "LoSideWord",
    "MakesProductsWord",
    "Metres",
    "Mhz",
    "Microseconds",
    "Millimetres",
    "Milliwatts",
    "Moment",
    "MovableWord",
    "PartWord",
    "PermitStateWord",
    "Position",
    "PowerKindWord",
    "PowerList",
    "RadioName",
    "RatioDb",
    "RiceDb",
    "Seconds",
    "SupplyWord",
    "Text",
    "TextList",
    "UnmeasuredWord",
    "WhereWord",
    "Window",
    "Windows",
    "WornWord",
    "between",
    "number_of",
    "position",
    "whole",
    "words",
    "wrong",
]

ID_RULE = "up to 64 letters (a-z, A-Z), digits, '.', '_' and '-', first a letter, digit or '_'"
HIGHEST_MHZ = HIGHEST_CARRIER_HZ // HZ_PER_MHZ
HIGHEST_MW = 1_000_000
MOST_METRES = 100_000
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


def number_of(value: Any, unit: str) -> Decimal:
    """Return a finite number of a unit (" of m"), or raise what is wrong with it."""
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        hint = "Write it without quotes, with a decimal point." if isinstance(value, str) else None
        raise wrong("not-a-number", f"must be a number{unit}", allowed=f"a number{unit}, without quotes", hint=hint)
    if isinstance(value, Decimal) and not value.is_finite():
        raise wrong("not-finite", "must be a finite number", allowed=f"a finite number{unit}")
    if isinstance(value, int) and abs(value) > 10**18:
        raise wrong("too-large", "must have at most 18 digits", allowed=f"a number{unit} of at most 18 digits")
    return Decimal(value)


def _whole_hz(value: Any, unit: str, hz_per_unit: int) -> int:
    number = number_of(value, f" of {unit}")
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
    number = number_of(value, " of mW")
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
    number = number_of(value, " of dB")
    if number.copy_abs() > 500:
        raise wrong("too-large", "must lie between -500 and 500", allowed="-500 to 500")
    return float(number)


def _ratio_db(value: Any) -> float:
    number = number_of(value, " of dB")
    if not 0 <= number <= 100:
        raise wrong("out-of-range", "must lie between 0 and 100 dB", allowed="0 to 100 dB")
    return float(number)


def _up_to(most: int, unit: str) -> Callable[[Any], float]:
    """Return a check for numbers above 0 and up to `most`."""

    def check(value: Any) -> float:
        number = number_of(value, f" of {unit}")
        if not 0 < number <= most or float(number) == 0:
            allowed = f"more than 0, up to {most} {unit}"
            raise wrong("out-of-range", f"must be more than 0 and at most {most} {unit}", allowed=allowed)
        return float(number)

    return check


def between(least: float, most: float, unit: str = "") -> tuple[PlainValidator, WithJsonSchema]:
    """Return the check and the schema of numbers from `least` to `most`."""
    return PlainValidator(_between(least, most, unit)), _schema("number", minimum=least, maximum=most)


def words(kind: type[StrEnum]) -> tuple[PlainValidator, WithJsonSchema]:
    """Return the check and the schema of the words of a kind."""
    return PlainValidator(_one_of(kind)), _words(kind)


def _between(least: float, most: float, unit: str = "") -> Callable[[Any], float]:
    of, after = (f" of {unit}", f" {unit}") if unit else ("", "")

    def check(value: Any) -> float:
        number = number_of(value, of)
        if not Decimal(str(least)) <= number <= Decimal(str(most)):
            problem = f"must lie between {least:g} and {most:g}{after}"
            raise wrong("out-of-range", problem, allowed=f"{least:g} to {most:g}{after}")
        return float(number)

    return check


def _exponent(value: Any) -> float:
    number = number_of(value, "")
    if not 1 <= number <= 8:
        raise wrong("out-of-range", "must lie between 1 and 8; 2 is free space", allowed="1 to 8")
    return float(number)


def _rice_db(value: Any) -> float:
    number = number_of(value, " of dB")
    if not -20 <= number <= 20:
        raise wrong("out-of-range", "must lie between -20 and 20 dB", allowed="-20 to 20 dB")
    return float(number)


def position(value: Any) -> tuple[float, float]:
    """Return a point of a plan, or raise what is wrong with it."""
    if not isinstance(value, list) or len(value) != 2:
        raise wrong("not-a-position", "must be two numbers of m in brackets", allowed="[x, y] in m, such as [4.5, 0]")
    x, y = (number_of(item, " of m") for item in value)
    if max(x.copy_abs(), y.copy_abs()) > MOST_METRES:
        raise wrong("out-of-range", f"must lie within {MOST_METRES} m", allowed=f"up to {MOST_METRES} m")
    return float(x), float(y)


def _seconds(value: Any) -> float:
    number = number_of(value, " of seconds")
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


def _texts(value: Any) -> tuple[str, ...]:
    found = tuple(dict.fromkeys(_text(item) for item in (value if isinstance(value, list) else [value])))
    if not found:
        raise wrong("empty", "must name one or more", allowed="a name, or a list of names")
    return found


def _binds(value: Any) -> Binds:
    return Binds[_word(value, _BINDS).upper()]


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
    if not 0 < len(text) <= LONGEST_TEXT or not is_one_line(text):
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
_BINDS = ("all", "spacing", "nothing")
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
RatioDb = Annotated[float, PlainValidator(_ratio_db), _schema("number", minimum=0, maximum=100)]
RiceDb = Annotated[float, PlainValidator(_rice_db), _schema("number", minimum=-20, maximum=20)]
Celsius = Annotated[float, PlainValidator(_between(-60, 60, "degrees C")), _schema("number", minimum=-60, maximum=60)]
Exponent = Annotated[float, PlainValidator(_exponent), _schema("number", minimum=1, maximum=8)]
Metres = Annotated[
    float, PlainValidator(_up_to(MOST_METRES, "m")), _schema("number", exclusiveMinimum=0, maximum=MOST_METRES)
]
Microseconds = Annotated[
    float, PlainValidator(_up_to(1_000, "us")), _schema("number", exclusiveMinimum=0, maximum=1_000)
]
Millimetres = Annotated[
    float, PlainValidator(_up_to(5_000, "mm")), _schema("number", exclusiveMinimum=0, maximum=5_000)
]
Position = Annotated[
    tuple[float, float],
    PlainValidator(position),
    _schema("array", items={"type": "number"}, minItems=2, maxItems=2),
]
Seconds = Annotated[float, PlainValidator(_seconds), _schema("number", exclusiveMinimum=0, maximum=86_400)]
Flag = Annotated[bool, PlainValidator(_flag), _schema("boolean")]
Window = Annotated[
    Span,
    PlainValidator(_window),
    _schema("array", items={"type": "number", "exclusiveMinimum": 0}, minItems=2, maxItems=2),
]
Windows = Annotated[list[Window], BeforeValidator(_nested)]
Text = Annotated[str, PlainValidator(_text), _schema("string", minLength=1)]
TextList = Annotated[
    tuple[str, ...],
    PlainValidator(_texts),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "minLength": 1},
                {"type": "array", "minItems": 1, "items": {"type": "string", "minLength": 1}},
            ]
        }
    ),
]
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
DiversityWord = Annotated[Diversity, PlainValidator(_one_of(Diversity)), _words(Diversity)]
LoSideWord = Annotated[LoSide, PlainValidator(_one_of(LoSide)), _words(LoSide)]
SupplyWord = Annotated[Supply, PlainValidator(_one_of(Supply)), _words(Supply)]
PartWord = Annotated[PartKind, PlainValidator(_one_of(PartKind)), _words(PartKind)]
PowerKindWord = Annotated[PowerKind, PlainValidator(_one_of(PowerKind)), _words(PowerKind)]
WornWord = Annotated[Worn, PlainValidator(_one_of(Worn)), _words(Worn)]
PermitStateWord = Annotated[PermitState, PlainValidator(_one_of(PermitState)), _words(PermitState)]
MakesProductsWord = Annotated[
    MakesProducts, PlainValidator(_makes_products), WithJsonSchema({"enum": [True, False, "auto"]})
]
BindsWord = Annotated[Binds, PlainValidator(_binds), _schema("string", enum=list(_BINDS))]
InsideWord = Annotated[str, PlainValidator(_among(*_INSIDE)), _schema("string", enum=list(_INSIDE))]
MovableWord = Annotated[str, PlainValidator(_among(*_MOVABLE)), _schema("string", enum=list(_MOVABLE))]
ObjectiveWord = Annotated[str, PlainValidator(_among(*OBJECTIVES)), _schema("string", enum=list(OBJECTIVES))]
KhzRulesWord = Annotated[str, PlainValidator(_among(*KHZ_RULES)), _schema("string", enum=list(KHZ_RULES))]
UnmeasuredWord = Annotated[str, PlainValidator(_among(*_UNMEASURED)), _schema("string", enum=list(_UNMEASURED))]
WhereWord = Annotated[str, PlainValidator(_among(*_WHERE)), _schema("string", enum=list(_WHERE))]
Moment = Annotated[datetime | date | time, PlainValidator(_moment), _schema("string", minLength=5)]
Day = Annotated[date, PlainValidator(_day), _schema("string", format="date")]
