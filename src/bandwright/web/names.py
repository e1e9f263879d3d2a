"""Under which names this computer may be asked: whatever else a browser was told to ask for is a trick."""

from __future__ import annotations

import socket
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["LOOPBACK", "Names", "is_loopback", "lan_addresses", "own_names"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")

# Where a route would lead; a UDP socket that is only connected sends nothing.
_TOWARDS = ("10.255.255.254", "172.31.255.254", "192.168.255.254", "192.168.0.254", "192.168.1.254", "169.254.255.254")


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """The names that may stand in a Host header.

    Parameters
    ----------
    port
        The port that is served.
    names
        Names beyond the loopback ones. An address is allowed, too, where the connection really came in at it: no
        foreign page can bring that about by a name of its own.
    """

    port: int
    names: frozenset[str] = frozenset()

    def allow(self, host: str, *, arrived_at: str | None = None) -> bool:
        """Whether a Host header is one of ours."""
        name, colon, port = host.lower().rpartition(":")
        if not colon or "]" in port:
            name, port = host.lower(), "80"
        if port != str(self.port):
            return False
        return name in LOOPBACK or name in self.names or (arrived_at is not None and name == _literal(arrived_at))


def _literal(address: str) -> str:
    return f"[{address}]" if ":" in address else address


def is_loopback(address: str | None) -> bool:
    """Whether a connection from this address came from this computer itself."""
    return address is not None and (address.startswith("127.") or address in ("::1", "::ffff:127.0.0.1"))


def own_names(more: Iterable[str] = ()) -> frozenset[str]:
    """Return the names of this computer as its neighbours may know it, and those that the user adds; asks nobody."""
    host = socket.gethostname().lower()
    given = {name.strip().lower() for name in more}
    return frozenset(name for name in {host, f"{host.partition('.')[0]}.local", *given} if name)


def lan_addresses() -> tuple[str, ...]:
    """Return the addresses by which devices nearby may reach this computer, as its routes say; nothing is sent."""
    found: dict[str, None] = {}
    for target in _TOWARDS:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((target, 9))
            except OSError:
                continue
            address = probe.getsockname()[0]
        if not is_loopback(address):
            found[address] = None
    return tuple(found)
