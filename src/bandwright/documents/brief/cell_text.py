"""What somebody typed into a cell, or a spreadsheet held there, as the value that a brief has.

A text that cannot be read as what belongs there stays text: the models then say what is allowed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import Any

from pydantic import BaseModel

from bandwright import exact_json
from bandwright.documents.brief.models import fields_of, table_in
from bandwright.documents.brief.plain import DEEPEST
from bandwright.documents.brief.tables import Brief

__all__ = ["cell_value"]

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")
_UNITS = ("MHz", "kHz", "mW", "dBm", "dB", "s")
_WORDS = {True: ("true", "yes", "y", "x", "1"), False: ("false", "no", "n", "-", "0")}
_CLOCK_OR_DATE = r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d)?(?:Z|[+-]\d\d:\d\d)?)?|\d\d?:\d\d"
_SPAN = re.compile(rf"({_CLOCK_OR_DATE})\s*(?:-|–|to|until)\s*({_CLOCK_OR_DATE})")
_RANGE = re.compile(r"(\S+?)\s*(?:-|–|to)\s*(\S+)")
_TUNED = re.compile(r"(\S+?)\s*(?:-|–|to)\s*(\S+?)\s*(?:/|step)\s*(\S+)")
_NAMED = re.compile(r"(\S+?)\s*(?:=|:|\s)\s*(\S+)")
_POWER = re.compile(r"(?:(any|body|hand)\w*\s*[:=]?\s*)?(\S+?)(?:\s*mW)?(?:\s+(\w+))?")

Reader = Callable[[str, str], Any]
"""Reads a text for a key; None where it cannot."""


def cell_value(kind: str, key: str, given: Any) -> Any:
    """Return the value that a text stands for under a key of a table; anything that is no text stays as it is.

    Examples
    --------
    >>> cell_value("link", "hold_mhz", "606,7 MHz"), cell_value("permit", "windows_mhz", "606.5-613.5")
    (Decimal('606.7'), [[Decimal('606.5'), Decimal('613.5')]])
    """
    model = table_in(fields_of(Brief)[kind].annotation)
    return given if model is None else _value(model, key, given)


def _value(model: type[BaseModel], key: str, given: Any) -> Any:
    """Return the value under a key of a table; of tables inside it, each of their texts is read like a cell."""
    if isinstance(given, str):
        return _from_text(model, key, given)
    inner = table_in(fields_of(model)[key].annotation) if key in fields_of(model) else None
    if isinstance(given, list) and inner is not None:
        return [_table(inner, item) if isinstance(item, dict) else item for item in given]
    if isinstance(given, dict):
        return {name: _counted(item, key) for name, item in given.items()} if inner is None else _table(inner, given)
    return given


def _table(model: type[BaseModel], given: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table inside a cell; keys under which nothing stands go."""
    read = {key: _value(model, key, value) for key, value in given.items()}
    return {key: value for key, value in read.items() if value is not None}


def _counted(given: Any, key: str) -> Any:
    """Return the number that stands for a name, such as how many spare carriers of a radio type."""
    found = _number(given, key) if isinstance(given, str) else None
    return given if found is None else found


def _from_text(model: type[BaseModel], key: str, given: str) -> Any:
    text = given.strip()
    if not text:
        return None
    if text[0] in "[{":
        return _as_json_gives(text)
    reader = _reader(model, key)
    found = _facts(model, key, text) if reader is _as_text else reader(text, key)
    return text if found is None else found


def _facts(model: type[BaseModel], key: str, text: str) -> dict[str, Any] | None:
    """Return the table that a text such as `low_db 0, high_db 40` states fact by fact; None where it is none."""
    inner = table_in(fields_of(model)[key].annotation) if key in fields_of(model) else None
    if inner is None:
        return None
    parts = [part.strip().partition(" ") for part in re.split(r"[;\n]|,\s", text)]
    if any(name not in fields_of(inner) or not value for name, _, value in parts):
        return None
    return _table(inner, {name: value for name, _, value in parts})


def _as_json_gives(text: str) -> Any:
    try:
        return exact_json.loads(text, deepest=DEEPEST)
    except ValueError:
        return text


@cache
def _reader(model: type[BaseModel], key: str) -> Reader:
    schema = model.model_json_schema(mode="validation")
    return _reader_of(schema.get("properties", {}).get(key, {}), schema.get("$defs", {}))


def _reader_of(shape: Mapping[str, Any], tables: Mapping[str, Any]) -> Reader:
    """Return what reads a shape; of several the one that is no single text, which any text would be."""
    shapes = [item for item in shape.get("anyOf", [shape]) if item.get("type") != "null"]
    lists = [item for item in shapes if item.get("type") == "array"]
    only = (lists or shapes or [{}])[0]
    if "$ref" in only:
        return _TABLES.get(_name(only), _as_text)
    if only.get("type") == "array":
        return _list_of(only.get("items", {}))
    if only.get("enum") and True in only["enum"]:
        return _flag
    return _BY_TYPE.get(str(only.get("type")), _as_text)


def _list_of(items: Mapping[str, Any]) -> Reader:
    if "$ref" in items:
        return _TABLES.get(_name(items), _as_text)
    if items.get("type") == "array":
        return _windows
    return _numbers if items.get("type") == "number" else _texts


def _name(shape: Mapping[str, Any]) -> str:
    return str(shape["$ref"]).rsplit("/", maxsplit=1)[-1]


def _as_text(text: str, _: str) -> Any:
    return text


# ------------------------------------------------------------------------------------------------------- single


def _number(text: str, key: str) -> Decimal | int | None:
    unit = key.rsplit("_", maxsplit=1)[-1]
    for word in _UNITS:
        if text.casefold().endswith(word.casefold()) and word.casefold() == unit:
            text = text[: -len(word)]
            break
    plain = re.sub(r"(?<=\d)[\s\u2009\u202f](?=\d{3})", "", text.strip().replace("\u2212", "-"))
    if not _NUMBER.fullmatch(plain):
        return None
    plain = plain.replace(",", ".")
    return int(plain) if plain.lstrip("+-").isdigit() and len(plain) < 19 else Decimal(plain)


def _flag(text: str, _: str) -> bool | None:
    return next((value for value, words in _WORDS.items() if text.casefold() in words), None)


# -------------------------------------------------------------------------------------------------------- lists


def _ways(text: str) -> Iterator[list[str]]:
    """Yield the ways in which a text is a list: between semicolons or line breaks where there are any, else commas.

    A comma between digits may be a decimal comma: then those with a space behind them part entries, or none does.
    """
    sure = re.search(r"[;\n]", text) is not None
    for breaks in (r"[;\n]",) if sure else (",", r",\s", r"(?!)"):
        yield [part.strip() for part in re.split(breaks, text) if part.strip()]


def _each(text: str, read: Callable[[str], Any]) -> list[Any] | None:
    """Return the entries of a list in the first way in which all can be read; None where there is none."""
    for parts in _ways(text):
        found = [read(part) for part in parts]
        if not any(item is None for item in found):
            return found
    return None


def _texts(text: str, _: str) -> list[str]:
    return next(_ways(text))


def _numbers(text: str, key: str) -> list[Any] | None:
    return _each(text.replace("/", ";"), lambda part: _number(part, key))


def _windows(text: str, key: str) -> list[Any] | None:
    return _each(text, lambda part: _two_numbers(_RANGE, part, key))


def _two_numbers(pattern: re.Pattern[str], part: str, key: str) -> list[Any] | None:
    match = pattern.fullmatch(part)
    found = [_number(item, key) for item in match.groups()] if match else [None]
    return None if None in found else found


def _times(text: str, _: str) -> list[Any] | None:
    def read(part: str) -> dict[str, str] | None:
        match = _SPAN.fullmatch(part)
        return {"start": _padded(match[1]), "end": _padded(match[2])} if match else None

    return _each(text, read)


def _padded(clock: str) -> str:
    return f"0{clock}" if re.fullmatch(r"\d:\d\d", clock) else clock


def _tuning(text: str, _: str) -> list[Any] | None:
    def read(part: str) -> dict[str, Any] | None:
        match = _TUNED.fullmatch(part)
        if not match:
            return None
        low, high, step = (_number(item, unit) for item, unit in zip(match.groups(), _TUNING_UNITS, strict=True))
        return None if None in (low, high, step) else {"low_mhz": low, "high_mhz": high, "step_khz": step}

    return _each(text, read)


_TUNING_UNITS = ("low_mhz", "high_mhz", "step_khz")


def _presets(text: str, _: str) -> list[Any] | None:
    def read(part: str) -> dict[str, Any] | None:
        label, _, rest = part.rpartition(" ")
        mhz = _number(rest, "mhz")
        return None if mhz is None or not label else {"label": label.rstrip(" =:"), "mhz": mhz}

    return _each(text, read)


def _by_name(text: str, key: str) -> dict[str, Any] | None:
    def read(part: str) -> tuple[str, Any] | None:
        match = _NAMED.fullmatch(part)
        number = _number(match[2], key) if match else None
        return None if match is None or number is None else (match[1], number)

    found = _each(text, read)
    return None if found is None else dict(found)


def _power(text: str, _: str) -> dict[str, Any] | None:
    """Read "50 erp", or "body 50, hand 10 erp"."""

    def read(part: str) -> dict[str, Any] | None:
        match = _POWER.fullmatch(part)
        number = _number(match[2], "mw") if match else None
        if match is None or number is None or (match[1] is None and part != text):
            return None
        return {_LIMITS[match[1] or "any"]: number} | ({"kind": match[3].casefold()} if match[3] else {})

    found = _each(text, read)
    return None if found is None else {key: value for limit in found for key, value in limit.items()}


_LIMITS = {"any": "any_mw", "body": "bodyworn_mw", "hand": "handheld_mw"}
_BY_TYPE: dict[str, Reader] = {"number": _number, "integer": _number, "boolean": _flag, "object": _by_name}
_TABLES: dict[str, Reader] = {
    "TimesTable": _times,
    "TuningTable": _tuning,
    "PresetTable": _presets,
    "PowerTable": _power,
}
