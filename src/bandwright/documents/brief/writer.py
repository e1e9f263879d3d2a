"""A brief written as TOML or JSON from its tables: exact, in the order of the reference, one key on a line.

What is written reads back as the same tables: `read_parsed(parse(brief_toml(tables)))` is the same job.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from datetime import date, time
from decimal import Decimal
from functools import singledispatch
from typing import Any

from pydantic import BaseModel

from bandwright import exact_json
from bandwright.documents.brief.models import fields_of, table_in
from bandwright.documents.brief.tables import Brief

__all__ = ["KINDS", "brief_json", "brief_toml", "value_text"]

_WIDEST = 110
_BARE = re.compile(r"[A-Za-z0-9_-]+")

_MODELS: dict[str, type[BaseModel]] = {
    kind: model for kind, field in fields_of(Brief).items() if (model := table_in(field.annotation)) is not None
}
KINDS = tuple(_MODELS)
"""The kinds of tables that a brief has, in the order in which they are written."""


def brief_toml(tables: Mapping[str, Any]) -> str:
    """Return a brief as TOML text; remarks in a file that it was once read from are not kept."""
    parts = [f"bandwright = {tables.get('bandwright', 1)}\n"]
    for kind, model in _MODELS.items():
        found = tables.get(kind)
        if isinstance(found, list):
            parts += [_section(f"[[{kind}]]", row, model) for row in found]
        elif found:
            parts.append(_section(f"[{kind}]", found, model))
    return "\n".join(parts)


def brief_json(tables: Mapping[str, Any]) -> str:
    """Return a brief as JSON text, one table on a line."""
    rows = []
    for kind in _MODELS:
        found = tables.get(kind)
        if isinstance(found, list) and found:
            rows.append(f"  {_json(kind)}: [\n" + ",\n".join(f"    {_json(row)}" for row in found) + "\n  ]")
        elif found:
            rows.append(f"  {_json(kind)}: {_json(found)}")
    return "{\n" + ",\n".join([f'  "bandwright": {tables.get("bandwright", 1)}', *rows]) + "\n}\n"


def _json(value: Any) -> str:
    return exact_json.dumps(value, other=exact_json.plain)


def _section(head: str, table: Mapping[str, Any], model: type[BaseModel]) -> str:
    return "\n".join([head, *_lines(head, table, model)]) + "\n"


def _lines(head: str, table: Mapping[str, Any], model: type[BaseModel]) -> Iterator[str]:
    fields = fields_of(model)
    order = {key: place for place, key in enumerate(fields)}
    below = []
    for key, value in sorted(table.items(), key=lambda item: order.get(item[0], len(order))):
        if key == "variant" and value and all(isinstance(row, dict) for row in value):
            below += value
        elif value is not None:
            yield f"{_key(key)} = {_value(value)}"
    variant = table_in(fields["variant"].annotation) if below else None
    for row in below:
        inner = f"{head.rstrip(']')}.variant]]"
        yield ""
        yield inner
        if variant is not None:
            yield from _lines(inner, row, variant)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _quoted(key)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    """Return a value on one line, or a long list with an entry on each."""
    line = value_text(value)
    if len(line) <= _WIDEST or not isinstance(value, list):
        return line
    return "[\n" + "".join(f"  {value_text(item)},\n" for item in value) + "]"


@singledispatch
def value_text(value: object) -> str:
    """Return a value as TOML writes it, on one line."""
    return str(value)


@value_text.register
def _(value: str) -> str:
    return _quoted(value)


@value_text.register
def _(value: bool) -> str:
    return "true" if value else "false"


@value_text.register
def _(value: Decimal) -> str:
    text = str(value)
    return text if value.is_finite() else text.lower().replace("infinity", "inf")


@value_text.register(time)
def _(value: time) -> str:
    text = exact_json.moment_text(value)
    return text if text.count(":") == 2 else f'"{text}"'


@value_text.register(date)
def _(value: date) -> str:
    return value.isoformat()  # of a date with a time always with seconds, as TOML wants them


@value_text.register(list)
def _(value: list[Any]) -> str:
    return "[" + ", ".join(value_text(item) for item in value) + "]"


@value_text.register(dict)
def _(value: dict[str, Any]) -> str:
    inner = ", ".join(f"{_key(key)} = {value_text(item)}" for key, item in value.items() if item is not None)
    return f"{{ {inner} }}" if inner else "{}"
