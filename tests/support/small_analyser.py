"""A small SCPI analyser on a loopback socket: enough of the standard for a sweep, with levels that are known."""

from __future__ import annotations

import contextlib
import socketserver
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

IDENTITY = "Lantern Works (invented),Quay 7,0042,1.3"
Fault = Callable[["Bench", str], str | None]


@dataclass
class Bench:
    """What the analyser knows. `fault` may answer a query in its place; an empty answer is silence."""

    fault: Fault = lambda _bench, _line: None
    most_points: int = 1001
    rbw_hz: float | None = None
    set: dict[str, float] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)
    status: int = 0
    sweeps: int = 0

    def level(self, index: int) -> float:
        """A ramp that says which point it is."""
        return -100 + 0.01 * index + self.sweeps

    def answer(self, line: str) -> str | None:
        """Carry out one line; None for what asks nothing."""
        self.heard.append(line)
        told = self.fault(self, line)
        if told is not None:
            return told
        word, _, given = line.partition(" ")
        simple = {
            "*IDN?": IDENTITY,
            "SYSTEM:ERROR?": lambda: self.errors.pop(0) if self.errors else '0,"No error"',
            "SENSE:SWEEP:POINTS?": lambda: str(int(self.set["SENSE:SWEEP:POINTS"])),
            "SENSE:BANDWIDTH:RESOLUTION?": lambda: str(self.rbw_hz or self.set["SENSE:BANDWIDTH:RESOLUTION"]),
            "UNIT:POWER?": "DBM",
            "*ESR?": self._status,
            "TRACE:DATA?": lambda: ",".join(f"{self.level(i):.4E}" for i in range(int(self.set["SENSE:SWEEP:POINTS"]))),
        }
        found = simple.get(word.upper())
        if found is not None:
            return found if isinstance(found, str) else found()
        self._do(word.upper(), given)
        return None

    def _status(self) -> str:
        status, self.status = self.status, 0
        return str(status)

    def _do(self, word: str, given: str) -> None:
        if word == "*OPC":
            self.status |= 1
        elif word == "INITIATE:IMMEDIATE":
            self.sweeps += 1
        elif word == "SENSE:SWEEP:POINTS" and int(given) > self.most_points:
            self.errors.append('-222,"Data out of range"')
        elif word.startswith("SENSE:"):
            self.set[word] = float(given)
        elif word not in ("*CLS", "FORMAT:DATA", "INITIATE:CONTINUOUS"):
            self.errors.append('-113,"Undefined header"')


@contextlib.contextmanager
def served(bench: Bench) -> Iterator[str]:
    """Serve the analyser on a free port of the loopback address, and yield HOST:PORT."""

    class Handler(socketserver.StreamRequestHandler):
        def handle(self) -> None:
            for line in self.rfile:
                answer = bench.answer(line.decode().strip())
                if answer == "hang up":
                    return
                if answer:
                    self.wfile.write(f"{answer}\n".encode())

    class Server(socketserver.ThreadingTCPServer):
        daemon_threads = True
        allow_reuse_address = True

    with Server(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
        thread.start()
        try:
            yield f"127.0.0.1:{server.server_address[1]}"
        finally:
            server.shutdown()
            thread.join()
