"""The server: one port on this computer, and an end that leaves nothing behind."""

from __future__ import annotations

import contextlib
import logging
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator

import uvicorn
from starlette.types import ASGIApp

from bandwright.errors import MachineError

__all__ = ["MOST_MESSAGE_BYTES", "listen", "run_server", "server_for"]

MOST_MESSAGE_BYTES = 64 * 1024
_GRACE_S = 2


def listen(*, port: int, lan: bool) -> socket.socket:
    """Return a socket that listens on a port of this computer; 0 is any that is free.

    Raises
    ------
    MachineError
        When another program has the port, or the system does not give it.
    """
    # asyncio sends small packets at once on sockets that say they are TCP only: without it each answer waits 40 ms
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if sys.platform != "win32":  # there it would let two programs share a port
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind(("0.0.0.0" if lan else "127.0.0.1", port))
        found.listen(128)
    except OSError as error:
        found.close()
        reason = error.strerror or str(error)
        raise MachineError(
            f"Port {port} cannot be had ({reason.lower()}); perhaps another bandwright serve runs already. "
            "Close it, or name another port with --port, such as --port 0 for any that is free."
        ) from error
    return found


def server_for(app: ASGIApp) -> uvicorn.Server:
    """Return the server of an application, with no trust in what a proxy would say.

    What it would print is kept quiet: the application notes its own mistakes, and a terminal shows no traceback.
    """
    quiet = logging.getLogger("uvicorn")
    quiet.propagate = False
    if not quiet.handlers:
        quiet.addHandler(logging.NullHandler())
    return uvicorn.Server(
        uvicorn.Config(
            app,
            access_log=False,
            http="h11",
            lifespan="on",
            log_config=None,
            loop="asyncio",
            proxy_headers=False,
            server_header=False,
            timeout_graceful_shutdown=_GRACE_S,
            ws="websockets-sansio",
            ws_max_size=MOST_MESSAGE_BYTES,
            ws_per_message_deflate=False,
        )
    )


def run_server(app: ASGIApp, listening: socket.socket, *, started: Callable[[], None] = lambda: None) -> None:
    """Serve until somebody stops the program; `started` is called once it answers."""
    server = server_for(app)
    with _stopping_quietly():
        waiter = threading.Thread(target=_tell_when_started, args=(server, started), daemon=True)
        waiter.start()
        server.run(sockets=[listening])


def _tell_when_started(server: uvicorn.Server, started: Callable[[], None]) -> None:
    pause = threading.Event()
    while not server.started:
        if server.should_exit or pause.wait(0.02):
            return
    started()


@contextlib.contextmanager
def _stopping_quietly() -> Iterator[None]:
    """Take Ctrl-C and the system's wish to end as the ordinary end that they are for a server.

    The server raises a signal again once it has ended; what is behind it, closing the job, must still happen.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.signal(number, lambda *_: None) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
