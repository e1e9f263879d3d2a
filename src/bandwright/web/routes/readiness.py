"""What still stands between this job and going on air."""

from __future__ import annotations

from fastapi import APIRouter, Response

from bandwright.service import readiness as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Shape
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["readiness"], route_class=ExactRoute, responses=REFUSALS)


class NextStep(Shape):
    """What is to be done next, for whom the job waits meanwhile, and where it is done."""

    text: str
    waits_for: str
    href: str


class Said(Shape):
    """Who stated something, when, and with which remark."""

    uid: str
    who: str
    at: str
    note: str


class Point(Shape):
    """One of the eight points: "fine", "open", "stated" by somebody, or "not known"."""

    point: str
    title: str
    state: str
    text: str
    href: str
    statement: Said | None


class PlanHead(Shape):
    """The plan in force; `stale` says what changed since it was made, `unplaced` names what has no carrier."""

    number: int
    check_phrase: str
    made: str
    stale: str | None
    unplaced: list[str]


class SweepHead(Shape):
    """The newest sweep; `age` in words, null where nobody knows it; `old` is of another day."""

    name: str
    own_transmitters: str
    age: str | None
    old: bool


class LinkName(Shape):
    """A link on which something is not ticked yet."""

    uid: str
    id: str
    name: str


class Ticks(Shape):
    """Who ticked what of a link, and when; null where nobody did."""

    set: Said | None
    heard: Said | None
    walked: Said | None


class LinkLine(LinkName):
    """A link with its carrier in the plan in force, how it stands there, and its ticks."""

    carrier_hz: int | None
    status: str | None
    cautions: list[str]
    ticks: Ticks


class Links(Shape):
    """How many links there are, and those not set, not heard, not walked, by name."""

    total: int
    not_set: list[LinkName]
    not_heard: list[LinkName]
    not_walked: list[LinkName]
    all: list[LinkLine]


class Spares(Shape):
    """Spare carriers of a radio type: wished for, and left."""

    radio: str
    wished: int
    left: int


class Permit(Shape):
    """A permit in one line; `over` means past."""

    uid: str | None
    id: str
    reference: str
    state: str
    expires: str | None
    over: bool
    text: str


class Readiness(Shape):
    """The first page: what is next, the facts beside it, and the eight points."""

    next: NextStep
    plan: PlanHead | None
    sweep: SweepHead | None
    links: Links
    printed: Said | None
    since_print: list[str]
    spares: list[Spares]
    permits: list[Permit]
    points: list[Point]


@router.get("/readiness", response_model=Readiness)
def readiness(here: Here, me: Asker) -> Response:
    """Return how far the job is from going on air, as things are at this minute."""
    return Exact(Readiness.model_validate(service.readiness_of(here.desk).plain()))
