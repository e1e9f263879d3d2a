"""The one socket of a page: what changed, how a run goes, previews while a carrier or an antenna is in a hand."""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocket, WebSocketDisconnect

from bandwright import exact_json
from bandwright.errors import Fault
from bandwright.web.hub import Hub, Listener
from bandwright.web.models import Metre
from bandwright.web.refusals import faults_of, refusal, refusal_of
from bandwright.web.sessions import Me

__all__ = ["MOST_SOCKETS", "PlaceWish", "Preview", "Wish", "hold_socket"]

_LOG = logging.getLogger(__name__)

MOST_SOCKETS = 200
_TOO_MANY = 1013


class Wish(BaseModel):
    """What a page asks for while it drags: link `link` at `carrier_hz`; the answer carries the same `n`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    type: Literal["preview"]
    n: Annotated[int, Field(ge=0, le=2**53)]
    link: Annotated[str, Field(max_length=100)]
    carrier_hz: Annotated[int, Field(ge=0, le=10**12)]


class PlaceWish(BaseModel):
    """What a page asks for while an antenna is moved: the map of link `link` with it at `at_m` (ids, metres)."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    type: Literal["place"]
    n: Annotated[int, Field(ge=0, le=2**53)]
    link: Annotated[str, Field(max_length=100)]
    antenna: Annotated[str, Field(max_length=100)]
    at_m: tuple[Metre, Metre]


Preview = Callable[[Wish | PlaceWish], Mapping[str, Any]]

_WISHES: TypeAdapter[Wish | PlaceWish] = TypeAdapter(Annotated[Wish | PlaceWish, Field(discriminator="type")])


async def hold_socket(
    socket: WebSocket, *, hub: Hub, me: Me, hello: Callable[[], Mapping[str, Any]], preview: Preview
) -> None:
    """Serve one socket until it goes, is closed, or the server ends."""
    await socket.accept()
    if hub.count >= MOST_SOCKETS:
        await socket.close(_TOO_MANY)
        return
    listener = hub.join(me)
    newest = _Newest(listener, preview)
    work = [asyncio.create_task(part) for part in (_send(socket, listener), _receive(socket, newest), newest.run())]
    try:
        listener.put({"type": "hello", **await run_in_threadpool(hello)})
        await asyncio.wait(work, return_when=asyncio.FIRST_COMPLETED)
    finally:
        hub.leave(listener)
        for part in work:
            part.cancel()
        await asyncio.gather(*work, return_exceptions=True)
        with contextlib.suppress(RuntimeError, WebSocketDisconnect):  # it is gone already
            await socket.close(listener.closed or 1000)


async def _send(socket: WebSocket, listener: Listener) -> None:
    while (message := await listener.next()) is not None:
        await socket.send_text(message.text)


async def _receive(socket: WebSocket, newest: _Newest) -> None:
    with contextlib.suppress(WebSocketDisconnect):
        while True:
            newest.take(_wish(await socket.receive_text()))


def _wish(text: str) -> Wish | PlaceWish | Fault:
    try:
        return _WISHES.validate_python(exact_json.loads(text, as_double=True))
    except (ValidationError, ValueError):
        return Fault(
            code="no-such-message",
            text="The socket does not know this message.",
            given=text[:200],
            allowed='{"type": "preview", "n": ..., "link": ..., "carrier_hz": ...} or '
            '{"type": "place", "n": ..., "link": ..., "antenna": ..., "at_m": [..., ...]}',
        )


class _Newest:
    """Previews, one at a time; while one is worked out, only the newest wish waits."""

    def __init__(self, listener: Listener, preview: Preview) -> None:
        self._listener = listener
        self._preview = preview
        self._wish: Wish | PlaceWish | None = None
        self._there = asyncio.Event()

    def take(self, wish: Wish | PlaceWish | Fault) -> None:
        """Keep a wish in place of an older one; refuse what is none."""
        if isinstance(wish, Fault):
            self._listener.put({"type": "error", "errors": faults_of([wish])})
            return
        self._wish = wish
        self._there.set()

    async def run(self) -> None:
        """Answer wishes for ever."""
        while True:
            await self._there.wait()
            self._there.clear()
            wish = self._wish
            if wish is not None:
                self._listener.put(await run_in_threadpool(self._answer, wish))

    def _answer(self, wish: Wish | PlaceWish) -> dict[str, Any]:
        head = {"type": wish.type, "n": wish.n}
        try:
            return head | dict(self._preview(wish))
        except Exception as error:
            refused = refusal_of(error)
            if refused is None:
                _LOG.exception("a preview made a mistake")
                refused = refusal(500, "our-bug", f"Bandwright made a mistake ({type(error).__name__}).")
            return head | refused.body
