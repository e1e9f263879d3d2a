"""What happened: undo, redo, and the list of events."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body, Query, Response

from bandwright.service import history as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Change, Shape, Wish, change_of
from bandwright.web.serving import Asker, Here, Keyed

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["history"], route_class=ExactRoute, responses=REFUSALS)

Plain = Annotated[Wish | None, Body()]


class Events(Shape):
    """Events, oldest first."""

    events: list[service.EventLine]


@router.post("/undo", response_model=Change)
def undo(here: Here, me: Asker, keyed: Keyed, wish: Plain = None) -> Response:
    """Take back the last change of who asks; 409 with both values where what it left is no longer there."""
    return Exact(change_of(service.undo(here.desk, who=me.name, client_key=keyed(wish))))


@router.post("/redo", response_model=Change)
def redo(here: Here, me: Asker, keyed: Keyed, wish: Plain = None) -> Response:
    """Do again what who asks took back last."""
    return Exact(change_of(service.redo(here.desk, who=me.name, client_key=keyed(wish))))


@router.get("/events", response_model=Events)
def events(
    here: Here,
    me: Asker,
    after: Annotated[int, Query(ge=0, le=2**53)] = 0,
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
) -> Response:
    """Return the events that follow one."""
    return Exact({"events": service.events_of(here.desk, after=after, limit=limit)})
