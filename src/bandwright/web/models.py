"""What several answers hold, and how the service's values become them."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from bandwright.service.desk import Changed
from bandwright.service.devices import Role
from bandwright.service.job_brief import BriefNow, CellFault
from bandwright.web.refusals import cell_faults
from bandwright.web.sessions import Me

__all__ = [
    "REFUSALS",
    "Asked",
    "Brief",
    "Change",
    "ClientKey",
    "Entry",
    "ErrorModel",
    "Errors",
    "MeModel",
    "Metre",
    "Shape",
    "Uid",
    "Wish",
    "brief_of",
    "change_of",
    "me_of",
]

ClientKey = Annotated[str, Field(min_length=1, max_length=100)]
Uid = Annotated[str, Field(min_length=1, max_length=100)]
Metre = Annotated[float, Field(ge=-100_000, le=100_000, allow_inf_nan=False)]
"""A length on a plan of a place, in metres."""


class Shape(BaseModel):
    """A part of an answer. `Model.model_validate(value)` takes what has attributes, or keys, of the same names."""

    model_config = ConfigDict(frozen=True, from_attributes=True)


class Asked(BaseModel):
    """A part of a request: nothing in it that is not described, for it would be lost."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Wish(Asked):
    """A request that changes something.

    `client_key` is a word of the client's own: given again, the first answer comes again and nothing is done twice.
    """

    client_key: ClientKey | None = None


class ErrorModel(Shape):
    """One thing that is wrong: what was given, what is allowed, what to do; and the cell, where it is one."""

    code: str
    text: str
    file: str | None = None
    line: int | None = None
    key: str | None = None
    given: str | None = None
    allowed: str | None = None
    hint: str | None = None
    uid: str | None = None
    field: str | None = None


class Errors(BaseModel):
    """Every refusal. A conflict also holds `yours`, `theirs`, `by` and `entry`; a refused undo holds `clashes`."""

    model_config = ConfigDict(extra="allow", frozen=True)

    errors: list[ErrorModel]


class MeModel(Shape):
    """Who asks; `local` is the laptop that serves."""

    name: str
    role: Role
    local: bool


class Entry(Shape):
    """One table of the brief; `revision` is what an edit gives back as its `base`."""

    uid: str
    kind: str
    id: str | None
    position: int
    revision: int
    value: dict[str, Any]


class Brief(Shape):
    """All tables of the brief, and everything that is wrong with it now."""

    seq: int
    entries: list[Entry]
    faults: list[ErrorModel]


class Change(Shape):
    """What a change did: the entries as it left them, the uids of those it removed, every fault of the brief now."""

    seq: int
    what: str
    entries: list[Entry]
    removed: list[str]
    faults: list[ErrorModel]


def me_of(me: Me) -> MeModel:
    """Return who asks, as it is told."""
    return MeModel.model_validate(me)


def brief_of(brief: BriefNow) -> Brief:
    """Return the brief, as it is told."""
    return Brief(seq=brief.seq, entries=list(map(Entry.model_validate, brief.entries)), faults=_faults(brief.faults))


def change_of(changed: Changed) -> Change:
    """Return what a change did, as it is told."""
    return Change(
        seq=changed.seq,
        what=changed.what,
        entries=list(map(Entry.model_validate, changed.entries)),
        removed=list(changed.removed),
        faults=_faults(changed.faults),
    )


def _faults(cells: tuple[CellFault, ...]) -> list[ErrorModel]:
    return [ErrorModel(**written) for written in cell_faults(cells)]


REFUSALS: dict[int | str, dict[str, Any]] = {
    400: {"model": Errors, "description": "The body cannot be read."},
    401: {"model": Errors, "description": "This device is not paired."},
    403: {"model": Errors, "description": "This device may not do that, or a foreign page asked."},
    404: {"model": Errors, "description": "There is no such thing."},
    409: {"model": Errors, "description": "Somebody else changed it meanwhile; both values stand beside the errors."},
    413: {"model": Errors, "description": "That is too large."},
    422: {"model": Errors, "description": "What was given cannot be taken; what is wrong, each with its place."},
    429: {"model": Errors, "description": "Too many tries; wait."},
}
