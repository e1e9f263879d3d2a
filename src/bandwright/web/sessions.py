"""Who is asking: the laptop itself by its own key, a paired device by its token. Only hashes of tokens are kept."""

from __future__ import annotations

import hmac
import secrets
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from bandwright.service.devices import Device, Role, token_hash
from bandwright.web.names import is_loopback

__all__ = ["KEPT", "Me", "Sessions"]

KEPT = timedelta(days=400)  # as long as browsers keep a cookie at most


@dataclass(frozen=True, slots=True, kw_only=True)
class Me:
    """Who is asking, and until when. `uid` is that of a paired device; None is the laptop, which alone is `local`."""

    name: str
    role: Role
    uid: str | None = None
    expires: datetime | None = None

    @property
    def local(self) -> bool:
        """Whether it is the laptop that serves."""
        return self.uid is None


class Sessions:
    """The keys that open the door.

    Parameters
    ----------
    own_key
        The laptop's own key, which it keeps from run to run.
    own_name
        How changes made at the laptop are signed.
    port
        Becomes part of the cookie's name: browsers keep one set of cookies for all ports of a computer.
    now
        The clock.
    """

    def __init__(self, *, own_key: str, own_name: str, port: int, now: Callable[[], datetime]) -> None:
        self._own_hash = token_hash(own_key)
        self._own_key = own_key
        self._own = Me(name=own_name, role="edit")
        self._now = now
        self._lock = threading.Lock()
        self._devices: dict[str, Device] = {}
        self._launch = secrets.token_urlsafe(24)
        self._launch_once: set[str] = set()
        self.own_name = own_name
        self.cookie_name = f"bandwright-{port}"

    def know(self, devices: Iterable[Device]) -> None:
        """Take these devices for the paired ones, in place of those before."""
        known = {device.token_sha256: device for device in devices}
        with self._lock:
            self._devices = known

    def who(self, cookie: str | None, *, peer: str | None) -> Me | None:
        """Return who sent a Cookie header from the address `peer`; None is a stranger.

        The laptop's own key counts only where it comes from the laptop.
        """
        token = self._token(cookie)
        if token is None:
            return None
        hashed = token_hash(token)
        if is_loopback(peer) and hmac.compare_digest(hashed, self._own_hash):
            return self._own
        with self._lock:
            device = self._devices.get(hashed)
        if device is None or device.revoked is not None:
            return None
        if device.expires is not None and device.expires <= self._now():
            return None
        return Me(name=device.name, role=device.role, uid=device.uid, expires=device.expires)

    def launch_key(self, *, once: bool = False) -> str:
        """Return a key to put behind the address: it lets a browser on this laptop in, `once` only or for this run."""
        if not once:
            return self._launch
        key = secrets.token_urlsafe(24)
        with self._lock:
            self._launch_once.add(key)
        return key

    def launched(self, key: str, *, peer: str | None) -> str | None:
        """Return the cookie for a browser on this laptop that brings a launch key; None where the key is wrong."""
        if not is_loopback(peer):
            return None
        known = hmac.compare_digest(key.encode(), self._launch.encode())
        with self._lock:
            if not known and key not in self._launch_once:
                return None
            self._launch_once.discard(key)
        return self.cookie(self._own_key, keep=KEPT)

    def cookie(self, token: str, *, keep: timedelta) -> str:
        """Return the Set-Cookie header for a token."""
        seconds = int(keep.total_seconds())
        return f"{self.cookie_name}={token}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict"

    def _token(self, cookie: str | None) -> str | None:
        """Return our token among the cookies, whatever others on this computer have put beside it."""
        for pair in (cookie or "").split(";"):
            name, _, value = pair.strip().partition("=")
            if name == self.cookie_name:
                return value
        return None
