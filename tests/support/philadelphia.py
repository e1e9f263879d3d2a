"""The Philadelphia instances as networks, from the table of coordinates, demands and distances."""

from __future__ import annotations

import numpy as np

from bandwright.core.planning.network import Network

__all__ = ["philadelphia"]

# Squared distances below which two calls ask for 1 and for 2 slots; calls of one cell ask for 5.
_REACH = {"P2": (7, 3), "P4": (7, 3), "P6": (7, 3), "P8": (12, 4)}


def philadelphia(table, name, *, touching=False):
    """An instance as published, or with a conflict also at exactly the reuse distance (`touching`)."""
    q, r = np.array(table["axial_q"]), np.array(table["axial_r"])
    dq, dr = q[:, None] - q, r[:, None] - r
    squared = dq * dq + dr * dr + dq * dr
    one, two = _REACH.get(name, (12, 3))
    separation = np.select([squared == 0, squared < two, squared < one + touching], [5, 2, 1], 0)
    return Network(demand=np.array(table["instances"][name]["demand"]), separation=separation)
