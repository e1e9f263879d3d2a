"""Make docs/brief.md from the models of the brief: `python -m tools.make_brief_reference [--check]`."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from bandwright.core.library import GenericClass
from bandwright.documents.brief import init_text
from bandwright.documents.brief.models import fields_of, table_in
from bandwright.documents.brief.tables import Brief, TimesTable
from bandwright.documents.faults import given_text
from bandwright.reference import generic_classes, rasters
from bandwright.units import khz_text
from tools.generated import ROOT, write_or_check

PAGE = ROOT / "docs" / "brief.md"

INTRODUCTION = """\
# The brief

A brief is one text file that describes one job: where it happens, what may be used there, the kit, the links, and what
else is on the air. `bandwright init` writes one to start from; it stands [below](#a-brief-to-start-from). This page is
made from the program by `make docs`.

* A brief is [TOML](https://toml.io): text stands in quotes, numbers take a decimal point, `#` starts a remark.
  `[name]` starts a table that comes once, `[[name]]` one that may come several times.
* `[job]`, one `[[permit]]` and one `[[radio]]` are needed; everything else may be left out.
* Every id is used once in the whole brief. It has up to 64 letters (a-z, A-Z), digits, `.`, `_` and `-`.
* Frequencies are in the unit that ends the key, `_mhz` or `_khz`, and are read exactly; nothing is finer than 1 Hz.
* A key that is not listed here is an error, and all errors of a brief are told at once, each with its line.
* Spectrum law is local: copy what you may use from your own licence. Shipped rule tables are dated copies to start
  from; the regulator's current text decides.

A JSON Schema of the brief is in `bandwright/documents/schemas/brief.json`.
"""

UNITS = {
    "_mhz": "MHz",
    "mhz": "MHz",
    "_khz": "kHz",
    "_mw": "mW",
    "_dbm": "dBm",
    "_db": "dB",
    "db": "dB",
    "_s": "s",
}


def main() -> None:
    """Write or check the page."""
    write_or_check({PAGE: page()}, check="--check" in sys.argv[1:])


def page() -> str:
    """Return the page."""
    parts = [INTRODUCTION, *_tables(), _classes(), _rasters(), _start()]
    return "\n".join(part.rstrip("\n") + "\n" for part in parts)


def _tables() -> Iterator[str]:
    schema = Brief.model_json_schema()
    for name, field in fields_of(Brief).items():
        model = table_in(field.annotation)
        if model is None:
            continue
        several = schema["properties"][name].get("type") == "array"
        yield f"## `[[{name}]]`\n" if several else f"## `[{name}]`\n"
        yield from _keys(model, schema)
        for key, inner in fields_of(model).items():
            inside = table_in(inner.annotation)
            if inside is not None and inside is not TimesTable:
                yield f"### `{key}` of `[[{name}]]`\n"
                yield from _variant(inside) if issubclass(model, inside) else _keys(inside, schema)
    yield "## Stretches of time\n"
    yield '`on_air` and `valid` are lists of tables in braces: `on_air = [{ start = "19:30", end = "23:00" }]`.\n'
    yield from _keys(TimesTable, schema)


def _variant(model: type[BaseModel]) -> Iterator[str]:
    yield f"{inspect.getdoc(model)}\n"
    yield "Its keys are those of `[[radio]]`, without `kit` and `variant`; what it leaves out is as there.\n"


def _keys(model: type[BaseModel], schema: dict[str, Any]) -> Iterator[str]:
    properties = schema["$defs"][model.__name__]["properties"]
    yield f"{inspect.getdoc(model)}\n"
    rows = [_row(key, field, properties[key]) for key, field in fields_of(model).items()]
    yield "\n".join(["| key | holds | when left out | what it says | example |", "|---|---|---|---|---|", *rows]) + "\n"


def _row(key: str, field: FieldInfo, schema: dict[str, Any]) -> str:
    assert field.description, key
    assert field.examples, key
    cells = [f"`{key}`", holds(key, schema), _default(field), field.description, f"`{given_text(field.examples[0])}`"]
    return f"| {' | '.join(cells)} |"


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "**needed**"
    return f"`{given_text(field.default)}`" if isinstance(field.default, (bool, int, float, str)) else ""


def holds(key: str, schema: dict[str, Any]) -> str:
    """Return in words what a key may hold, from its schema and the unit that its name ends with."""
    choices = [choice for choice in schema.get("anyOf", [schema]) if choice.get("type") != "null"]
    return " or ".join(dict.fromkeys(_one(key, choice) for choice in choices))


def _one(key: str, schema: dict[str, Any]) -> str:
    if "enum" in schema:
        return ", ".join(f"`{given_text(word).strip(chr(34))}`" for word in schema["enum"])
    return _TYPES.get(schema.get("type", "object"), _table)(key, schema)


def _table(key: str, schema: dict[str, Any]) -> str:
    values = schema.get("additionalProperties")
    if not isinstance(values, dict):
        return "table"
    return f"table of name = {_one(key, values)}"


def _list(key: str, schema: dict[str, Any]) -> str:
    item = schema["items"]
    if "$ref" in item:
        return "list of tables"
    if item.get("type") == "array":
        return f"list of [low, high] in {_unit(key)}"
    word = _one(key, item)
    return f"list of {_MANY.get(word, word)}"


_MANY = {"date": "dates", "id": "ids"}


def _amount(key: str, schema: dict[str, Any]) -> str:
    limits = [
        f"above {schema['exclusiveMinimum']}" if "exclusiveMinimum" in schema else "",
        f"from {schema['minimum']}" if "minimum" in schema else "",
        f"up to {schema['maximum']}" if "maximum" in schema else "",
    ]
    return " ".join(word for word in [_unit(key) or "number", *limits] if word)


def _whole(key: str, schema: dict[str, Any]) -> str:
    return f"whole number from {schema['minimum']} to {schema['maximum']}"


def _text(key: str, schema: dict[str, Any]) -> str:
    if schema.get("format") == "date":
        return "date"
    if schema.get("minLength", 0) > 1:
        return "time of the day, date, or date with time"
    return "id" if "pattern" in schema else "text"


def _truth(key: str, schema: dict[str, Any]) -> str:
    return "`true` or `false`"


_TYPES = {
    "array": _list,
    "boolean": _truth,
    "integer": _whole,
    "number": _amount,
    "object": _table,
    "string": _text,
}


def _unit(key: str) -> str:
    return next((unit for ending, unit in UNITS.items() if key.endswith(ending)), "")


def _classes() -> str:
    rows = [f"| {' | '.join(_class_cells(item))} |" for item in generic_classes()]
    head = "| class | bandwidth, kHz | spacing, kHz | product clearance, kHz | what |\n|---|---|---|---|---|"
    about = "What `defaults` in `[[radio]]` may name. The figures are common practice, not those of any maker."
    return f"## Generic classes\n\n{about}\n\n{head}\n" + "\n".join(rows) + "\n"


def _class_cells(item: GenericClass) -> list[str]:
    clearances = ", ".join(f"{name}: {_khz(hz)}" for name, hz in item.clearance_hz or ())
    return [
        f"`{item.name}`",
        _khz(item.bandwidth_hz),
        _khz(item.spacing_hz),
        clearances or "yours to state",
        item.about,
    ]


def _khz(hz: int | None) -> str:
    return "" if hz is None else khz_text(hz)


def _rasters() -> str:
    rows = [
        f"| `{item.id}` | {item.name} | {item.channels[0].label} to {item.channels[-1].label} | {item.source} |"
        for item in rasters()
    ]
    head = "| raster | what | TV channels | source |\n|---|---|---|---|"
    return f"## TV rasters\n\nWhat `tv_raster` in `[[place]]` may name.\n\n{head}\n" + "\n".join(rows) + "\n"


def _start() -> str:
    return f"## A brief to start from\n\n```toml\n{init_text().rstrip()}\n```\n"


if __name__ == "__main__":
    main()
