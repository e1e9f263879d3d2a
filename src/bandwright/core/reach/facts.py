"""What a link budget stands on: carrier, power, body loss, and the runs that feed a link."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from bandwright.core.bands import Span
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Link, RadioType, Worn
from bandwright.core.permits import Permit
from bandwright.core.planning.carriers import permit_power_mw, tunable_carriers
from bandwright.core.planning.plan import Gap
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Run
from bandwright.core.words import KIND_WORDS, one_line, power_words
from bandwright.units import mhz_text

__all__ = ["Gap", "LinkFacts", "gap_lines", "link_facts", "power_mw_of", "runs_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkFacts:
    """What a budget stands on: carrier and where it is from, power, body loss (least, typical, most), place."""

    link: Link
    place: Place
    carrier_hz: int
    carrier_from: str
    power_mw: float | None
    body_db: tuple[float, float, float]
    body_from: str
    inward: bool

    @property
    def words(self) -> str:
        """Radio, carrier, power and distance in one line; what is not known is left out."""
        kind = self.link.radio.power_kind
        found = [one_line(self.link.radio.name), f"{mhz_text(self.carrier_hz)} MHz ({self.carrier_from})"]
        if self.power_mw is not None:
            found.append(f"{power_words(self.power_mw)} {KIND_WORDS[kind] if kind is not None else ''}".rstrip())
        if self.link.distance_m is not None:
            found.append(f"{self.link.distance_m:g} m at most")
        return ", ".join(found)


def gap_lines(gaps: Iterable[Gap]) -> list[str]:
    """Return gaps as lines, those that lack the same key together, with what counts until then."""
    by_key: dict[tuple[str, str, str | None], list[str]] = {}
    for gap in dict.fromkeys(gaps):
        by_key.setdefault((gap.table, gap.key, gap.meanwhile), []).append(gap.id)
    return [
        f"{key} in [[{table}]] for {', '.join(ids)}" + ("" if meanwhile is None else f"; until then {meanwhile}")
        for (table, key, meanwhile), ids in by_key.items()
    ]


def link_facts(job: Job, link: Link, *, carriers: Mapping[str, int], tables: ReachTables) -> LinkFacts:
    """Return what is known of a link; its carrier is that of the plan, else the held one, else a permitted middle."""
    carrier_hz, source = _carrier(job, link, carriers)
    inward = link.radio.direction is not Direction.TO_PERSON
    # An in-ear mix is worn at its far end, whatever its transmitter sits in.
    worn = link.worn if inward else Worn.BODY
    body = tables.body_loss(worn)
    stated = link.body_loss_db
    losses = (body.least_db, body.typical_db, body.most_db) if stated is None else (stated, stated, stated)
    return LinkFacts(
        link=link,
        place=job.place_of(link),
        carrier_hz=carrier_hz,
        carrier_from=source,
        power_mw=power_mw_of(job, link, carrier_hz),
        body_db=losses,
        body_from=body.source if stated is None else "stated",
        inward=inward,
    )


def runs_of(job: Job, link: Link) -> tuple[Run, ...]:
    """Return the runs that feed a link: those that name it, its box or what these give as rack, receiver or antenna.

    Where none does, the runs of its place that name nothing.
    """
    unit = next((unit for unit in job.units if unit.id == link.unit), None)
    names = {link.id, link.unit, link.rack, link.receiver, link.antenna}
    names |= {unit.rack, unit.antenna} if unit is not None else set()
    named = tuple(run for run in job.runs if names.intersection(run.feeds))
    here = job.place_of(link).id
    return named or tuple(run for run in job.runs if not run.feeds and job.place_of(run.antenna).id == here)


def _carrier(job: Job, link: Link, carriers: Mapping[str, int]) -> tuple[int, str]:
    if link.id in carriers:
        return carriers[link.id], "the plan"
    if link.hold_hz is not None:
        return link.hold_hz, "held"
    windows = tuple(window for permit in _permits(job, link) for window in permit.windows)
    return _middle(link.radio, windows)


@lru_cache(maxsize=256)
def _middle(radio: RadioType, windows: tuple[Span, ...]) -> tuple[int, str]:
    every = tunable_carriers(radio)
    allowed = np.zeros(len(every), np.bool_)
    for window in windows:
        allowed |= (every >= window.low_hz) & (every <= window.high_hz)
    if allowed.any():
        return int(every[allowed][allowed.sum() // 2]), "the middle of what is permitted"
    return int(every[len(every) // 2]), "the middle of its range"


def _permits(job: Job, link: Link) -> list[Permit]:
    here = job.place_of(link).id
    return [permit for permit in job.permits if permit.place is None or permit.place == here]


def power_mw_of(job: Job, link: Link, carrier_hz: int) -> float | None:
    """Return the power that a link uses: the most that a permit for its carrier allows, else its highest setting."""
    covering = [p for p in _permits(job, link) if any(w.low_hz <= carrier_hz <= w.high_hz for w in p.windows)]
    powers = [power for permit in covering if (power := permit_power_mw(link, permit)[0]) is not None]
    if powers:
        return max(powers)
    return link.power_mw if link.power_mw is not None else max(link.radio.power_mw, default=None)
