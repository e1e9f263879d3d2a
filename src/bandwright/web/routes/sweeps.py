"""Sweeps: brought as files, described, listed, drawn, compared."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Query, Request, Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool

from bandwright.service import job_sweeps as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Change, Shape, Uid, Wish, change_of
from bandwright.web.serving import Asker, Here, Keyed

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["sweeps"], route_class=ExactRoute, responses=REFUSALS)

State = Literal["off", "on", "unknown"]

_BYTES = {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}
_FILE = {"requestBody": {"required": True, "content": _BYTES}}
_LEVELS: dict[int | str, dict[str, Any]] = {200: {"content": _BYTES, "description": "The levels."}}


class Sweeps(Shape):
    """All sweeps of the job, oldest first; those put aside behind them."""

    sweeps: list[service.SweepLine]


class NewSweep(Wish):
    """What stands behind the address when a sweep is brought: its name, and what its file cannot know."""

    name: Annotated[str, Field(min_length=1, max_length=300)]
    place: Annotated[str, Field(max_length=200)] | None = None
    own_transmitters: State | None = None


class Brought(Shape):
    """The sweep that was brought, and what changed."""

    uid: str
    change: Change


class SweepEdit(Wish):
    """What is stated of a sweep; what is absent stays, null states nothing."""

    name: Annotated[str, Field(max_length=200)] | None = None
    place: str | None = None
    antenna: str | None = None
    gain_ahead_db: Any = None
    rbw_khz: Any = None
    own_transmitters: State | None = None
    started: str | None = None
    trace: str | None = None
    in_use: bool | None = None
    removed: Literal[False] | None = None


class Segment(Shape):
    """Bins of one width side by side: bin i reaches from `low_hz + i * step_hz` to the next."""

    low_hz: float
    step_hz: float
    count: int


class Trace(Shape):
    """Where the levels of a sweep stand; the levels themselves come as numbers of two bytes (see `levels`)."""

    unit: str
    series: list[str]
    segments: list[Segment]
    count: int


@router.get("/sweeps", response_model=Sweeps)
def all_sweeps(here: Here, me: Asker) -> Response:
    """Return the sweeps of the job."""
    return Exact({"sweeps": service.sweep_lines(here.desk)})


@router.post("/sweeps", response_model=Brought, openapi_extra=_FILE)
async def bring(request: Request, here: Here, me: Asker, keyed: Keyed, wish: Annotated[NewSweep, Query()]) -> Response:
    """Take a sweep file as it is: the body is its bytes."""
    data = await request.body()
    stated = wish.model_dump(include={"place", "own_transmitters"}, exclude_none=True)
    changed, uid = await run_in_threadpool(
        service.add_sweep,
        here.desk,
        who=me.name,
        name=wish.name,
        data=data,
        stated=stated,
        client_key=keyed(wish),
    )
    return Exact(Brought(uid=uid, change=change_of(changed)))


@router.patch("/sweeps/{uid}", response_model=Change)
def change(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: SweepEdit) -> Response:
    """State something else of a sweep, call it otherwise, count it or not, or take it back from what was put aside."""
    changes = wish.model_dump(exclude_unset=True, exclude={"client_key"})
    found = service.change_sweep(here.desk, uid, who=me.name, changes=changes, client_key=keyed(wish))
    return Exact(change_of(found))


@router.delete("/sweeps/{uid}", response_model=Change)
def put_aside(here: Here, me: Asker, keyed: Keyed, uid: Uid, wish: Annotated[Wish | None, Body()] = None) -> Response:
    """Put a sweep aside; undo brings it back."""
    return Exact(change_of(service.remove_sweep(here.desk, uid, who=me.name, client_key=keyed(wish))))


@router.get("/sweeps/{uid}/trace", response_model=Trace)
def trace(here: Here, me: Asker, uid: Uid) -> Response:
    """Return where the levels of a sweep stand along the band."""
    return Exact(Trace.model_validate(service.levels_of(here.desk, uid)))


@router.get("/sweeps/{uid}/levels", response_class=Response, responses=_LEVELS)
def levels(here: Here, me: Asker, uid: Uid) -> Response:
    """Return the levels: hundredths of a dB as little-endian numbers of 16 bits, series after series.

    -32768 is what was not measured.
    """
    return Response(service.levels_of(here.desk, uid).data, media_type="application/octet-stream")
