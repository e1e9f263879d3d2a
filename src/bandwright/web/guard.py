"""What every request must pass before anything of the program sees it, as plain ASGI: sockets pass it like the rest.

1. The Host header is one of our names (else a foreign page reached us by a name of its own: DNS rebinding).
2. What changes something, and every socket, comes from a page of ours: the Origin is ours, and `null` is not. Where a
   browser says from where it asks, that holds for reading, too: a page on another port of this computer has our cookie.
3. The body is no larger than what belongs there.
4. Behind `/api/` only the laptop and paired devices go on; who may only look changes nothing.

And every answer carries the headers that keep a page to its own files.
"""

from __future__ import annotations

from dataclasses import dataclass

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from bandwright.service.job_sound import MOST_RECORDING_BYTES
from bandwright.web.names import Names
from bandwright.web.refusals import Refusal, refusal
from bandwright.web.sessions import Me, Sessions

__all__ = ["MOST_BYTES", "MOST_SWEEP_BYTES", "OPEN", "READING", "Guard"]

MOST_BYTES = 2**20
MOST_SWEEP_BYTES = 64 * 2**20
_MOST_AT = {"/api/sweeps": MOST_SWEEP_BYTES, "/api/sound/recording": MOST_RECORDING_BYTES}

# What a device that is not paired may ask for, and what changes nothing though it is asked by POST.
OPEN = frozenset({"/api/pair"})
READING = frozenset({"/api/plan/preview", "/api/reach/preview"})

_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_FROM_US = frozenset({"same-origin", "none"})  # a page of ours, and an address that somebody typed
_POLICY = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"
_SOCKET = "; connect-src 'self' ws://{host}"  # older browsers do not take a socket to be the page's own
_ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """The guard in front of an application.

    Parameters
    ----------
    app
        What stands behind it; it finds who asks in `scope["state"]["me"]`.
    names, sessions
        What we are called, and who may come in.
    """

    app: ASGIApp
    names: Names
    sessions: Sessions

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request or socket pass, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        host = self._own_host(scope, headers)
        me = self.sessions.who(headers.get("cookie"), peer=_peer(scope))
        refused = _no_name() if host is None else _refuse(scope, headers, me, host=host)
        if refused is not None and scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})  # before it is accepted: the handshake fails, 403
            return
        if scope["type"] == "http":
            send = _with_headers(send, host=host, path=scope["path"])
        if refused is not None:
            await refused.response()(scope, receive, send)
            return
        scope.setdefault("state", {})["me"] = me
        await self.app(scope, _limited(receive, most_bytes(scope)), send)

    def _own_host(self, scope: Scope, headers: Headers) -> str | None:
        """Return the Host header where it is one of our names."""
        hosts = headers.getlist("host")
        arrived_at = scope["server"][0] if scope.get("server") else None
        return hosts[0] if len(hosts) == 1 and self.names.allow(hosts[0], arrived_at=arrived_at) else None


def _no_name() -> Refusal:
    text = "This computer is not known by the name that was asked for."
    return refusal(403, "foreign-host", text, hint="Use the address that bandwright serve shows.")


def _refuse(scope: Scope, headers: Headers, me: Me | None, *, host: str) -> Refusal | None:
    safe = scope["type"] == "http" and scope["method"] in _SAFE
    ours = headers.getlist("origin") == [f"http://{host}"]
    elsewhere = headers.get("sec-fetch-site", "none") not in _FROM_US and scope["path"].startswith("/api/")
    if elsewhere or not (safe or ours):
        text = "Only a page of this program may do that; this came from elsewhere."
        hint = f"A program of your own sends the header Origin: http://{host} with it."
        return refusal(403, "foreign-origin", text, hint=hint)
    if _stated_length(headers) > most_bytes(scope):
        return refusal(413, "too-large", _too_large(most_bytes(scope)))
    return _unless_admitted(scope, me, safe=safe)


def _unless_admitted(scope: Scope, me: Me | None, *, safe: bool) -> Refusal | None:
    path = scope["path"]
    if not path.startswith("/api/") or path in OPEN:
        return None
    if me is None:
        text = "This device is not paired with the laptop."
        return refusal(401, "not-paired", text, hint="Ask for a code on the laptop's page for devices.")
    if me.role == "look" and not safe and scope["type"] == "http" and path not in READING:
        text = "This device may look, and change nothing."
        return refusal(403, "may-only-look", text, hint="The laptop's page for devices can let it edit.")
    return None


def most_bytes(scope: Scope) -> int:
    """Return how large the body of a request may be."""
    return _MOST_AT.get(scope["path"], MOST_BYTES)


def _peer(scope: Scope) -> str | None:
    return scope["client"][0] if scope.get("client") else None


def _stated_length(headers: Headers) -> int:
    stated = headers.get("content-length", "0")
    return int(stated) if stated.isdecimal() else 0


def _too_large(most: int) -> str:
    return f"That is more than the {most // 2**20} MiB that are taken here."


def _limited(receive: Receive, most: int) -> Receive:
    """Return `receive` that stops where a body goes on beyond what is allowed, whatever its length was said to be."""
    got = 0

    async def counted() -> Message:
        nonlocal got
        message = await receive()
        if message["type"] == "http.request":
            got += len(message.get("body", b""))
            if got > most:
                raise HTTPException(413, _too_large(most), headers={"Connection": "close"})
        return message

    return counted


def _with_headers(send: Send, *, host: str | None, path: str) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _ALWAYS.items():
                headers.setdefault(name, value)
            headers.setdefault("Content-Security-Policy", _POLICY + (_SOCKET.format(host=host) if host else ""))
            if path.startswith("/api/"):
                headers.setdefault("Cache-Control", "no-store")
        await send(message)

    return with_headers
