"""The application: the guard, the routes, the socket, and the pages' own files."""

from __future__ import annotations

import contextlib
import logging
import time
from collections.abc import AsyncIterator
from typing import Annotated, Any

from fastapi import FastAPI, Query, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket

from bandwright import __version__, exact_json
from bandwright.errors import BandwrightError
from bandwright.service.bug_report import write_bug_report
from bandwright.service.devices import device_seen
from bandwright.service.job_hand import preview_link
from bandwright.service.job_reach import glance
from bandwright.web.assets import AssetFiles
from bandwright.web.guard import Guard
from bandwright.web.messages import message_of
from bandwright.web.models import me_of
from bandwright.web.refusals import RefusedError, refusal, refusal_of
from bandwright.web.routes import ROUTERS
from bandwright.web.serving import Asker, Here, Serving
from bandwright.web.socket import PlaceWish, Wish, hold_socket

__all__ = ["create_app", "make_api"]

_LOG = logging.getLogger(__name__)
_SLOW_S = 1.0


def create_app(serving: Serving) -> ASGIApp:
    """Return the application for a job that is served: what the server is given."""
    inside = AssetFiles(serving.assets, make_api(serving))
    return _Noted(Guard(app=inside, names=serving.names, sessions=serving.sessions))


def make_api(serving: Serving) -> FastAPI:
    """Return the application without its guard: what the description of the API is made from."""
    api = FastAPI(
        title="Bandwright",
        version=__version__,
        description="The only way in to an open job. Errors always have one shape: see Errors.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        redirect_slashes=False,
        lifespan=_life,
    )
    api.state.serving = serving
    for kind in (BandwrightError, RefusedError, RequestValidationError, HTTPException):
        api.add_exception_handler(kind, _refuse)
    api.add_exception_handler(Exception, _our_bug)
    for router in ROUTERS:
        api.include_router(router)
    api.add_api_websocket_route("/api/socket", _socket)
    api.add_api_route("/", _shell, include_in_schema=False)
    return api


@contextlib.asynccontextmanager
async def _life(api: FastAPI) -> AsyncIterator[None]:
    serving: Serving = api.state.serving
    serving.hub.begin()
    stop = serving.desk.listen(lambda told: serving.hub.tell(message_of(told)))
    try:
        yield
    finally:
        stop()
        serving.hub.end()


async def _refuse(_: Request, error: Exception) -> Response:
    refused = refusal_of(error)
    if refused is None:
        raise error
    return refused.response()


async def _our_bug(request: Request, error: Exception) -> Response:
    """Tell of a mistake of ours as a command does: a report on this computer, and one sentence."""
    _LOG.error("%s %s made a mistake", request.method, _address(request.scope), exc_info=error)
    report = write_bug_report(error, arguments=["serve", request.method, _address(request.scope)])
    text = f"Bandwright made a mistake ({type(error).__name__}). Load the page again to see whether this was done."
    me = request.scope["state"].get("me")
    where = str(report) if me is not None and me.local else "the folder of the laptop's user"  # a path holds a name
    hint = f"A report is in {where}; please send it to us." if report else "No report could be written."
    return refusal(500, "our-bug", text, hint=hint).response()


async def _socket(socket: WebSocket, here: Here, me: Asker) -> None:
    def hello() -> dict[str, Any]:
        if me.uid is not None:
            device_seen(here.desk, me.uid)
        return {"boot": here.boot, "seq": here.desk.seq, "me": me_of(me).model_dump()}

    def preview(wish: Wish | PlaceWish) -> dict[str, Any]:
        if isinstance(wish, PlaceWish):
            return glance(here.desk, wish.link, wish.antenna, wish.at_m).model_dump(mode="json")
        found: dict[str, Any] = exact_json.plain(preview_link(here.desk, wish.link, wish.carrier_hz))
        return found

    await hold_socket(socket, hub=here.hub, me=me, hello=hello, preview=preview)


async def _shell(request: Request, here: Here, key: Annotated[str | None, Query()] = None) -> Response:
    """Return the page; a launch key behind the address lets a browser on this laptop in, and leaves the address."""
    if key is None:
        return Response(here.assets.shell, media_type="text/html", headers={"Cache-Control": "no-cache"})
    cookie = here.sessions.launched(key, peer=request.client.host if request.client else None)
    answer = RedirectResponse("/", 303, headers={"Cache-Control": "no-store"})
    if cookie is not None:
        answer.headers["Set-Cookie"] = cookie
    return answer


class _Noted:
    """Note in the log what was refused, failed, or took long: method, path and time, nothing that was sent.

    A mistake of ours that was answered ends here: the connection stays, and so do the other requests on it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        began = time.monotonic()
        status = 0

        async def noted(message: Message) -> None:
            nonlocal status
            status = message.get("status", status)
            await send(message)

        try:
            await self._app(scope, receive, noted)
        except Exception:
            if status == 0:
                _LOG.exception("%s made a mistake", scope["type"])
                raise
        seconds = time.monotonic() - began
        if scope["type"] == "http" and (status >= 400 or seconds > _SLOW_S):
            _LOG.info("%s %s %d %.3f s", scope["method"], _address(scope), status, seconds)


def _address(scope: Scope) -> str:
    """Return the address of ours that was asked for, as its description has it; of any other, no more than that.

    Anybody on the network can ask for anything, and the log is what people send with a report.
    """
    return str(getattr(scope.get("route"), "path", "(elsewhere)"))
