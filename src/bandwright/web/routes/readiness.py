"""What still stands between this job and going on air."""

from __future__ import annotations

from fastapi import APIRouter, Response

from bandwright.service import readiness as service
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["readiness"], route_class=ExactRoute, responses=REFUSALS)


@router.get("/readiness", response_model=service.ReadinessNow)
def readiness(here: Here, me: Asker) -> Response:
    """Return how far the job is from going on air, as things are at this minute."""
    return Exact(service.readiness_of(here.desk))
