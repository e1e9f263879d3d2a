"""A job that is really served, on a free port of this computer, and clients that ask for it."""

from __future__ import annotations

import atexit
import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
from websockets.sync.client import ClientConnection, connect

from bandwright.engines.worker import Task, Worker
from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.service.devices import devices_of
from bandwright.service.runs import run_of
from bandwright.web.app import create_app, make_api
from bandwright.web.assets import load_assets
from bandwright.web.hub import Hub
from bandwright.web.names import Names
from bandwright.web.pairing import Pairing
from bandwright.web.server import listen, server_for
from bandwright.web.serving import Serving
from bandwright.web.sessions import Sessions

OWN_KEY = "o" * 43
PATIENCE_S = 240.0
SETTLED_S = 30.0


@dataclass(slots=True)
class Clock:
    """A clock that tests move on."""

    passed: float = 0.0
    began: datetime = field(default_factory=lambda: datetime.now(tz=UTC))

    def now(self) -> datetime:
        return datetime.fromtimestamp(self.began.timestamp() + self.passed, tz=UTC)

    def seconds(self) -> float:
        return self.passed

    def advance(self, seconds: float) -> None:
        self.passed += seconds


@dataclass(slots=True, kw_only=True)
class Served:
    """A served job, wherever its server runs: its address, and clients for it."""

    address: str
    advance: Callable[[float], object]  # move the clock of the server on by so many seconds
    clients: list[httpx.Client] = field(default_factory=list)

    @property
    def port(self) -> int:
        return int(self.address.rpartition(":")[2])

    def client(self, token: str | None = OWN_KEY, **headers: str) -> httpx.Client:
        """Return a client that has this token as its cookie, and asks as a page does."""
        sent = {"Origin": self.address} | headers
        if token is not None:
            sent["Cookie"] = f"bandwright-{self.port}={token}"
        made = httpx.Client(base_url=self.address, headers=sent, timeout=PATIENCE_S)
        self.clients.append(made)
        return made

    def pair(self, role: str = "edit", name: str = "phone") -> httpx.Client:
        """Return the client of a device that was paired."""
        code = self.client().post("/api/pairing", json={"role": role}).json()["code"]
        self.advance(60)
        answer = self.client(None).post("/api/pair", json={"code": code, "name": name})
        assert answer.status_code == 200, answer.text
        return self.client(answer.headers["Set-Cookie"].partition("=")[2].partition(";")[0])

    def socket(self, client: httpx.Client, **headers: str) -> ClientConnection:
        """Return an open socket of a client."""
        sent = {"Cookie": client.headers.get("Cookie", ""), "Origin": self.address} | headers
        origin = sent.pop("Origin")
        return connect(
            f"ws://127.0.0.1:{self.port}/api/socket", additional_headers=sent, origin=origin, compression=None
        )

    def leave(self) -> None:
        """Close all clients."""
        for client in self.clients:
            client.close()


@dataclass(slots=True, kw_only=True)
class App(Served):
    """A job that is served in this process."""

    serving: Serving
    clock: Clock

    @property
    def description(self) -> dict[str, Any]:
        return make_api(self.serving).openapi()


def heard(socket: ClientConnection, kind: str) -> dict[str, Any]:
    """Return the next message of a kind; others are passed over."""
    while True:
        message: dict[str, Any] = json.loads(socket.recv(timeout=PATIENCE_S))
        if message["type"] == kind:
            return message


class _Lent(Worker):
    """A worker that is lent to one served job after the other, and knows whether everything it was given has ended."""

    def __init__(self) -> None:
        super().__init__()
        self.tasks: list[Task[Any]] = []
        self.closed = False

    def submit(self, *what: Any, **how: Any) -> Task[Any]:
        self.tasks.append(task := super().submit(*what, **how))
        return task

    def close(self) -> None:
        self.closed = True
        super().close()

    def settle(self) -> None:
        """Wait for what was asked beside the pages, which takes seconds at most; whatever goes on then is ended."""
        if not all(task.wait(SETTLED_S) for task in self.tasks):
            self.close()
        self.tasks.clear()


IDLE: list[_Lent] = []


@contextmanager
def computing() -> Iterator[_Lent]:
    """Lend a process for long work: one that a job before this one left, with its kernels loaded, or else a new one.

    One in which a search still goes on when the job ends is ended with it, as `bandwright serve` ends its own.
    """
    worker = IDLE.pop() if IDLE else _Lent()
    try:
        yield worker
    except BaseException:
        worker.close()
        raise
    if not worker.closed:
        IDLE.append(worker)


@atexit.register
def _leave_none() -> None:
    for worker in IDLE:
        worker.close()


@contextmanager
def served(path: Path, *, port: int = 0, lan: bool = False) -> Iterator[App]:
    """Serve a job file in a thread of this process; at the end everything is closed again."""
    clock = Clock()
    context = Context(now=clock.now)
    with (
        listen(port=port, lan=lan) as listening,
        computing() as worker,
        Desk.open(path, context=context, worker=worker) as desk,
    ):
        port = listening.getsockname()[1]
        sessions = Sessions(own_key=OWN_KEY, own_name="laptop", port=port, now=clock.now)
        sessions.know(devices_of(desk))
        serving = Serving(
            context=context,
            desk=desk,
            assets=load_assets(),
            names=Names(port=port, names=frozenset({"stage.test"} if lan else ())),
            sessions=sessions,
            pairing=Pairing(now=clock.now, seconds=clock.seconds),
            hub=Hub(clock.now),
            boot=f"boot {time.monotonic_ns()}",
            lan=lan,
        )
        server = server_for(create_app(serving))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        app = App(serving=serving, clock=clock, advance=clock.advance, address=f"http://127.0.0.1:{port}")
        try:
            yield app
        finally:
            app.leave()
            server.should_exit = True
            if (going := run_of(desk)) is not None and going.state == "running":
                worker.close()
            thread.join(PATIENCE_S)
            assert not thread.is_alive(), "the server does not end"
            worker.settle()
