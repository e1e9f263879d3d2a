"""Facts that a computation of reach lacks, as a part of its documents."""

from __future__ import annotations

from bandwright.core.reach.facts import Gap
from bandwright.documents.outputs.common import Model

__all__ = ["GapModel", "gap_model"]


class GapModel(Model):
    """A fact to fill in, and what counts until then."""

    table: str
    id: str
    key: str
    meanwhile: str | None


def gap_model(item: Gap) -> GapModel:
    """Return a missing fact as a part of a document."""
    return GapModel(table=item.table, id=item.id, key=item.key, meanwhile=item.meanwhile)
