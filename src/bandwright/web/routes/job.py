"""The job as a whole: its head, its brief, undo and redo."""

from __future__ import annotations

from functools import cache
from typing import Any

from fastapi import APIRouter, Response

from bandwright import __version__
from bandwright.service.brief_schema import brief_schema
from bandwright.service.job_head import head_of
from bandwright.web.exact import Exact, ExactRoute, dumps
from bandwright.web.models import REFUSALS, Brief, MeModel, Shape, brief_of, me_of
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["job"], route_class=ExactRoute, responses=REFUSALS)


class Head(Shape):
    """Which job this is, who asks, and what undo and redo would do for who asks.

    `boot` is another word after each start of the server: ask for everything again then. `job` stays the same for this
    job file. `invented` says that it is the bundled demonstration, and `first_run` that nobody has changed it yet.
    """

    boot: str
    job: str
    seq: int
    title: str | None
    file: str
    program: str
    me: MeModel
    undo: str | None
    redo: str | None
    first_run: bool
    invented: bool


@router.get("/job", response_model=Head)
def job(here: Here, me: Asker) -> Response:
    """Say which job this is."""
    head = head_of(here.desk, who=me.name)
    return Exact(
        Head(
            boot=here.boot,
            job=head.uid,
            seq=head.seq,
            title=head.title,
            file=head.file,
            program=f"bandwright {__version__}",
            me=me_of(me),
            undo=head.undo,
            redo=head.redo,
            first_run=head.invented and head.untouched,
            invented=head.invented,
        )
    )


@router.get("/schemas/brief", response_model=dict[str, Any])
def schema(here: Here, me: Asker) -> Response:
    """Return the JSON Schema of the brief; the help at each field comes from its descriptions."""
    return Exact(_schema())


@cache
def _schema() -> bytes:
    return dumps(brief_schema()).encode()


@router.get("/brief", response_model=Brief)
def brief(here: Here, me: Asker) -> Response:
    """Return all tables of the brief, and everything that is wrong with it."""
    return Exact(brief_of(here.desk.brief()))
