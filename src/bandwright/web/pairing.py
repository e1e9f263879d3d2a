"""Pairing: a short code, shown on the laptop only, lets one device in; it works once, for minutes, few tries wrong.

On a network without encryption anybody on it can read what is sent. What pairing gives: devices that are not paired are
refused. It does not give secrecy, and the page says so.
"""

from __future__ import annotations

import hmac
import secrets
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from bandwright.service.devices import Role

__all__ = ["Offer", "Pairing", "Wait", "WrongCode"]

_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"  # none that is read as another
_LENGTH = 6
_KEPT = timedelta(minutes=10)
_WRONG_TRIES = 8
_WINDOW_S = 60.0
_EACH = 5
_ALL = 30


class WrongCode(Exception):  # noqa: N818 - it is an answer, no error of ours
    """The code is not the one that stands, or none stands any more."""


class Wait(Exception):  # noqa: N818 - it is an answer, no error of ours
    """Too many tries; `seconds` says how long to wait."""

    def __init__(self, seconds: int) -> None:
        self.seconds = seconds
        super().__init__(f"wait {seconds} s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A code that stands, and what it gives."""

    code: str
    role: Role
    expires: datetime


class Pairing:
    """The code that stands at the moment, and who tried how often.

    Parameters
    ----------
    now, seconds
        The clock, and a count of seconds that never goes back.
    """

    def __init__(self, *, now: Callable[[], datetime], seconds: Callable[[], float]) -> None:
        self._now = now
        self._seconds = seconds
        self._lock = threading.Lock()
        self._offer: Offer | None = None
        self._wrong = 0
        self._tries: dict[str, deque[float]] = {}
        self._all: deque[float] = deque()

    def offer(self, role: Role) -> Offer:
        """Make a code; one that stood before is of no use any more."""
        code = "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))
        with self._lock:
            self._offer = Offer(code=code, role=role, expires=self._now() + _KEPT)
            self._wrong = 0
            return self._offer

    def standing(self) -> Offer | None:
        """Return the code that stands; None where none does."""
        with self._lock:
            return self._still()

    def withdraw(self) -> None:
        """Take the code back."""
        with self._lock:
            self._offer = None

    def redeem(self, code: str, *, peer: str) -> Offer:
        """Use up the code and return what it gives.

        Raises
        ------
        WrongCode
            When it is not the code that stands: wrong, used, or expired.
        Wait
            When there were too many tries from this address, or from all.
        """
        with self._lock:
            self._count(peer)
            offer = self._still()
            if offer is None:
                raise WrongCode
            if not hmac.compare_digest(_plain(code).encode(), offer.code.encode()):
                self._wrong += 1
                if self._wrong >= _WRONG_TRIES:
                    self._offer = None
                raise WrongCode
            self._offer = None
            return offer

    def _still(self) -> Offer | None:
        if self._offer is not None and self._offer.expires <= self._now():
            self._offer = None
        return self._offer

    def _count(self, peer: str) -> None:
        now = self._seconds()
        own = self._tries.setdefault(peer, deque())
        for tries in (own, self._all):
            while tries and tries[0] <= now - _WINDOW_S:
                tries.popleft()
        for tries, most in ((own, _EACH), (self._all, _ALL)):
            if len(tries) >= most:
                raise Wait(1 + int(tries[0] + _WINDOW_S - now))
        own.append(now)
        self._all.append(now)
        self._tries = {name: tries for name, tries in self._tries.items() if tries and tries[-1] > now - _WINDOW_S}


def _plain(code: str) -> str:
    """Return a code as it was meant: people add spaces and dashes, and type small letters."""
    return "".join(letter for letter in code.upper() if letter.isalnum())
