"""The sheets: the plan in force on paper, as a page, as a list of carriers; and the brief as text."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response

from bandwright.service.job_sheets import sheet_file
from bandwright.web.models import REFUSALS, Asked
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["sheets"], responses=REFUSALS)

Name = Literal["sheet.html", "sheet.pdf", "carriers.csv", "brief.toml"]

# A sheet may stand in a frame of our own page; it has styles inside, no scripts, and may be printed from there.
_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'self'; "
    "base-uri 'none'; form-action 'none'; sandbox allow-same-origin allow-modals"
)
_FRAMED = {"Content-Security-Policy": _POLICY, "X-Frame-Options": "SAMEORIGIN"}


class Look(Asked):
    """How a sheet is to look: names of people, paper, and the order of links."""

    names: Literal["full", "initials", "roles"] = "full"
    paper: Literal["a4", "letter"] = "a4"
    order: Literal["list", "rack", "running"] = "list"


@router.get("/sheets/{name}", response_class=Response)
def sheet(here: Here, me: Asker, name: Name, look: Annotated[Look, Query()]) -> Response:
    """Return a sheet of the plan in force."""
    file = sheet_file(here.desk, name, names=look.names, paper=look.paper, order=look.order)
    headers = {"Content-Disposition": f'inline; filename="{file.name}"', **(_FRAMED if name == "sheet.html" else {})}
    return Response(file.data, media_type=file.media_type, headers=headers)
