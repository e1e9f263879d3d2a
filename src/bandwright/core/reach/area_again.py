"""A plan judged again after an edit: where nothing changed on which it stands, what was found before stays."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.reach.area_reach import AreaReach, area_reach, bearers_of, on_plan
from bandwright.core.reach.area_spots import Bearers, sender_name
from bandwright.core.reach.near_far import Strong
from bandwright.core.reach.tables import ReachTables

__all__ = ["AreaMemory"]

_MOST = 4


class AreaMemory:
    """The last few plans that were judged, each by what it stands on; names and notes of links are no part of that."""

    def __init__(self, tables: ReachTables) -> None:
        self._tables = tables
        self._known: dict[Hashable, AreaReach] = {}

    def area_reach(
        self, job: Job, links: Sequence[Link], *, carriers: Mapping[str, int], every_s: float
    ) -> AreaReach | None:
        """Return what `area_reach` does."""
        if job.area is None:
            return None
        bearers = bearers_of(job, links, carriers=carriers, tables=self._tables)
        stands_on = _stands_on(job, bearers, every_s)
        found = self._known.pop(stands_on, None)
        if found is None:
            found = area_reach(job, links, carriers=carriers, tables=self._tables, every_s=every_s)
            assert found is not None
        else:
            elsewhere = tuple(link.id for link in links if not on_plan(job, link))
            found = replace(_renamed(found, bearers), elsewhere=elsewhere)
        self._known[stands_on] = found
        for old in list(self._known)[:-_MOST]:
            del self._known[old]
        return found


def _stands_on(job: Job, bearers: Bearers, every_s: float) -> Hashable:
    """Return what a plan judged stands on; radio types, places and runs once each, whoever uses them."""
    radios = {facts.link.radio.id: facts.link.radio for facts, _ in bearers}
    places = {facts.place.id: facts.place for facts, _ in bearers}
    every = {run.id: run for _, runs in bearers for run in runs}
    links = tuple(
        (
            facts.link.id,
            facts.link.radio.id,
            facts.link.worn,
            facts.link.zone,
            facts.place.id,
            facts.carrier_hz,
            facts.power_mw,
            facts.body_db,
            tuple(run.id for run in runs),
        )
        for facts, runs in bearers
    )
    return job.area, every_s, tuple(radios.values()), tuple(places.values()), tuple(every.values()), links


def _renamed(reach: AreaReach, bearers: Bearers) -> AreaReach:
    """Return a plan judged with links as they are called now."""
    judged = (replace(one, facts=facts) for one, (facts, _) in zip(reach.judged, bearers, strict=True))
    names = {(facts.link.id, run.antenna.id): sender_name(facts, run) for facts, runs in bearers for run in runs}
    return replace(reach, judged=tuple(judged), strong=tuple(_called(one, names) for one in reach.strong))


def _called(one: Strong, names: Mapping[tuple[str, str], str]) -> Strong:
    sender = one.sender
    return one if sender.of is None else replace(one, sender=replace(sender, name=names[sender.of]))
