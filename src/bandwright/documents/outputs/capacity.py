"""The `capacity` document: how many links of one radio type fit, and what would make room for more."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.plan import BoundStatus, Warn
from bandwright.core.planning.room import Eased, Room
from bandwright.documents.outputs.common import Document, Input, Model, Run, warned
from bandwright.units import mhz_text

__all__ = ["CapacityDocument", "RelaxationModel", "capacity_document"]


class RelaxationModel(Model):
    """What would fit if one rule were changed: `change` in words, `code` as a short stable word."""

    code: str
    change: str
    found: int
    upper_bound: int | None
    status: BoundStatus


class BesideModel(Model):
    """The plan whose carriers count as given, and how many they are."""

    number: int
    check_phrase: str
    carriers: int


class CapacityDocument(Document):
    """What `bandwright capacity --json` prints: how many links of one radio type fit, and on which carriers."""

    schema_: Literal["bandwright.capacity/1"] = Field(default="bandwright.capacity/1", alias="schema")
    radio: str
    place: str
    beside: BesideModel | None
    found: int
    upper_bound: int | None
    status: BoundStatus
    method: str
    carriers_mhz: tuple[str, ...]
    relaxations: tuple[RelaxationModel, ...]
    run: Run


def capacity_document(
    room: Room, *, inputs: Sequence[Input], warnings: Sequence[Warn], seed: int, seconds: float
) -> CapacityDocument:
    """Return how much room there is as a document."""
    return CapacityDocument(
        radio=room.radio_id,
        place=room.place_name,
        beside=_beside(room),
        found=room.capacity.found,
        upper_bound=room.capacity.upper_bound,
        status=room.capacity.status,
        method=room.capacity.method,
        carriers_mhz=tuple(mhz_text(hz) for hz in room.capacity.carriers_hz),
        relaxations=tuple(_relaxation(item) for item in room.eased),
        inputs=tuple(inputs),
        warnings=warned(warnings),
        run=Run(seed=seed, stopped=room.capacity.stopped, seconds=seconds),
    )


def _beside(room: Room) -> BesideModel | None:
    if room.plan_number is None or room.plan_phrase is None:
        return None
    return BesideModel(number=room.plan_number, check_phrase=room.plan_phrase, carriers=room.plan_carriers)


def _relaxation(item: Eased) -> RelaxationModel:
    return RelaxationModel(
        code=item.code,
        change=item.change,
        found=item.capacity.found,
        upper_bound=item.capacity.upper_bound,
        status=item.capacity.status,
    )
