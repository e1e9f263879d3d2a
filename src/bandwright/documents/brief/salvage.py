"""A brief read as far as it can be read, so that all its faults are found at once and none is blamed for another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from bandwright.documents.brief.faults import note_all
from bandwright.documents.brief.models import fields_of, table_in
from bandwright.documents.brief.tables import Brief
from bandwright.documents.faults import Findings, nearest_word

__all__ = ["Doubts", "Seen", "read_tables", "validated"]

Model = TypeVar("Model", bound=BaseModel)


@dataclass(slots=True)
class Doubts:
    """The ids of tables with faults, by list; None stands for a table whose id cannot be read.

    A name that may belong to one of them is not called unknown: the fault is there, not where the name is used.
    """

    ids: dict[str, set[str | None]] = field(default_factory=dict)

    def add(self, kind: str, name: object) -> None:
        """Note a table with a fault."""
        self.ids.setdefault(kind, set()).add(name if isinstance(name, str) else None)

    def cover(self, name: str, kinds: Iterable[str]) -> bool:
        """Whether a name may be that of a table with a fault, of one of its variants or of one of its counted links."""
        doubtful = [known for kind in kinds for known in self.ids.get(kind, ())]
        return any(known is None or name == known or name.startswith((f"{known}/", f"{known}.")) for known in doubtful)

    def names(self, kinds: Iterable[str]) -> list[str]:
        """Return the ids of these lists that can be read."""
        return sorted({name for kind in kinds for name in self.ids.get(kind, ()) if name is not None})

    def any_of(self, *kinds: str) -> bool:
        """Whether any table of these lists has a fault."""
        return any(self.ids.get(kind) for kind in kinds)


class Seen:
    """Tables that were right when a brief was read last: the same one, as an object, is not looked at again.

    For briefs that are read anew after each change of a table. Whoever gives tables does not change them afterwards.
    """

    def __init__(self) -> None:
        self._models: dict[int, tuple[object, BaseModel]] = {}

    def brief(self, data: Mapping[str, Any]) -> Brief | None:
        """Return the brief of these tables; None where anything in it is wrong."""
        known = self._models
        try:
            found = Brief.model_validate(
                {kind: _each(value, lambda row: _put(row, known)) for kind, value in data.items()}
            )
        except ValidationError:
            return None
        self._models = {id(row): (row, model) for row, model in _pairs(data, found)}
        return found


def _put(row: object, known: Mapping[int, tuple[object, BaseModel]]) -> object:
    """Return the model that was made of a table, or the table where none was."""
    found = known.get(id(row))
    return row if found is None else found[1]


def _each(value: Any, put: Callable[[object], object]) -> Any:
    return [put(row) for row in value] if isinstance(value, list) else put(value)


def _pairs(data: Mapping[str, Any], brief: Brief) -> Iterator[tuple[object, BaseModel]]:
    """Yield each table of a brief that was read with what was made of it."""
    for kind, value in data.items():
        found = getattr(brief, kind)
        if isinstance(value, list):
            yield from zip(value, found, strict=True)
        elif isinstance(found, BaseModel):
            yield value, found


def validated(model: type[Model], data: Mapping[str, Any], findings: Findings) -> Model | None:
    """Return the model of the tables, or None with everything that is wrong noted."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        note_all(model, error.errors(), findings)
        return None


def read_tables(data: Mapping[str, Any], findings: Findings, seen: Seen | None = None) -> tuple[Brief, Doubts]:
    """Return the brief, and which of its tables are in doubt; keys with faults are noted and left out of it."""
    whole = (seen and seen.brief(data)) or validated(Brief, data, findings)
    return (whole, Doubts()) if whole is not None else _Salvage(data=data, findings=findings).brief()


@dataclass(slots=True, kw_only=True)
class _Salvage:
    data: Mapping[str, Any]
    findings: Findings
    doubts: Doubts = field(default_factory=Doubts)

    def brief(self) -> tuple[Brief, Doubts]:
        kept: dict[str, Any] = {}
        for kind, info in fields_of(Brief).items():
            model = table_in(info.annotation)
            if model is not None and (kind in self.data or kind not in _MAY_LACK):
                read = self.single if kind in _SINGLE else self.rows
                kept[kind] = read(kind, model)
        for key in set(self.data) - set(kept):
            near = nearest_word(key, kept)
            if near is not None:
                self.doubts.add(near, None)
        return Brief.model_construct(**kept), self.doubts

    def single(self, kind: str, model: type[BaseModel]) -> BaseModel:
        if self.findings.any_under((kind,)):
            self.doubts.add(kind, None)
        return model.model_validate(_SINGLE[kind] | self.without_faults((kind,), self.data.get(kind)))

    def rows(self, kind: str, model: type[BaseModel]) -> list[BaseModel]:
        rows = self.data.get(kind, [])
        if not isinstance(rows, list):
            self.doubts.add(kind, None)
            return []
        tables, positions = [], []
        for position, row in enumerate(rows):
            if self.findings.any_under((kind, position)):
                has_id = isinstance(row, dict) and not self.findings.any_under((kind, position, "id"))
                self.doubts.add(kind, row.get("id") if has_id else None)
            try:
                tables.append(model.model_validate(self.without_faults((kind, position), row)))
                positions.append(position)
            except ValidationError:
                continue  # a key that it cannot do without is missing or wrong, which is noted
        self.findings.kept[kind] = positions
        return tables

    def without_faults(self, path: tuple[str | int, ...], table: object) -> dict[str, Any]:
        if not isinstance(table, dict):
            return {}
        return {key: value for key, value in table.items() if not self.findings.any_under((*path, key))}


_MAY_LACK = ("area",)
# The tables that a brief has once, each with what it cannot do without.
_SINGLE: dict[str, dict[str, Any]] = {"job": {"title": "-"}, "plan": {}, "area": {}}
