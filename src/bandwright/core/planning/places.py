"""At which places a link is judged, and which sweeps count there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bandwright.core.job import Job, Place
from bandwright.core.kit import Link
from bandwright.core.sweep import Sweep

__all__ = ["at_each_place", "counts_at", "sweeps_at"]


def at_each_place(job: Job, link: Link) -> tuple[Link, ...]:
    """Return the link as it stands at each place it is judged at: itself, or a spare carrier once for each place."""
    if len(link.spare_at) < 2:
        return (link,)
    return tuple(replace(link, place=place.id, spare_at=(place.id,)) for place in job.places_of(link))


def sweeps_at(place: Place, sweeps: Sequence[Sweep]) -> list[Sweep]:
    """Return the sweeps that count at a place."""
    return [sweep for sweep in sweeps if counts_at(place, sweep)]


def counts_at(place: Place, sweep: Sweep) -> bool:
    """Whether a sweep counts at a place: it was made there, or nobody said where."""
    return sweep.place is None or sweep.place == place.id
