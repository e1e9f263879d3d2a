"""What people state: a link is set, heard, walked; the sheet is printed; one of the eight points is seen to."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body, Response
from pydantic import AwareDatetime, Field

from bandwright.service import statements as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Change, Shape, Uid, Wish, change_of
from bandwright.web.serving import Asker, Here, Keyed

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["statements"], route_class=ExactRoute, responses=REFUSALS)


class Statements(Shape):
    """All that stand, oldest first."""

    statements: list[service.StatementLine]


class Statement(Wish):
    """What is stated: "set", "heard" or "walked" of a link, "printed", or one of the eight points.

    `client_time` is when it was ticked, where that was earlier: on a phone without network. `plan` is the number of the
    plan that whoever ticks had before their eyes.
    """

    what: Annotated[str, Field(min_length=1, max_length=40)]
    about: Uid | None = None
    note: Annotated[str, Field(max_length=2000)] = ""
    client_time: AwareDatetime | None = None
    plan: Annotated[int, Field(ge=1, le=2**31)] | None = None


class Stated(Shape):
    """The statement that stands now, and what changed; null where it stood already."""

    uid: str
    change: Change | None


@router.get("/statements", response_model=Statements)
def standing(here: Here, me: Asker) -> Response:
    """Return the statements that stand."""
    return Exact({"statements": service.statement_lines(here.desk)})


@router.post("/statements", response_model=Stated)
def state(here: Here, me: Asker, keyed: Keyed, wish: Statement) -> Response:
    """State something; what is stated already is stated once."""
    found = service.state_something(
        here.desk,
        who=me.name,
        what=wish.what,
        about=wish.about,
        note=wish.note,
        at=wish.client_time,
        plan=wish.plan,
        client_key=keyed(wish),
    )
    return Exact(Stated(uid=found.uid, change=change_of(found.changed) if found.changed else None))


@router.delete("/statements/{uid}", response_model=Change)
def take_back(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: Annotated[Wish | None, Body()] = None) -> Response:
    """Take a statement back; it stays readable in the history."""
    return Exact(change_of(service.take_back(here.desk, uid, who=me.name, client_key=keyed(wish))))
