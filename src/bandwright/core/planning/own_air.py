"""What a sweep made with own transmitters on can say: nothing of the carriers they were on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import ChannelStatistics, Sweep

__all__ = ["own_carriers_unknown", "without_own"]

_Flags = NDArray[np.bool_]


def without_own(job: Job, carriers_hz: Mapping[str, int], sweeps: Sequence[Sweep]) -> tuple[Sweep, ...]:
    """Return the sweeps with whatever touches the carriers of our links as not measured, where these were on.

    A sweep made with own transmitters off, or nobody knows with which, stays as it is: energy there is an intruder.
    """
    return tuple(_without(sweep, _on_air(job, carriers_hz, sweep)) for sweep in sweeps)


def own_carriers_unknown(sweeps: Sequence[Sweep]) -> tuple[Warn, ...]:
    """Name the sweeps that were made with own transmitters on."""
    text = (
        "It was made with own transmitters on, so it tells nothing of the carriers they were on: an intruder there "
        "is not seen. What a receiver tells with its transmitter off can be said to a replan."
    )
    command = "Name such links with --lost."
    return tuple(
        Warn(code="own-transmitters-on", text=f"{sweep.name}: {text}", where=sweep.name, command=command)
        for sweep in sweeps
        if sweep.own_transmitters == "on"
    )


def _on_air(job: Job, carriers_hz: Mapping[str, int], sweep: Sweep) -> list[tuple[int, Link]]:
    """Return the links that a sweep heard with their carriers."""
    if sweep.own_transmitters != "on":
        return []
    here = [link for link in job.links if sweep.place in (None, job.place_of(link).id)]
    return [(carriers_hz[link.id], link) for link in here if link.id in carriers_hz]


def _without(sweep: Sweep, heard: Sequence[tuple[int, Link]]) -> Sweep:
    if not heard:
        return sweep
    grid = sweep.grid
    bins = np.zeros(grid.size, np.bool_)
    for hz, link in heard:
        half = link.radio.bandwidth_hz / 2
        bins |= (grid.high_edges_hz > hz - half) & (grid.low_edges_hz < hz + half)
    return replace(
        sweep,
        highest_db=np.where(bins, np.nan, sweep.highest_db),
        typical_db=np.where(bins, np.nan, sweep.typical_db),
        channels=tuple(_channel_without(channel, heard) for channel in sweep.channels),
    )


def _channel_without(channel: ChannelStatistics, heard: Sequence[tuple[int, Link]]) -> ChannelStatistics:
    places = channel.windows.places_hz
    touched: _Flags = np.zeros(len(places), np.bool_)
    for hz, link in heard:
        touched |= np.abs(places - hz) < (channel.windows.width_hz + link.radio.bandwidth_hz) / 2
    return replace(
        channel,
        highest=np.where(touched, np.nan, channel.highest),
        typical=np.where(touched, np.nan, channel.typical),
    )
