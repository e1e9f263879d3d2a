"""Serve one job until somebody stops it."""

from __future__ import annotations

import logging
import secrets
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from bandwright.service.context import Context
from bandwright.service.devices import devices_of
from bandwright.service.log import start_log
from bandwright.service.own_key import own_key
from bandwright.service.served import served_desk
from bandwright.web.app import create_app
from bandwright.web.assets import load_assets
from bandwright.web.hub import Hub
from bandwright.web.names import Names, lan_addresses, own_names
from bandwright.web.pairing import Pairing
from bandwright.web.server import listen, run_server
from bandwright.web.serving import Serving
from bandwright.web.sessions import Sessions

__all__ = ["Opened", "serve_job"]

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A job that is served.

    Parameters
    ----------
    address
        Where this laptop reaches it, for a browser that was there before.
    entrance
        The same with a key behind it, which lets any browser on this laptop in.
    entrance_once
        One that works a single time, for the browser that is opened now.
    nearby
        Where paired devices reach it; empty where the network is shut out.
    """

    address: str
    entrance: str
    entrance_once: str
    nearby: tuple[str, ...]


def serve_job(
    context: Context,
    path: Path,
    *,
    port: int,
    lan: bool = False,
    names: Sequence[str] = (),
    who: str,
    opened: Callable[[Opened], None],
) -> str:
    """Serve a job and return its address, once somebody stopped it; then the file is closed and whole.

    Parameters
    ----------
    port
        0 is any that is free.
    lan, names
        Whether devices on the network may come in once they are paired, and further names by which they know us.
    who
        How changes made at this laptop are signed.
    opened
        Called once it answers.

    Raises
    ------
    InputError, MachineError
        When the job cannot be opened, is served already, or the port cannot be had.
    """
    with listen(port=port, lan=lan) as listening:
        port = listening.getsockname()[1]
        address = f"http://127.0.0.1:{port}"
        with served_desk(context, path, address=address) as desk:
            start_log()
            _LOG.info("serving on port %d%s", port, ", open to paired devices" if lan else "")
            sessions = Sessions(own_key=own_key(), own_name=who, port=port, now=context.now)
            sessions.know(devices_of(desk))
            serving = Serving(
                context=context,
                desk=desk,
                assets=load_assets(),
                names=Names(port=port, names=own_names(names) if lan else frozenset()),
                sessions=sessions,
                pairing=Pairing(now=context.now, seconds=time.monotonic),
                hub=Hub(context.now),
                boot=secrets.token_hex(8),
                lan=lan,
            )
            found = Opened(
                address=address,
                entrance=f"{address}/?key={sessions.launch_key()}",
                entrance_once=f"{address}/?key={sessions.launch_key(once=True)}",
                nearby=tuple(f"http://{near}:{port}" for near in lan_addresses()) if lan else (),
            )
            run_server(create_app(serving), listening, started=lambda: opened(found))
            _LOG.info("stopped")
    return address
