"""What the routes share while a job is served."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends
from starlette.requests import HTTPConnection

from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.web.assets import Assets
from bandwright.web.hub import Hub
from bandwright.web.models import Wish
from bandwright.web.names import Names
from bandwright.web.pairing import Pairing
from bandwright.web.sessions import Me, Sessions

__all__ = ["Asker", "Here", "Keyed", "Serving"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Serving:
    """One job that is served.

    Parameters
    ----------
    desk
        The open job.
    boot
        A word that is another one after each start: a page that sees a new one asks for everything again.
    lan
        Whether devices on the network can reach it at all.
    """

    context: Context
    desk: Desk
    assets: Assets
    names: Names
    sessions: Sessions
    pairing: Pairing
    hub: Hub
    boot: str
    lan: bool = False


def _serving(connection: HTTPConnection) -> Serving:
    found = connection.app.state.serving
    assert isinstance(found, Serving)
    return found


def _me(connection: HTTPConnection) -> Me:
    """Return who asks; the guard has let nobody else through."""
    me = connection.scope["state"]["me"]
    assert isinstance(me, Me)
    return me


def _keyed(connection: HTTPConnection, me: Annotated[Me, Depends(_me)]) -> Callable[[Wish | None], str | None]:
    """Return what turns the client key of a request into one that no other device and no other request can have."""
    sender = f"{me.uid or 'laptop'} {connection.scope['method']} {connection.scope['path']}"
    return lambda wish: None if wish is None or wish.client_key is None else f"{sender} {wish.client_key}"


Here = Annotated[Serving, Depends(_serving)]
Asker = Annotated[Me, Depends(_me)]
Keyed = Annotated[Callable[[Wish | None], str | None], Depends(_keyed)]
