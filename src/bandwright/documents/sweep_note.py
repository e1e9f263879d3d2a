"""What somebody writes down beside a sweep file because the file cannot know it: `FILE.toml` beside FILE."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from typing import Annotated, Any

from pydantic import Field, PlainValidator, WithJsonSchema

from bandwright.documents.brief import types as t
from bandwright.documents.brief.base import Table
from bandwright.documents.brief.salvage import validated
from bandwright.documents.brief.toml import parse_toml
from bandwright.documents.brief.writer import value_text
from bandwright.documents.faults import Findings

__all__ = ["SweepNote", "read_stated", "read_sweep_note", "sweep_note_toml"]

STATES = ("off", "on", "unknown")


def _moment(value: Any) -> datetime:
    if isinstance(value, datetime):
        return value.replace(tzinfo=None)
    allowed = "a date with a time, such as 2027-05-14T09:30:00"
    raise t.wrong("wrong-value", f"must be {allowed}", allowed=allowed)


def _state(value: Any) -> str:
    if value in STATES:
        return str(value)
    allowed = ", ".join(f'"{state}"' for state in STATES)
    raise t.wrong("wrong-value", f"must be one of {allowed}", allowed=allowed)


class SweepNote(Table):
    """What is known of a sweep beside its file; a value counts in place of what the file says, but for `started`."""

    place: t.Id | None = Field(None, description="the id of the place where it was made", examples=["quay"])
    antenna: t.Text | None = Field(None, description="the antenna, in words", examples=["whip on the grid, 6 m"])
    gain_ahead_db: t.Decibels | None = Field(
        None, description="gain between antenna and instrument; a loss is negative", examples=[-3.5]
    )
    rbw_khz: t.Khz | None = Field(None, description="the resolution bandwidth", examples=[30])
    own_transmitters: Annotated[str, PlainValidator(_state), WithJsonSchema({"enum": list(STATES)})] | None = Field(
        None, description="whether your own transmitters were off, on, or nobody knows", examples=["off"]
    )
    started: Annotated[datetime, PlainValidator(_moment), WithJsonSchema({"type": "string"})] | None = Field(
        None, description="when it began, where the file does not tell", examples=["2027-05-14T09:30:00"]
    )
    trace: t.Text | None = Field(None, description="the trace to read of several", examples=["Max hold"])


def read_sweep_note(text: str, *, file: str) -> SweepNote:
    """Return what a note says; raises InputError with everything that is wrong with it."""
    data, findings = parse_toml(text, file=file)
    note = validated(SweepNote, data, findings)
    findings.stop_if_any()
    return note if note is not None else SweepNote()


def read_stated(stated: Mapping[str, Any], *, file: str) -> SweepNote:
    """Return what is stated of a sweep as JSON values under the keys of a note, such as `started` as text.

    Raises
    ------
    InputError
        With everything that is wrong with it.
    """
    data = _as_toml_gives(stated)
    findings = Findings(file=file, data=data)
    note = validated(SweepNote, data, findings)
    findings.stop_if_any()
    return note if note is not None else SweepNote()


def _as_toml_gives(stated: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is stated without what is null, and a date with a time as such."""
    found = {key: value for key, value in stated.items() if value is not None}
    if isinstance(found.get("started"), str):
        with suppress(ValueError):
            found["started"] = datetime.fromisoformat(found["started"])
    return found


def sweep_note_toml(stated: Mapping[str, Any]) -> str:
    """Return a note, to lie beside a sweep file, that states the same; nothing where nothing is stated."""
    return "".join(f"{key} = {value_text(value)}\n" for key, value in _as_toml_gives(stated).items())
