"""Notes of people's own: about the whole job, a table or a link, or a plan."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body, Query, Response
from pydantic import Field

from bandwright.service import notes as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Change, Shape, Uid, Wish, change_of
from bandwright.web.serving import Asker, Here, Keyed

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["notes"], route_class=ExactRoute, responses=REFUSALS)

Number = Annotated[int, Field(ge=1, le=2**31)]
Text = Annotated[str, Field(max_length=20_000)]


class Notes(Shape):
    """Notes, the oldest first."""

    notes: list[service.Note]


class NewNote(Wish):
    """A note about a table or a link (`about`, its uid), about a plan (its number), or about the whole job."""

    text: Text
    about: Uid | None = None
    plan: Number | None = None


class NoteEdit(Wish):
    """What a note says from now on; `base` is its revision when editing began."""

    text: Text
    base: Annotated[int, Field(ge=0, le=2**53)]


class Noted(Shape):
    """The note that was written, and what changed."""

    uid: str
    change: Change


@router.get("/notes", response_model=Notes)
def notes(
    here: Here,
    me: Asker,
    about: Annotated[Uid | None, Query()] = None,
    plan: Annotated[int | None, Query(ge=1, le=2**31)] = None,
) -> Response:
    """Return the notes of the job; with `about` or `plan` only those about one thing."""
    return Exact({"notes": service.notes_of(here.desk, about=about, plan=plan)})


@router.post("/notes", response_model=Noted)
def add(here: Here, me: Asker, keyed: Keyed, wish: NewNote) -> Response:
    """Write a note."""
    found = service.add_note(
        here.desk, who=me.name, text=wish.text, about=wish.about, plan=wish.plan, client_key=keyed(wish)
    )
    return Exact(Noted(uid=found.uid, change=change_of(found.change)))


@router.patch("/notes/{uid}", response_model=Change)
def change(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: NoteEdit) -> Response:
    """Write a note anew; 409 with both texts where somebody else did meanwhile."""
    return Exact(
        change_of(
            service.change_note(here.desk, uid, who=me.name, text=wish.text, base=wish.base, client_key=keyed(wish))
        )
    )


@router.delete("/notes/{uid}", response_model=Change)
def remove(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: Annotated[Wish | None, Body()] = None) -> Response:
    """Remove a note; undo brings it back."""
    return Exact(change_of(service.remove_note(here.desk, uid, who=me.name, client_key=keyed(wish))))
