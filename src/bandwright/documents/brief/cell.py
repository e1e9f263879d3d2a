"""One table of a brief by itself: what an edited cell may hold, before anybody asks what other tables say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from bandwright.documents.brief.faults import note_all
from bandwright.documents.brief.models import fields_of, table_in
from bandwright.documents.brief.plain import ONCE
from bandwright.documents.brief.tables import Brief
from bandwright.documents.faults import Findings, Located

__all__ = ["keys_of_table", "table_faults"]


def keys_of_table(kind: str) -> tuple[str, ...]:
    """Return the keys that a table of a kind may have, in the order of the reference."""
    model = table_in(fields_of(Brief)[kind].annotation)
    return () if model is None else tuple(fields_of(model))


def table_faults(kind: str, table: Mapping[str, Any], *, file: str) -> tuple[Located, ...]:
    """Return what is wrong with a table by itself, in the words of a whole brief.

    Keys that are not written yet are no fault here: a table may be filled in cell by cell, and the brief as a whole
    tells what it still lacks. The path of a fault begins with the kind (and 0 for tables that come several times).

    Parameters
    ----------
    kind
        Such as "link"; one of `KINDS`.
    table
        Its keys as TOML would give them.
    """
    place: tuple[str | int, ...] = (kind,) if kind in ONCE else (kind, 0)
    findings = Findings(file=file, data={kind: dict(table) if kind in ONCE else [dict(table)]})
    model = table_in(fields_of(Brief)[kind].annotation)
    if model is None:
        raise KeyError(kind)
    try:
        model.model_validate(dict(table))
    except ValidationError as error:
        told = [item for item in error.errors() if item["type"] != "missing" or len(item["loc"]) > 1]
        note_all(Brief, [{**item, "loc": (*place, *item["loc"])} for item in told], findings)
    return tuple(map(_as_at_a_cell, findings.located()))


def _as_at_a_cell(found: Located) -> Located:
    """Leave out what only concerns somebody who writes TOML: quotes and brackets."""
    fault = found.fault
    allowed = fault.allowed and fault.allowed.removesuffix(", without quotes")
    hint = None if fault.hint and any(word in fault.hint for word in _OF_TOML) else fault.hint
    return replace(found, fault=replace(fault, allowed=allowed, hint=hint))


_OF_TOML = ("quotes", "brackets", "braces")
