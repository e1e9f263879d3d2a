"""Make docs/brief.md from the models of the brief: `python -m tools.make_brief_reference [--check]`."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from bandwright.core.library import GenericClass
from bandwright.core.reach.models import path_models
from bandwright.documents.brief import init_text
from bandwright.documents.brief.models import fields_of, table_in
from bandwright.documents.brief.tables import Brief, TimesTable
from bandwright.documents.faults import given_text
from bandwright.reference import generic_classes, rasters, reach_tables, sound_tables
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
    "_dbi": "dBi",
    "_per_100m": "dB",
    "_mm": "mm",
    "_mv_per_pa": "mV/Pa",
    "_dbu": "dBu",
    "_dbfs": "dBFS",
    "_db_spl": "dB SPL",
    "db_spl_per_v": "dB SPL",
    "db_spl_per_mw": "dB SPL",
    "ohm": "ohm",
    "_ms": "ms",
    "_c": "degrees C",
    "hours": "h",
    "_m": "m",
    "_db": "dB",
    "db": "dB",
    "_deg": "degrees",
    "_us": "us",
    "_s": "s",
}


def main() -> None:
    """Write or check the page."""
    write_or_check({PAGE: page()}, check="--check" in sys.argv[1:])


def page() -> str:
    """Return the page."""
    parts = [INTRODUCTION, *_tables(), _classes(), _rasters(), *_reach(), *_sound(), _start()]
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
        yield from _inside(model, f"`[[{name}]]`" if several else f"`[{name}]`", schema, {TimesTable})
    yield "## Stretches of time\n"
    yield '`on_air` and `valid` are lists of tables in braces: `on_air = [{ start = "19:30", end = "23:00" }]`.\n'
    yield from _keys(TimesTable, schema)


def _inside(model: type[BaseModel], where: str, schema: dict[str, Any], told: set[type[BaseModel]]) -> Iterator[str]:
    """Yield the tables inside a table, and those inside them, each once."""
    for key, field in fields_of(model).items():
        inside = table_in(field.annotation)
        if inside is None or inside in told:
            continue
        told.add(inside)
        yield f"### `{key}` of {where}\n"
        if issubclass(model, inside):
            yield from _variant(inside)
            continue
        yield from _keys(inside, schema)
        yield from _inside(inside, f"`{key}` of {where}", schema, told)


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
        return _PAIRS.get(key, "list of [x, y] in m" if key.endswith("_m") else f"list of [low, high] in {_unit(key)}")
    if schema.get("maxItems") == schema.get("minItems") == 2 and key.endswith("_m"):
        return "[x, y] in m"
    word = _one(key, item)
    return f"list of {_MANY.get(word, word)}"


_PAIRS = {"pattern": "list of [degrees, dB]"}
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
    head = (
        "| class | bandwidth, kHz | spacing, kHz | product clearance, kHz | noise figure, dB | C/N, dB | what |\n"
        "|---|---|---|---|---|---|---|"
    )
    about = "What `defaults` in `[[radio]]` may name. The figures are common practice, not those of any maker."
    return f"## Generic classes\n\n{about}\n\n{head}\n" + "\n".join(rows) + "\n"


def _class_cells(item: GenericClass) -> list[str]:
    clearances = ", ".join(f"{name}: {_khz(hz)}" for name, hz in item.clearance_hz or ())
    return [
        f"`{item.name}`",
        _khz(item.bandwidth_hz),
        _khz(item.spacing_hz),
        clearances or "yours to state",
        *("" if db is None else f"{db:g}" for db in (item.noise_figure_db, item.needs_cn_db)),
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


def _reach() -> Iterator[str]:
    """Yield what the tables about antennas and runs may name, each with its source."""
    tables = reach_tables()
    yield _listed(
        "Path models",
        "What `path` in `[[place]]` may name. Outside its ranges a model is used all the same, and that is told.",
        ("path", "what", "GHz", "m", "source"),
        [
            (f"`{item.name}`", item.about, _range(item.frequencies_ghz), _range(item.distances_m), item.source)
            for item in path_models(tables).values()
        ],
    )
    yield _listed(
        "Cables",
        "What `type` of a cable in `[[run]]` may name; between and beyond its points a = k1 sqrt f + k2 f is fitted.",
        ("type", "what", "dB per 100 m at MHz", "tolerance", "source"),
        [
            (
                f"`{item.name}`",
                item.about,
                ", ".join(f"{db:g} at {hz / 1e6:g}" for hz, db in item.points),
                f"{item.tolerance:.0%}" if item.tolerance else "a limit",
                item.source,
            )
            for item in tables.cables
        ],
    )
    yield _listed(
        "Materials",
        "What `material` of a wall in `[[link]]` may name: one smooth layer, met head on. Studs, wires, tiles and "
        "water change it.",
        ("material", "GHz", "source"),
        [(f"`{item.name}`", _range((item.low_ghz, item.high_ghz)), item.source) for item in tables.materials],
    )
    yield _listed(
        "Body losses",
        "What counts where a link states no `body_loss_db`; in-ear receivers count as worn on the body.",
        ("worn", "least, dB", "usual, dB", "most, dB", "source"),
        [
            (f"`{item.worn}`", f"{item.least_db:g}", f"{item.typical_db:g}", f"{item.most_db:g}", item.source)
            for item in tables.body
        ],
    )


def _sound() -> Iterator[str]:
    """Yield what the tables about sound may name, each with its source."""
    tables = sound_tables()
    yield _listed(
        "Efforts of speech",
        "What `quietest` and `loudest` in `[[source]]` may name, with the level 1 m in front of the mouth.",
        ("effort", "dB SPL", "source"),
        [(f"`{item.name}`", f"{item.level_db_spl:.2f}", item.source) for item in tables.efforts],
    )
    yield _listed(
        "Peaks",
        "What counts where a source states no `peaks_db`.",
        ("what", "dB over the loudest", "source"),
        [(f"`{item.kind}`", f"{item.over_db:g}", item.source) for item in tables.peaks],
    )
    yield _listed(
        "Distances to the microphone",
        "What counts where a link states no `from_source_m`.",
        ("worn", "m", "source"),
        [(f"`{item.worn}`", f"{item.metres:g}", item.source) for item in tables.nearness],
    )
    yield _listed(
        "Alignments",
        "What `reference` in `[[feed]]` may name: where the 1 kHz tone reads.",
        ("reference", "dBFS", "usual line level, dBu", "what", "source"),
        [
            (f"`{item.name}`", f"{item.level_dbfs:g}", _dbu(item.line_dbu), item.about, item.source)
            for item in tables.alignments
        ],
    )


def _dbu(level: float | None) -> str:
    return "" if level is None else f"{level:+g}"


def _listed(title: str, about: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [f"| {' | '.join(cells)} |" for cells in (heads, *rows)]
    lines.insert(1, "|" + "---|" * len(heads))
    return f"## {title}\n\n{about}\n\n" + "\n".join(lines) + "\n"


def _range(ends: tuple[float, float] | None) -> str:
    return "any" if ends is None else f"{ends[0]:g} to {ends[1]:g}"


def _start() -> str:
    return f"## A brief to start from\n\n```toml\n{init_text().rstrip()}\n```\n"


if __name__ == "__main__":
    main()
