"""Functions for the worker's process; they must be importable there by name."""

from __future__ import annotations

import os
import signal
import threading
import time

from bandwright.errors import Fault, InputError

_WARM: list[bool] = []


class UnsendableError(Exception):
    """An error that another process cannot build again: it wants two arguments and keeps one."""

    def __init__(self, text: str, _more: object) -> None:
        super().__init__(text)


def warm():
    _WARM.append(True)


def is_warm(*, progress, cancelled):
    return _WARM == [True]


def own_process(*, progress, cancelled):
    progress(os.getpid())
    return os.getpid()


def add(one, other, *, progress, cancelled):
    return one | other


def count(to, *, progress, cancelled):
    for number in range(to):
        progress(number)
    return to


def improve(*, progress, cancelled):
    best = 0
    while not cancelled():
        best += 1
        progress(best)
        threading.Event().wait(0.01)
    return best


def was_cancelled(*, progress, cancelled):
    return cancelled()


def refuse(*, progress, cancelled):
    raise InputError([Fault(code="no-thing", text="no such thing", key="link"), Fault(code="other", text="nor that")])


def divide(by, *, progress, cancelled):
    return 1 / by


def raise_unsendable(*, progress, cancelled):
    raise UnsendableError("of no use elsewhere", object())


def crash(*, progress, cancelled):
    os.kill(os.getpid(), signal.SIGKILL)
    threading.Event().wait()


def never_stop(*, progress, cancelled):
    progress(os.getpid())
    while True:
        time.monotonic()


def place_four(*, progress, cancelled):
    from bandwright.engines.prepare import _small_problem
    from bandwright.engines.solve import solve

    return solve(_small_problem(), time_limit_s=60.0, progress=progress, cancelled=cancelled).placed
