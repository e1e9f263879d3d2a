"""A program that sweeps, as a child process: its lines, its complaints and its end, in the order they came."""

from __future__ import annotations

import queue
import subprocess
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from enum import Enum
from typing import IO, Protocol

from bandwright.errors import MachineError

__all__ = ["LONGEST_LINE", "Child", "Said", "Stream", "Transport"]

LONGEST_LINE = 2**22
_WAITING_LINES = 4096  # a program that is faster than the disk waits for it
_GRACE_S = 3.0


class Stream(Enum):
    """Where a program said something; END is the end of all it says."""

    OUT = "out"
    ERROR = "error"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One line with its line break (or what stood before the end without one); at the END the exit code."""

    stream: Stream
    line: bytes = b""
    code: int | None = None


class Transport(Protocol):
    """Something that says lines."""

    def heard(self, wait_s: float) -> Said | None:
        """Return the next line, or None where none came within `wait_s`."""
        ...

    def stop(self) -> None:
        """End it; nothing more is said."""
        ...


class Child:
    """A child process, in a process group of its own so that Ctrl-C on the terminal does not reach it first."""

    def __init__(self, arguments: Sequence[str]) -> None:
        self._said: queue.Queue[Said] = queue.Queue(maxsize=_WAITING_LINES)
        self._stopped = threading.Event()
        windows = sys.platform == "win32"
        try:
            self._process = subprocess.Popen(
                list(arguments),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                start_new_session=not windows,
                creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0) if windows else 0,
            )
        except OSError as error:
            raise MachineError(f"{arguments[0]} cannot be started: {error.strerror or error}.") from error
        assert self._process.stdout is not None
        assert self._process.stderr is not None
        streams = ((self._process.stdout, Stream.OUT), (self._process.stderr, Stream.ERROR))
        self._readers = [threading.Thread(target=self._read, args=pair, daemon=True) for pair in streams]
        self._waiter = threading.Thread(target=self._wait, daemon=True)
        for thread in (*self._readers, self._waiter):
            thread.start()

    def heard(self, wait_s: float) -> Said | None:
        """Return the next line, or None after `wait_s` without one."""
        try:
            return self._said.get(timeout=wait_s)
        except queue.Empty:
            return None

    def stop(self) -> None:
        """End the program, politely first; what it says from here on is dropped."""
        self._stopped.set()
        if self._process.poll() is None:
            self._process.terminate()
            try:
                self._process.wait(_GRACE_S)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()
        for thread in (*self._readers, self._waiter):
            thread.join(_GRACE_S)
        for stream in (self._process.stdout, self._process.stderr):
            if stream is not None and not any(thread.is_alive() for thread in self._readers):
                stream.close()

    def _read(self, stream: IO[bytes], kind: Stream) -> None:
        with suppress(OSError, ValueError):  # closed under our hands
            while line := stream.readline(LONGEST_LINE):
                self._put(Said(stream=kind, line=line))

    def _wait(self) -> None:
        for thread in self._readers:
            thread.join()
        self._put(Said(stream=Stream.END, code=self._process.wait()))

    def _put(self, said: Said) -> None:
        while not self._stopped.is_set():
            with suppress(queue.Full):
                self._said.put(said, timeout=0.2)
                return
