"""Spectrum sources: programs that sweep, and analysers on the network, each over a transport that is handed in.

A source is an iterator of `Taken` (whole sweeps or rows of one, as text for the log and as blocks) and of None, which
comes at least every half second while there is nothing, so that whoever drives it can look at the clock. What goes
wrong is a `MachineError` of one sentence. A replay of recorded words takes the place of the transport in tests.
"""

from __future__ import annotations

from bandwright.instruments.wish import Taken, Wish

__all__ = ["Taken", "Wish"]
