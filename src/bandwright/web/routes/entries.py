"""The tables of the brief: add, edit, copy, order, paste, remove."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Response
from pydantic import Field

from bandwright.service import entries as service
from bandwright.service.paste import paste_entries
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Change, Uid, Wish, change_of
from bandwright.web.serving import Asker, Here, Keyed

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["entries"], route_class=ExactRoute, responses=REFUSALS)

Kind = Annotated[str, Field(min_length=1, max_length=40)]


class NewEntry(Wish):
    """A table to add, behind another (by uid) or at the end; text in a cell that holds something else is read."""

    kind: Kind
    value: dict[str, Any]
    after: Uid | None = None


class Edit(Wish):
    """Fields to change; null says nothing there. `base` is the revision of the entry when editing began."""

    base: Annotated[int, Field(ge=0, le=2**53)]
    changes: dict[str, Any]


class Copies(Wish):
    """How many copies to make."""

    count: Annotated[int, Field(le=2**31)] = 1


class Order(Wish):
    """Which of a kind come first; those not named follow in the order they had."""

    kind: Kind
    uids: list[Uid]


class Paste(Wish):
    """Rows from a spreadsheet, tabs or commas between the cells; `columns` are its keys where no row names them."""

    kind: Kind
    text: str
    after: Uid | None = None
    columns: list[str] | None = None


@router.post("/entries", response_model=Change)
def add(here: Here, me: Asker, keyed: Keyed, wish: NewEntry) -> Response:
    """Add a table; it gets a free id where it has none."""
    return Exact(
        change_of(
            service.add_entry(
                here.desk,
                who=me.name,
                kind=wish.kind,
                value=wish.value,
                after=wish.after,
                client_key=keyed(wish),
            )
        )
    )


@router.post("/entries/order", response_model=Change)
def order(here: Here, me: Asker, keyed: Keyed, wish: Order) -> Response:
    """Put the tables of a kind in order."""
    found = service.order_entries(here.desk, who=me.name, kind=wish.kind, uids=wish.uids, client_key=keyed(wish))
    return Exact(change_of(found))


@router.post("/entries/paste", response_model=Change)
def paste(here: Here, me: Asker, keyed: Keyed, wish: Paste) -> Response:
    """Take rows from a spreadsheet: rows whose id is there already change it, others are added."""
    found = paste_entries(
        here.desk,
        who=me.name,
        kind=wish.kind,
        text=wish.text,
        after=wish.after,
        columns=wish.columns,
        client_key=keyed(wish),
    )
    return Exact(change_of(found))


@router.patch("/entries/{uid}", response_model=Change)
def edit(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: Edit) -> Response:
    """Change fields of a table; 409 with both values where one of them was changed since `base`."""
    found = service.edit_entry(
        here.desk, uid, who=me.name, base=wish.base, changes=wish.changes, client_key=keyed(wish)
    )
    return Exact(change_of(found))


@router.post("/entries/{uid}/copies", response_model=Change)
def copy(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: Copies) -> Response:
    """Add copies of a table behind it, each with an id and a name of its own."""
    found = service.copy_entry(here.desk, uid, who=me.name, count=wish.count, client_key=keyed(wish))
    return Exact(change_of(found))


@router.post("/entries/{uid}/singles", response_model=Change)
def single_out(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: Annotated[Wish | None, Body()] = None) -> Response:
    """Make of a link with `count` a row for each link that it makes; plan, ticks and notes stay with each."""
    return Exact(change_of(service.single_out(here.desk, uid, who=me.name, client_key=keyed(wish))))


@router.delete("/entries/{uid}", response_model=Change)
def remove(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: Annotated[Wish | None, Body()] = None) -> Response:
    """Remove a table; what names it stays and is told as a fault."""
    return Exact(change_of(service.remove_entry(here.desk, uid, who=me.name, client_key=keyed(wish))))
