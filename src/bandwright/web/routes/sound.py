"""Sound: how links sound from end to end, and kinds of companding tried with a sound, to look at and to listen to."""

from __future__ import annotations

import re
import threading
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Header, Query, Request, Response
from pydantic import Field, model_validator
from starlette.concurrency import run_in_threadpool

from bandwright.service import job_sound as service
from bandwright.service import runs
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.models import REFUSALS, Asked
from bandwright.web.refusals import RefusedError
from bandwright.web.serving import Asker, Here

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["sound"], route_class=ExactRoute, responses=REFUSALS)

Word = Annotated[str, Field(min_length=1, max_length=100)]
Name = Annotated[str, Query(min_length=1, max_length=300)]

_FILE = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}
_WAV: dict[int | str, dict[str, Any]] = {
    200: {"content": {"audio/wav": {"schema": {"type": "string", "format": "binary"}}}, "description": "The sound."},
    206: {"description": "The part of it that was asked for."},
    416: {"description": "It has no such part."},
}
_RANGE = re.compile(r"bytes=(\d{1,12})-(\d{0,12})", re.ASCII)
_READING = threading.Lock()  # a recording takes ten times its size for as long as it is read


class Wanted(Asked):
    """Which link or which radio type (by its id) is tried, and with what; without `sound` what its source is most like.

    "file" is the recording that somebody brought. With `walking` the carrier fades at the farthest point.
    """

    link: Word | None = None
    radio: Word | None = None
    sound: Literal["speech", "sung", "keys", "clapper", "file"] | None = None
    walking: bool = False

    @model_validator(mode="after")
    def _one(self) -> Wanted:
        if (self.link is None) == (self.radio is None):
            raise ValueError("name either a link or a radio type")
        return self


@router.get("/sound", response_model=service.SoundNow)
def sound(here: Here, me: Asker) -> Response:
    """Return how the links of the job sound; 422 while the brief is none that can be planned."""
    return Exact(service.sound_now(here.desk))


@router.get("/sound/compare", response_model=service.Bench)
def bench(here: Here, me: Asker) -> Response:
    """Return what there is to try companding with: a run, a recording, the newest comparison."""
    return Exact(service.bench_of(here.desk))


@router.post("/sound/compare", response_model=runs.RunState)
def compare(here: Here, me: Asker, wish: Wanted) -> Response:
    """Try the kinds of companding of a link or a radio type in the worker; the socket tells how it goes."""
    name = wish.link if wish.radio is None else wish.radio
    return Exact(service.run_compare(here.desk, name=str(name), sound=wish.sound, walking=wish.walking))


@router.post("/sound/compare/cancel", response_model=runs.RunState | None)
def cancel(here: Here, me: Asker) -> Response:
    """Stop a comparison that runs; the one before it stays."""
    state = runs.run_of(here.desk)
    return Exact(runs.cancel_run(here.desk) if state is not None and state.kind == "sound" else None)


@router.post("/sound/recording", response_model=service.RecordingLine, openapi_extra=_FILE)
async def bring(request: Request, here: Here, me: Asker, name: Name) -> Response:
    """Take a WAV file to try companding with: the body is its bytes, kept in memory only."""
    data = await request.body()
    if not _READING.acquire(blocking=False):
        text = "Another recording is being read."
        raise RefusedError(429, "reading-already", text, hint="Try again in some seconds.")
    try:
        return Exact(await run_in_threadpool(service.keep_recording, here.desk, name=name, data=data))
    finally:
        _READING.release()


@router.delete("/sound/recording", response_model=None, status_code=204)
def forget(here: Here, me: Asker) -> Response:
    """Let go of somebody's recording."""
    service.forget_recording(here.desk)
    return Response(status_code=204)


@router.get("/sound/compare/wav/{which}", response_class=Response, responses=_WAV)
def listen(
    here: Here,
    me: Asker,
    which: Annotated[str, Field(max_length=200)],
    run: Annotated[str, Query(max_length=100)],
    wanted: Annotated[str | None, Header(alias="range")] = None,
) -> Response:
    """Return a sound of the newest comparison as a WAV file, or the part of it that a player asks for."""
    data = service.heard_file(here.desk, which, run=run)
    headers = {"Accept-Ranges": "bytes", "Content-Disposition": 'inline; filename="sound.wav"'}
    part = None if wanted is None else _part(wanted, len(data))
    if part is None:
        return Response(data, media_type="audio/wav", headers=headers)
    if part.start >= len(data):
        raise RefusedError(
            416, "no-such-part", "The sound ends before that.", headers={"Content-Range": f"bytes */{len(data)}"}
        )
    headers["Content-Range"] = f"bytes {part.start}-{part.stop - 1}/{len(data)}"
    return Response(data[part.start : part.stop], 206, media_type="audio/wav", headers=headers)


def _part(wanted: str, size: int) -> range | None:
    """Return which bytes a Range header asks for; None where it is none of the one kind that players send."""
    found = _RANGE.fullmatch(wanted)
    if found is None:
        return None
    first, last = int(found[1]), size - 1 if found[2] == "" else int(found[2])
    return range(first, min(last + 1, size)) if first <= last or first >= size else None
