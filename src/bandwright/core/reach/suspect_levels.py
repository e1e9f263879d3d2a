"""Predicted levels of suspected products at the receiver that hears them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bandwright.core.job import Job
from bandwright.core.reach.levels_rows import Rows, level_dbm_of, rows_of
from bandwright.core.reach.stage import stage_of
from bandwright.core.reach.tables import ReachTables

__all__ = ["SuspectLevels", "suspect_levels"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SuspectLevels:
    """Products at one receiver, with every pack where it does most."""

    victim: int
    index: Mapping[str, int]
    rows: Rows

    def level_dbm(self, family: str, members: Sequence[str]) -> float | None:
        """Return what a product adds at the receiver in dBm; None where it is not known to."""
        return level_dbm_of(self.rows, self.victim, family, [self.index[name] for name in members])


def suspect_levels(
    job: Job, carriers_hz: Mapping[str, int], victim: str | None, members: Collection[str], *, tables: ReachTables
) -> SuspectLevels | None:
    """Return the products of some members (by id) at the receiver of a link; None without its intercept point."""
    heard_by = next((link for link in job.links if link.id == victim), None)
    if heard_by is None or heard_by.radio.iip3_dbm is None:
        return None
    stage = stage_of(job, job.links, tables=tables)
    index = {actor.id: number for number, actor in enumerate(stage.actors)}
    every = {**carriers_hz, **{other.id: other.carrier_hz for other in job.others}}
    asked = {heard_by.id, *members}
    on_air = [every.get(actor.id, -1) if actor.id in asked else -1 for actor in stage.actors]
    model = stage.worst()
    only = replace(model, victim=np.arange(len(stage.actors)) == index[heard_by.id])
    return SuspectLevels(victim=index[heard_by.id], index=index, rows=rows_of(only, on_air))
