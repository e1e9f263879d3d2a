"""The tables of a brief as JSON, exact in both directions: numbers stay decimals, dates and times are text.

A brief in JSON has the keys and values of one in TOML. What JSON has no type for is written as TOML writes it
(`"2027-05-14"`, `"2027-05-14T19:30:00+01:00"`) and read back by the place it stands in.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime, time
from typing import Any

__all__ = ["ALWAYS", "DEEPEST", "ONCE", "as_toml_gives", "tables_as_toml_gives"]

Table = dict[str, Any]

ALWAYS = ("job", "plan")
"""The kinds of tables that a job has once in any case."""

ONCE = (*ALWAYS, "area")
"""The kinds of tables that a brief has once at most."""

DEEPEST = 20
"""How many levels of lists and tables there are in a brief, at most."""


# ------------------------------------------------------------------------------------------------ dates and times


def as_toml_gives(kind: str, table: Mapping[str, Any]) -> Table:
    """Return a table of JSON values as TOML would give it: keys that are null left out, dates and times as such."""
    found = {key: value for key, value in table.items() if value is not None}
    for key, read in _DATED.get(kind, {}).items():
        if key in found:
            found[key] = read(found[key])
    return found


def tables_as_toml_gives(data: Mapping[str, Any]) -> Table:
    """Return a whole brief of JSON values as TOML would give it."""
    return {kind: _of_kind(kind, value) for kind, value in data.items() if value is not None}


def _of_kind(kind: str, value: Any) -> Any:
    if isinstance(value, list):
        return [as_toml_gives(kind, row) if isinstance(row, dict) else row for row in value]
    return as_toml_gives(kind, value) if isinstance(value, dict) else value


def _days(value: Any) -> Any:
    return [_day(item) for item in value] if isinstance(value, list) else value


def _spans(value: Any) -> Any:
    return [_span(item) for item in value] if isinstance(value, list) else value


def _span(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    return {key: _moment(item) if key in ("start", "end") else item for key, item in value.items()}


def _day(value: Any) -> Any:
    return _read(value, _DAY, date.fromisoformat)


def _moment(value: Any) -> Any:
    for pattern, read in ((_DAY, date.fromisoformat), (_DAY_AND_TIME, datetime.fromisoformat), (_TIME, _clock)):
        found = _read(value, pattern, read)
        if found is not value:
            return found
    return value


def _clock(text: str) -> time:
    return time.fromisoformat(text)


def _read(value: Any, pattern: re.Pattern[str], read: Callable[[str], Any]) -> Any:
    """Return what a text of this pattern stands for; anything else as it is, for the models to refuse."""
    if not isinstance(value, str) or not pattern.fullmatch(value):
        return value
    try:
        return read(value)
    except ValueError:
        return value


_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_DAY_AND_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?")
_TIME = re.compile(r"\d\d:\d\d:\d\d(\.\d{1,6})?")  # 19:30 stays text, which is how a brief writes it
_DATED: dict[str, dict[str, Callable[[Any], Any]]] = {
    "job": {"dates": _days},
    "permit": {"valid": _spans},
    "link": {"on_air": _spans},
    "other": {"on_air": _spans},
}
