"""Talking to an instrument on the network: text out, text back, through PyVISA and its pure-Python backend."""

from __future__ import annotations

import re
from contextlib import suppress
from typing import Protocol

from bandwright.errors import MachineError

__all__ = ["SCPI_PORT", "Talk", "VisaTalk", "resource_of"]

SCPI_PORT = 5025  # IANA, service name scpi-raw
_ANSWER_MS = 10_000
_OPEN_MS = 5_000
_CHUNK = 2**20
_NUMBER = re.compile(r"\[Errno -?\d+\] ")  # the system's, before its words


class Talk(Protocol):
    """A connection to an instrument; both raise MachineError where it is gone or silent."""

    def write(self, command: str) -> None:
        """Send a command."""
        ...

    def ask(self, query: str) -> str:
        """Send a query and return the answer without its line break."""
        ...

    def close(self) -> None:
        """End it."""
        ...


def resource_of(where: str) -> str:
    """Return the VISA name of HOST, HOST:PORT or of what is a VISA name already.

    >>> resource_of("192.0.2.7"), resource_of("bench:5555")
    ('TCPIP::192.0.2.7::5025::SOCKET', 'TCPIP::bench::5555::SOCKET')
    """
    if "::" in where:
        return where
    host, _, port = where.partition(":")
    return f"TCPIP::{host}::{port or SCPI_PORT}::SOCKET"


class VisaTalk:
    """A connection through PyVISA. `backend` is the pure-Python one, or the simulated one in tests."""

    def __init__(self, where: str, *, backend: str = "@py", answer_ms: int = _ANSWER_MS) -> None:
        try:
            import pyvisa
        except ImportError as error:
            raise _no_pyvisa() from error
        self._where = where
        self._answer_ms = answer_ms
        try:
            self._manager = pyvisa.ResourceManager(backend)
        except (ValueError, OSError) as error:
            raise _no_pyvisa() from error
        try:
            opened = self._manager.open_resource(
                resource_of(where), open_timeout=_OPEN_MS, read_termination="\n", write_termination="\n"
            )
        except Exception as error:  # the backend raises bare Exception where a host does not answer
            self._manager.close()
            raise MachineError(
                f"No analyser answers at {where} ({_reason(error)}); check address and cable."
            ) from error
        if not isinstance(opened, pyvisa.resources.MessageBasedResource):
            opened.close()
            self._manager.close()
            raise MachineError(f"{where} takes no commands as text; name a socket or an instrument, HOST:PORT.")
        self._resource = opened
        self._resource.timeout = answer_ms
        self._resource.chunk_size = _CHUNK

    def write(self, command: str) -> None:
        """Send a command."""
        try:
            self._resource.write(command)
        except Exception as error:
            raise self._gone(command, error) from error

    def ask(self, query: str) -> str:
        """Send a query and return the answer without its line break."""
        try:
            return self._resource.query(query).strip()
        except Exception as error:
            raise self._gone(query, error) from error

    def close(self) -> None:
        """End the connection; one that is gone already is no error."""
        with suppress(Exception):
            self._resource.close()
        with suppress(Exception):
            self._manager.close()

    def _gone(self, command: str, error: Exception) -> MachineError:
        import pyvisa

        code = getattr(error, "error_code", None)
        if code == pyvisa.constants.StatusCode.error_timeout:
            return MachineError(
                f"The analyser at {self._where} does not answer {command} within {self._answer_ms / 1000:g} s, "
                "or has hung up; check that it is on, at this address, and takes that command."
            )
        return MachineError(
            f"The connection to the analyser at {self._where} broke at {command} ({_reason(error)}); "
            "check that it is on, and the cable."
        )


def _no_pyvisa() -> MachineError:
    return MachineError(
        'Analysers on the network need PyVISA, which is not installed here: pip install "bandwright[instruments]".'
    )


def _reason(error: Exception) -> str:
    text = _NUMBER.sub("", " ".join(str(error).split())).rstrip(".")
    return text[:100] or type(error).__name__
