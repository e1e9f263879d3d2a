"""The air: everything that a spectrum draws, what a sweep shows, and what changed between two."""

from __future__ import annotations

from fastapi import APIRouter, Response

from bandwright.service import job_air as service
from bandwright.service.shapes import CompareDocument, SweepDocument
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Uid
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["air"], route_class=ExactRoute, responses=REFUSALS)


@router.get("/spectrum", response_model=service.Spectrum)
def spectrum(here: Here, me: Asker) -> Response:
    """Return what a spectrum draws; 422 while the brief is not one that can be planned."""
    return Exact(service.spectrum_of(here.desk))


@router.get("/sweeps/{uid}", response_model=SweepDocument)
def sweep(here: Here, me: Asker, uid: Uid) -> Response:
    """Return what is in the air according to one sweep."""
    return Exact(service.air_of(here.desk, uid))


@router.get("/compare", response_model=CompareDocument)
def compare(here: Here, me: Asker, old: Uid, new: Uid) -> Response:
    """Return what changed between two sweeps, whose it is, and which links it touches."""
    return Exact(service.compare_here(here.desk, old, new))
