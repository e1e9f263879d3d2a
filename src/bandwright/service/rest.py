"""Bringing a job file to rest whenever nobody is at work, so that a plain copy made meanwhile is whole."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from bandwright.errors import BandwrightError
from bandwright.service.desk import Desk, Told

__all__ = ["resting"]

_QUIET_S = 2.0


@contextmanager
def resting(desk: Desk, *, quiet_s: float = _QUIET_S) -> Iterator[None]:
    """While this is open, bring all into the one file once nobody has changed anything for `quiet_s` seconds."""
    rest = _Rest(desk.file.checkpoint, quiet_s)
    stop = desk.listen(lambda told: rest.wake() if isinstance(told, Told) else None)
    thread = threading.Thread(target=rest.run, name="bandwright-rest", daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop()
        rest.end()
        thread.join()


class _Rest:
    def __init__(self, checkpoint: Callable[[], bool], quiet_s: float) -> None:
        self._checkpoint = checkpoint
        self._quiet_s = quiet_s
        self._changed = threading.Event()
        self._ended = threading.Event()
        self.wake()  # a log that a loss of power left behind

    def wake(self) -> None:
        """Say that something was changed."""
        self._changed.set()

    def end(self) -> None:
        """Stop at once."""
        self._ended.set()
        self._changed.set()

    def run(self) -> None:
        while self._changed.wait():
            self._changed.clear()
            if self._ended.wait(self._quiet_s):
                return
            if not self._changed.is_set() and not self._rested():
                self._changed.set()

    def _rested(self) -> bool:
        try:
            return self._checkpoint()
        except BandwrightError:
            return False  # whatever is in the way, the next change tells of it
