"""The `capacity` and `replan` documents: how many links fit, and which links must move."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from bandwright.core.planning.plan import BoundStatus
from bandwright.documents.outputs.common import Document, Model, Run
from bandwright.documents.outputs.plan import PlanDocument

__all__ = ["CapacityDocument", "MoveModel", "RelaxationModel", "ReplanDocument"]


class RelaxationModel(Model):
    """What would fit if one rule were changed."""

    change: str
    found: int
    upper_bound: int | None


class CapacityDocument(Document):
    """What `bandwright capacity --json` prints: how many links of one radio type fit."""

    schema_: Literal["bandwright.capacity/1"] = Field(default="bandwright.capacity/1", alias="schema")
    radio: str
    found: int
    upper_bound: int | None
    status: BoundStatus
    method: str
    relaxations: tuple[RelaxationModel, ...]
    run: Run


class MoveModel(Model):
    """One link that moves; `from_hz` is null for one that had no carrier."""

    link: str
    from_hz: int | None
    to_hz: int
    text: str


class ReplanDocument(Document):
    """What `bandwright replan --json` prints: the moves, and the new plan."""

    schema_: Literal["bandwright.replan/1"] = Field(default="bandwright.replan/1", alias="schema")
    moves: tuple[MoveModel, ...]
    fewest: Literal[BoundStatus.PROVEN, BoundStatus.FOUND]
    plan: PlanDocument
    run: Run
