"""Versions of the job under names of people's own: kept, compared, brought back."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Body, Path, Query, Response
from pydantic import Field

from bandwright.service import versions as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Change, Shape, Wish, change_of
from bandwright.web.serving import Asker, Here, Keyed

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["versions"], route_class=ExactRoute, responses=REFUSALS)

Number = Annotated[int, Path(ge=1, le=2**31)]


class VersionLine(Shape):
    """One version."""

    number: int
    name: str
    made: str = Field(validation_alias="made_at")
    by: str = Field(validation_alias="made_by")


class Versions(Shape):
    """All versions, newest first."""

    versions: list[VersionLine]


class NewVersion(Wish):
    """The name under which to keep the job as it is."""

    name: Annotated[str, Field(max_length=1000)]


class KeptVersion(Shape):
    """The number that the version has, and what changed."""

    number: int
    change: Change


class Difference(Shape):
    """What is different; `same` says that nothing is."""

    lines: list[service.Line]
    same: bool


@router.get("/versions", response_model=Versions)
def all_versions(here: Here, me: Asker) -> Response:
    """Return the versions of the job."""
    return Exact(Versions.model_validate({"versions": service.versions_of(here.desk)}))


@router.post("/versions", response_model=KeptVersion)
def keep(here: Here, me: Asker, keyed: Keyed, wish: NewVersion) -> Response:
    """Keep the brief as it is, and which plan is in force, under a name."""
    changed, number = service.keep_version(here.desk, who=me.name, name=wish.name, client_key=keyed(wish))
    return Exact(KeptVersion(number=number, change=change_of(changed)))


@router.get("/versions/{number}/difference", response_model=Difference)
def difference(
    here: Here,
    me: Asker,
    number: Number,
    against: Annotated[Literal["now"] | Annotated[int, Field(ge=1, le=2**31)], Query()] = "now",
) -> Response:
    """Return what is different in another version, or now, from what it was in this one."""
    other = None if against == "now" else against
    return Exact(Difference.model_validate(service.version_difference(here.desk, number, against=other)))


@router.post("/versions/{number}/restore", response_model=Change)
def restore(
    here: Here, me: Asker, keyed: Keyed, number: Number, wish: Annotated[Wish | None, Body()] = None
) -> Response:
    """Make the brief what it was in a version; undo takes that back."""
    return Exact(change_of(service.restore_version(here.desk, number, who=me.name, client_key=keyed(wish))))
