"""Reach: whether the signal will be there, link by link and all over the plan of the place."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from bandwright.service import job_reach as service
from bandwright.service.shapes import GlanceModel
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Asked, Metre
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["reach"], route_class=ExactRoute, responses=REFUSALS)

Id = Annotated[str, Field(min_length=1, max_length=100)]


class AntennaInHand(Asked):
    """An antenna (by its id) at a spot of the plan, as long as somebody holds it; the map is that of a link's kind."""

    link: Id
    antenna: Id
    at_m: tuple[Metre, Metre]


LinkId = Annotated[str | None, Query(min_length=1, max_length=100)]


@router.get("/reach", response_model=service.ReachNow)
def reach(here: Here, me: Asker, link: LinkId = None) -> Response:
    """Return how links reach on the carriers of the plan in force, or one link (by its id); 422 while none can be.

    Carrier to interference is told of one link alone: it takes a while for many.
    """
    return Exact(service.reach_now(here.desk, link))


@router.post("/reach/preview", response_model=GlanceModel)
def preview(here: Here, me: Asker, hand: AntennaInHand) -> Response:
    """Return the map of a link on fewer points with an antenna at another spot; nothing is changed."""
    return Exact(service.glance(here.desk, hand.link, hand.antenna, hand.at_m))
