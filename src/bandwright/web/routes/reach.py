"""Reach: whether the signal will be there, link by link and all over the plan of the place."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from bandwright.service import job_reach as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["reach"], route_class=ExactRoute, responses=REFUSALS)

LinkId = Annotated[str | None, Query(min_length=1, max_length=100)]


@router.get("/reach", response_model=service.ReachNow)
def reach(here: Here, me: Asker, link: LinkId = None) -> Response:
    """Return how links reach on the carriers of the plan in force, or one link (by its id); 422 while none can be."""
    return Exact(service.reach_now(here.desk, link))
