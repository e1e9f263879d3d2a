"""A file that describes one kind of spectrum analyser: the commands it takes."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import Field, PlainValidator, WithJsonSchema

from bandwright.core.analyser import PLACES, AnalyserKind
from bandwright.documents.brief import types as t
from bandwright.documents.brief.base import Table
from bandwright.documents.brief.salvage import validated
from bandwright.documents.brief.toml import parse_toml
from bandwright.errors import InputError

__all__ = ["AnalyserFile", "read_analyser"]

UNITS = ("dBm", "dBuV")
VERSION = 1
MOST_POINTS = 1_000_000
_NAMED = re.compile(r"\{([^{}]*)\}")


def _unit(value: Any) -> str:
    if value in UNITS:
        return str(value)
    known = " or ".join(f'"{unit}"' for unit in UNITS)
    raise t.wrong("wrong-value", f"levels are in {known}", allowed=known)


def _commands(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) and item.strip() for item in value):
        example = '["INITiate:CONTinuous OFF"]'
        raise t.wrong("wrong-value", f"a list of commands is needed, as in {example}", allowed=example)
    for item in value:
        for name in _NAMED.findall(item):
            if name not in PLACES:
                allowed = ", ".join(f"{{{place}}}" for place in PLACES)
                raise t.wrong("wrong-value", f"{{{name}}} is not known; known are {allowed}", allowed=allowed)
    return tuple(value)


_LIST = WithJsonSchema({"type": "array", "items": {"type": "string"}})
Commands = Annotated[tuple[str, ...], PlainValidator(_commands), _LIST]
Points = Annotated[int, PlainValidator(t.whole(2, MOST_POINTS)), WithJsonSchema({"type": "integer", "minimum": 2})]
Version = Annotated[int, PlainValidator(t.whole(VERSION, VERSION)), WithJsonSchema({"const": VERSION})]
Unit = Annotated[str, PlainValidator(_unit), WithJsonSchema({"enum": list(UNITS)})]


class AnalyserFile(Table):
    """What such a file may hold."""

    bandwright_analyser: Version = Field(description="version of this kind of file", examples=[1])
    id: t.Id = Field(description="its name here", examples=["pier-lab"])
    name: t.Text = Field(description="in words", examples=["the analyser on the pier"])
    source: t.Text | None = Field(None, description="where the commands are from")
    confidence: t.Text | None = Field(None, description="how sure that is")
    answers_to: t.TextList | None = Field(
        None, description="words in the reply to *IDN?, all of them; left out: any analyser", examples=[["Pier", "42"]]
    )
    most_points: Points = Field(description="most points in one trace", examples=[401])
    prepare: Commands = Field(description="commands before the first sweep")
    set_range: Commands = Field(description="commands that set range, points and resolution bandwidth")
    ask_points: t.Text = Field(description="asks for the number of points")
    ask_rbw: t.Text = Field(description="asks for the resolution bandwidth in Hz")
    sweep: t.Text = Field(description="starts one sweep; *OPC is sent behind it")
    ask_trace: t.Text = Field(description="asks for the levels, as numbers with commas between")
    ask_unit: t.Text | None = Field(None, description="asks for the unit of levels")
    ask_error: t.Text | None = Field(None, description="asks for the oldest error")
    unit: Unit = Field(description="the unit of levels where it is not asked for")


def read_analyser(text: str, *, file: str) -> AnalyserKind:
    """Return the kind of analyser that a file describes; raises InputError with everything that is wrong with it."""
    data, findings = parse_toml(text, file=file)
    found = validated(AnalyserFile, data, findings)
    findings.stop_if_any()
    if found is None:
        raise InputError.single("no-analyser", "This describes no analyser.", file=file)
    kept = {name: getattr(found, name) for name in AnalyserKind.__slots__}
    return AnalyserKind(**{**kept, "answers_to": tuple(found.answers_to or ())})
