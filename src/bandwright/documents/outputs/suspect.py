"""The `suspect` document: which products may be heard on a frequency, and which packs to lower to find out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.plan import Warn
from bandwright.core.reach.switch_off import Drop, Outcome, Suspect, Suspicion
from bandwright.documents.outputs.common import Document, Input, Level, Model, Number, khz, level, plain, warned
from bandwright.units import mhz_text

__all__ = ["SuspectDocument", "suspect_document"]


class SuspectModel(Model):
    """A product near what is heard; `members` in the order of the family's letters.

    `level_dbm` is what it is predicted to add at the receiver at most; null where that is not known.
    """

    family: str
    members: tuple[str, ...]
    product_hz: int
    product_mhz: str
    offset_khz: Number | None
    order: int
    level_dbm: Level | None


class OutcomeModel(Model):
    """What the needle does when the pack is lowered, and which suspects (numbered from 0) do that.

    `change_db` is null where the step is not known; 0 says: not one of those that this pack moves, or a carrier.
    """

    db_per_db: int
    change_db: Level | None
    suspects: tuple[int, ...]
    then: str | None


class DropModel(Model):
    """One pack to lower by one setting, and what the needle then tells."""

    link: str
    name: str
    in_ear: bool
    from_mw: Number | None
    to_mw: Number | None
    step_db: Level | None
    outcomes: tuple[OutcomeModel, ...]


class SuspectDocument(Document):
    """What `bandwright suspect --json` prints; `ok` when no product is suspected.

    No fewer packs than `drops` reach all suspects that any can; `beyond` numbers those that none reaches.
    """

    schema_: Literal["bandwright.suspect/1"] = Field(default="bandwright.suspect/1", alias="schema")
    ok: bool
    at_hz: int
    at_mhz: str
    link: str | None
    within_khz: Number | None
    suspects: tuple[SuspectModel, ...]
    more: int
    drops: tuple[DropModel, ...]
    beyond: tuple[int, ...]
    carriers: tuple[str, ...]


def suspect_document(
    found: Suspicion, *, link: str | None, inputs: Sequence[Input], warnings: Sequence[Warn]
) -> SuspectDocument:
    """Return a suspicion as a document."""
    return SuspectDocument(
        ok=not found.suspects,
        at_hz=found.at_hz,
        at_mhz=mhz_text(found.at_hz),
        link=link,
        within_khz=khz(found.within_hz),
        suspects=tuple(map(_suspect, found.suspects)),
        more=found.more,
        drops=tuple(map(_drop, found.drops)),
        beyond=found.beyond,
        carriers=tuple(other.id for other in found.carriers),
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _suspect(item: Suspect) -> SuspectModel:
    return SuspectModel(
        family=item.family.name,
        members=item.members,
        product_hz=item.product_hz,
        product_mhz=mhz_text(item.product_hz),
        offset_khz=khz(item.offset_hz),
        order=item.family.order,
        level_dbm=level(item.level_dbm),
    )


def _drop(item: Drop) -> DropModel:
    return DropModel(
        link=item.link,
        name=item.name,
        in_ear=item.in_ear,
        from_mw=plain(item.from_mw),
        to_mw=plain(item.to_mw),
        step_db=level(item.step_db),
        outcomes=tuple(map(_outcome, item.outcomes)),
    )


def _outcome(item: Outcome) -> OutcomeModel:
    return OutcomeModel(db_per_db=item.db_per_db, change_db=level(item.db), suspects=item.suspects, then=item.then)
