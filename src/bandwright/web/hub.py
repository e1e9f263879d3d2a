"""Who listens: what happens is told to every open page, and a slow one gets the newest state and not a backlog."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cached_property
from typing import Any

from bandwright.web.exact import dumps
from bandwright.web.sessions import Me

__all__ = ["AGAIN", "OUT", "Hub", "Listener", "Message"]

AGAIN = 4000
"""The code with which a socket is closed so that its page asks who it is now."""

OUT = 4401
"""The code for a device that is no longer let in."""

_PAUSE_S = 0.04
"""Between two messages of changes to one page, which asks for what changed after each."""


class Message(dict[str, Any]):
    """What a page is told; its text is made once, however many pages are told it."""

    @cached_property
    def text(self) -> str:
        """The message as JSON."""
        return dumps(self)


class Listener:
    """One open page: what it still has to be told. All of it is used in the loop's thread only."""

    def __init__(self, me: Me) -> None:
        self.me = me
        self._waiting: dict[str, Message] = {}
        self._there = asyncio.Event()
        self._changes_from = 0.0
        self.closed: int | None = None

    def put(self, message: Mapping[str, Any]) -> None:
        """Keep a message until it is sent; several of a kind become one that holds the newest of each."""
        kind = message["type"]
        before = self._waiting.pop(kind, None)
        joined = _joined(before, message) if before is not None and kind == "changed" else message
        self._waiting[kind] = joined if isinstance(joined, Message) else Message(joined)
        self._there.set()

    def close(self, code: int) -> None:
        """Have the socket closed with this code."""
        self.closed = code
        self._there.set()

    async def next(self) -> Message | None:
        """Wait for what is to be sent next; None is the end. Changes that follow closely on others come together."""
        clock = asyncio.get_running_loop().time
        while self.closed is None:
            pause = self._changes_from - clock()
            kind = next((kind for kind in self._waiting if kind != "changed" or pause <= 0), None)
            if kind is not None:
                if kind == "changed":
                    self._changes_from = clock() + _PAUSE_S
                return self._waiting.pop(kind)
            self._there.clear()
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._there.wait(), pause if self._waiting else None)
        return None


class Hub:
    """All open pages. `tell` and `close` may be called from any thread, the rest in the loop's."""

    def __init__(self, now: Callable[[], datetime]) -> None:
        self._now = now
        self._loop: asyncio.AbstractEventLoop | None = None
        self._listeners: set[Listener] = set()
        self._told: list[Message] = []
        self._telling = threading.Lock()

    def begin(self) -> None:
        """Serve in the running loop from now on."""
        self._loop = asyncio.get_running_loop()

    def end(self) -> None:
        """Close every socket: the server goes."""
        for listener in self._listeners:
            listener.close(1001)
        self._loop = None

    def join(self, me: Me) -> Listener:
        """Take a page in."""
        listener = Listener(me)
        self._listeners.add(listener)
        return listener

    def leave(self, listener: Listener) -> None:
        """Forget a page."""
        self._listeners.discard(listener)

    @property
    def count(self) -> int:
        """How many pages are open."""
        return len(self._listeners)

    def here(self) -> frozenset[str | None]:
        """Return the uids of the devices that have a page open; None is the laptop."""
        return frozenset(listener.me.uid for listener in tuple(self._listeners))

    def tell(self, message: Mapping[str, Any]) -> None:
        """Tell every page."""
        if self._loop is not None:
            with self._telling:
                self._told.append(Message(message))
                first = len(self._told) == 1
            if first:  # waking the loop costs more than what it does then
                self._loop.call_soon_threadsafe(self._tell)

    def close(self, uid: str, code: int) -> None:
        """Close the pages of one device."""
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self._close, uid, code)

    def _tell(self) -> None:
        now = self._now()
        with self._telling:
            told, self._told = self._told, []
        for listener in self._listeners:
            if listener.me.expires is not None and listener.me.expires <= now:
                listener.close(OUT)
            else:
                for message in told:
                    listener.put(message)

    def _close(self, uid: str, code: int) -> None:
        for listener in self._listeners:
            if listener.me.uid == uid:
                listener.close(code)


def _joined(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """Return two changes as one: the later words, the topics and uids of both."""
    return dict(after) | {
        "topics": sorted({*before["topics"], *after["topics"]}),
        "uids": list(dict.fromkeys([*before["uids"], *after["uids"]])),
    }
