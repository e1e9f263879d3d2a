"""The `rules` document: the shipped tables of published rules."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.kit import PowerKind
from bandwright.core.library import Confidence, RuleTable, RuleWindow
from bandwright.core.permits import PowerLimit
from bandwright.core.planning.plan import Warn
from bandwright.documents.outputs.common import Document, Model, Number, khz, plain, warned
from bandwright.units import mhz_text

__all__ = ["RulesDocument", "rules_document"]


class PowerModel(Model):
    """The most power, by how a transmitter is worn; null where the rules state nothing."""

    kind: PowerKind
    any_mw: Number | None
    bodyworn_mw: Number | None
    handheld_mw: Number | None


class WindowModel(Model):
    """One window with its terms; `confidence` is that of its weakest figure."""

    low_hz: int
    high_hz: int
    low_mhz: str
    high_mhz: str
    max_power: PowerModel | None
    max_bandwidth_khz: Number | None
    grid_khz: Number | None
    confidence: Confidence
    note: str | None


class RuleTableModel(Model):
    """A dated copy of published rules; `sources` tells how each figure was obtained."""

    id: str
    name: str
    where: str
    edition: str
    licence: str
    confidence: Confidence
    windows: tuple[WindowModel, ...]
    sources: tuple[str, ...]
    notes: tuple[str, ...]


class RulesDocument(Document):
    """What `bandwright rules --json` prints."""

    schema_: Literal["bandwright.rules/1"] = Field(default="bandwright.rules/1", alias="schema")
    tables: tuple[RuleTableModel, ...]


def rules_document(tables: Sequence[RuleTable], *, warnings: Sequence[Warn]) -> RulesDocument:
    """Return rule tables as a document."""
    return RulesDocument(inputs=(), warnings=warned(warnings), tables=tuple(_table(table) for table in tables))


def _table(table: RuleTable) -> RuleTableModel:
    return RuleTableModel(
        id=table.id,
        name=table.name,
        where=table.where,
        edition=table.edition,
        licence=table.licence,
        confidence=table.confidence,
        windows=tuple(_window(window) for window in table.windows),
        sources=table.sources,
        notes=table.notes,
    )


def _window(window: RuleWindow) -> WindowModel:
    return WindowModel(
        low_hz=window.span.low_hz,
        high_hz=window.span.high_hz,
        low_mhz=mhz_text(window.span.low_hz),
        high_mhz=mhz_text(window.span.high_hz),
        max_power=_power(window.max_power),
        max_bandwidth_khz=khz(window.max_bandwidth_hz),
        grid_khz=khz(window.grid_hz),
        confidence=window.confidence,
        note=window.note,
    )


def _power(limit: PowerLimit | None) -> PowerModel | None:
    if limit is None:
        return None
    return PowerModel(
        kind=limit.kind,
        any_mw=plain(limit.any_mw),
        bodyworn_mw=plain(limit.bodyworn_mw),
        handheld_mw=plain(limit.handheld_mw),
    )
