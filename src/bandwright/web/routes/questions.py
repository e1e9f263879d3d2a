"""Questions about carriers: why this one, and how many more."""

from __future__ import annotations

import threading
from typing import Annotated

from fastapi import APIRouter, Query, Response

from bandwright.service.job_capacity import capacity_here
from bandwright.service.job_hand import explain_here
from bandwright.service.shapes import CapacityDocument, WhyDocument
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS
from bandwright.web.refusals import RefusedError
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["questions"], route_class=ExactRoute, responses=REFUSALS)

_COUNTING = threading.Lock()  # each waits for the worker, and all of them together would leave no thread for pages

Word = Annotated[str, Query(min_length=1, max_length=100)]


@router.get("/why", response_model=WhyDocument)
def why(here: Here, me: Asker, link: Word, mhz: Word) -> Response:
    """Return what stops or allows a carrier for a link (by its id), rule by rule, beside the plan in force."""
    return Exact(explain_here(here.desk, link, mhz).document())


@router.get("/capacity", response_model=CapacityDocument)
def capacity(here: Here, me: Asker, radio: Word) -> Response:
    """Return how many links of a radio type still fit beside the plan in force: found, and at most; one at a time."""
    if not _COUNTING.acquire(blocking=False):
        text = "How many more fit is being counted already, for somebody else."
        raise RefusedError(429, "counting-already", text, hint="Ask again in some seconds.")
    try:
        return Exact(capacity_here(here.desk, radio))
    finally:
        _COUNTING.release()
