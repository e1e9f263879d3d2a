"""How the sound of a job stands: every way of every link, the kit's companding, times, ears and clocks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.reach.facts import Gap
from bandwright.core.sound.clock import Clock, clocks
from bandwright.core.sound.ear_remarks import ear_remarks
from bandwright.core.sound.facts import ways_of
from bandwright.core.sound.hearing import CAUTION, AtEar, at_ear
from bandwright.core.sound.lineup import LineUp, line_up
from bandwright.core.sound.matching import Match, Pairing, ends_of, matrix, pairing
from bandwright.core.sound.remarks import Grade, Remark, remarks_on
from bandwright.core.sound.tables import SoundTables
from bandwright.core.sound.timing import Arrival, Loop, Together, arrival_of, loops, together
from bandwright.core.words import and_list

__all__ = ["LinkReport", "SoundReport", "State", "Way", "alike", "report_on", "untold"]


class State(StrEnum):
    """How a link sounds: fits, with a caution, wrong, or open where facts are missing."""

    FITS = "fits"
    CAUTION = "caution"
    WRONG = "wrong"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way of the sound of a link: to one feed."""

    line_up: LineUp
    remarks: tuple[Remark, ...]
    arrival: Arrival
    ear: AtEar | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkReport:
    """One link with all its ways, and how its two ends go together."""

    link: Link
    pairing: Pairing
    ways: tuple[Way, ...]

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What is missing, each once."""
        found: list[Gap] = []
        for way in self.ways:
            found += [*way.line_up.gaps, *way.arrival.gaps, *(way.ear.gaps if way.ear is not None else ())]
        for axis in self.pairing.not_stated:
            lacking = [end for end in (self.pairing.transmitter, self.pairing.receiver) if getattr(end, axis) is None]
            found += [Gap(table="radio", id=end.radio.id, key=f"companding: {axis}") for end in lacking]
        return tuple(dict.fromkeys(found))

    @property
    def told(self) -> bool:
        """Whether a level can be told on one of its ways."""
        return any(way.line_up.told for way in self.ways)

    @property
    def silent(self) -> bool:
        """Whether there is nothing to say of it: no level, no remark, and nothing that somebody has set."""
        return not self.told and not any(
            way.remarks or any(one.stated for one in way.line_up.settings) for way in self.ways
        )

    @property
    def state(self) -> State:
        """The worst of its ways; open where a headroom cannot be told."""
        grades = {remark.grade for way in self.ways for remark in way.remarks}
        if Grade.WRONG in grades:
            return State.WRONG
        if self.pairing.match is Match.OPEN:
            return State.OPEN
        if any(way.line_up.headroom_db is None or not _whole(way.line_up) for way in self.ways):
            return State.OPEN
        return State.CAUTION if Grade.CAUTION in grades else State.FITS


def _whole(item: LineUp) -> bool:
    """Whether the loudest peak can be followed to the end of the way."""
    return item.facts.feed is not None and item.points[-1].peak is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundReport:
    """How the sound of a job stands. `matrix` is the whole kit's, whatever the links."""

    links: tuple[LinkReport, ...]
    matrix: tuple[Pairing, ...]
    together: tuple[Together, ...]
    loops: tuple[Loop, ...]
    clocks: tuple[Clock, ...]
    cautions: tuple[str, ...]

    @property
    def fine(self) -> bool:
        """Whether nothing is wrong and nothing is open."""
        return all(item.state in (State.FITS, State.CAUTION) for item in self.links) and not any(
            clock.one is False for clock in self.clocks
        )


def alike(links: Sequence[LinkReport]) -> list[list[LinkReport]]:
    """Return links that differ in nothing but who they are together."""
    groups: dict[object, list[LinkReport]] = {}
    for item in links:
        ways = tuple((way.line_up.settings, way.line_up.points, way.remarks) for way in item.ways)
        feeds = tuple(way.line_up.facts.feed for way in item.ways)
        groups.setdefault((item.pairing, ways, feeds), []).append(item)
    return list(groups.values())


def untold(links: Sequence[LinkReport]) -> str | None:
    """Return in one sentence of which links no level can be told, and what to fill in; None where there are none."""
    found = [item for item in links if not item.told]
    if not found:
        return None
    keys: dict[str, list[str]] = {}
    for gap in dict.fromkeys((gap.table, gap.key) for item in found for gap in item.gaps if gap.meanwhile is None):
        keys.setdefault(gap[0], []).append(gap[1])
    fill = "; ".join(f"{and_list(names)} in [[{table}]]" for table, names in keys.items())
    return f"No level can be told of: {', '.join(item.link.id for item in found)}." + (
        f" Fill in {fill}." if fill else ""
    )


def report_on(job: Job, links: Iterable[Link], tables: SoundTables) -> SoundReport:
    """Return how the sound of these links stands; times and clocks are those among them."""
    found = tuple(_link(job, link, tables) for link in links)
    arrivals: Sequence[Arrival] = [way.arrival for item in found for way in item.ways]
    ears = any(way.ear is not None for item in found for way in item.ways)
    return SoundReport(
        links=found,
        matrix=matrix(job),
        together=together(arrivals),
        loops=loops(arrivals),
        clocks=clocks(arrival.facts for arrival in arrivals),
        cautions=(CAUTION,) if ears else (),
    )


def _link(job: Job, link: Link, tables: SoundTables) -> LinkReport:
    ends = pairing(*ends_of(job, link))
    lined = [line_up(facts, tables) for facts in ways_of(job, link, tables)]
    return LinkReport(link=link, pairing=ends, ways=tuple(_way(item, lined, ends, tables) for item in lined))


def _way(item: LineUp, every: Sequence[LineUp], ends: Pairing, tables: SoundTables) -> Way:
    ear = at_ear(item, tables)
    remarks = (*remarks_on(item, ends), *_shared(item, every), *(ear_remarks(ear) if ear is not None else ()))
    order = list(Grade)
    return Way(
        line_up=item,
        remarks=tuple(sorted(remarks, key=lambda one: order.index(one.grade))),
        arrival=arrival_of(item.facts),
        ear=ear,
    )


def _shared(item: LineUp, every: Sequence[LineUp]) -> Iterator[Remark]:
    """Yield where one output goes to two inputs that ask it for different levels."""
    own, output = item.setting("receiver output"), item.facts.output
    if own is None or output is None or item is every[0]:
        return
    first = next((one for one in every if one.facts.output == output), None)
    other = None if first is None or first is item else first.setting("receiver output")
    if other is None or first is None or first.facts.feed is None or own.recommended_db == other.recommended_db:
        return
    text = (
        f"The output {output.name} also goes to {first.facts.feed.name}, which wants it at {_db(other.recommended_db)};"
        f" here it would be {_db(own.recommended_db)}: a pad at one of them, or another output."
    )
    yield Remark(code="shared-output", grade=Grade.CAUTION, text=text)


def _db(value: float | None) -> str:
    return "nobody knows what" if value is None else f"{value:+g} dB"
