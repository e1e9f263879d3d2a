"""The `compare` document: what changed between two sweeps of one place, whose it is, and which links it touches."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.compare import AirChange, AirComparison, AlignedBy, ChangeKind, ChangeOf
from bandwright.core.own_signals import OwnSignal, Touched
from bandwright.core.planning.plan import Warn
from bandwright.documents.outputs.common import UNITS, Document, Input, Level, Model, Number, Unit, level, warned
from bandwright.units import HZ_PER_MHZ, mhz_text

__all__ = ["CompareDocument", "compare_document"]


class AlignmentModel(Model):
    """How two sweeps were put on one scale; null: unknown.

    `offset_db` is what the new sweep reads more of the same air, `floor_rise_db` by how much its floor then rose.
    """

    by: AlignedBy
    offset_db: Level | None
    spread_db: Level | None
    floor_rise_db: Level | None


class AirChangeModel(Model):
    """Something that is new, went or got noisier.

    Levels are as each sweep read them, null where it shows none. `own_link` or `own_product` say that it is our own.
    """

    kind: ChangeKind
    of: ChangeOf
    low_mhz: Number
    high_mhz: Number
    centre_mhz: Number
    tv_channel: str | None
    old_level: Level | None
    new_level: Level | None
    rise_db: Level | None
    own_link: str | None
    own_product: str | None


class TouchedModel(Model):
    """A link that something touches; `intruder`: energy on its carrier that is not its own."""

    link: str
    carrier_hz: int
    carrier_mhz: str
    intruder: bool
    text: str


class CompareDocument(Document):
    """What `bandwright compare --json` prints."""

    schema_: Literal["bandwright.compare/1"] = Field(default="bandwright.compare/1", alias="schema")
    ok: bool
    old: str
    new: str
    old_unit: Unit
    new_unit: Unit
    own_transmitters: str
    alignment: AlignmentModel
    changes: tuple[AirChangeModel, ...]
    touched: tuple[TouchedModel, ...]


def compare_document(
    comparison: AirComparison,
    owners: Sequence[OwnSignal | None],
    touched: Sequence[Touched],
    *,
    inputs: Sequence[Input],
    warnings: Sequence[Warn] = (),
) -> CompareDocument:
    """Return a comparison as the document; `ok` says that nothing touches a link."""
    alignment = comparison.alignment
    return CompareDocument(
        ok=not touched,
        old=comparison.old.name,
        new=comparison.new.name,
        old_unit=UNITS[comparison.old.unit],
        new_unit=UNITS[comparison.new.unit],
        own_transmitters=comparison.new.own_transmitters,
        alignment=AlignmentModel(
            by=alignment.by,
            offset_db=level(alignment.offset_db),
            spread_db=level(alignment.spread_db),
            floor_rise_db=level(alignment.floor_rise_db),
        ),
        changes=tuple(_change(change, owner) for change, owner in zip(comparison.changes, owners, strict=True)),
        touched=tuple(
            TouchedModel(
                link=item.link,
                carrier_hz=item.carrier_hz,
                carrier_mhz=mhz_text(item.carrier_hz),
                intruder=item.intruder,
                text=item.text,
            )
            for item in touched
        ),
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _change(change: AirChange, owner: OwnSignal | None) -> AirChangeModel:
    return AirChangeModel(
        kind=change.kind,
        of=change.of,
        low_mhz=round(change.low_hz / HZ_PER_MHZ, 6),
        high_mhz=round(change.high_hz / HZ_PER_MHZ, 6),
        centre_mhz=round(change.centre_hz / HZ_PER_MHZ, 6),
        tv_channel=change.channel,
        old_level=level(change.old_db),
        new_level=level(change.new_db),
        rise_db=level(change.rise_db),
        own_link=owner.link if owner is not None else None,
        own_product=owner.product if owner is not None else None,
    )
