"""Antennas, runs and walls of a brief as core values, with everything that they name checked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from bandwright.core.library import Library
from bandwright.core.rig import Antenna, AntennaPattern, Part, PartKind, Response, Run, Supply, Wall
from bandwright.documents.brief.front_tables import GainPointTable
from bandwright.documents.brief.rig_tables import AntennaTable, PartTable, RunTable, WallTable
from bandwright.documents.brief.tables import Brief
from bandwright.documents.faults import Findings, given_text
from bandwright.errors import InputError

__all__ = ["Runs", "wall_of"]

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Runs:
    """The runs of one brief; `known` notes a name that is not known and tells whether it is."""

    brief: Brief
    library: Library
    link_ids: Mapping[str, tuple[str, ...]]
    known: Callable[[str | None, Iterable[str], Path, str], bool]
    findings: Findings

    def runs(self) -> tuple[Run, ...]:
        """Return every run whose antenna is known."""
        places = [place.id for place in self.brief.place]
        for index, table in enumerate(self.brief.antenna):
            self.known(table.place, places, ("antenna", index, "place"), "place")
        antennas = {table.id: self._antenna(i, table) for i, table in enumerate(self.brief.antenna)}
        feeds = self._feeds()
        return tuple(run for i, table in enumerate(self.brief.run) for run in self._run(i, table, antennas, feeds))

    def _run(self, index: int, table: RunTable, antennas: Mapping[str, Antenna], feeds: list[str]) -> list[Run]:
        path: Path = ("run", index)
        cables = [cable.name for cable in self.library.reach.cables]
        for number, part in enumerate(table.parts):
            self.known(part.type, cables, (*path, "parts", number, "type"), "type of cable")
        for name in table.feeds:
            self.known(name, feeds, (*path, "feeds"), "unit, link, rack, receiver or antenna")
        if not self.known(table.antenna, antennas, (*path, "antenna"), "antenna"):
            return []
        names = [link_id for name in table.feeds for link_id in self.link_ids.get(name, (name,))]
        run = Run(
            id=table.id,
            name=table.name or table.id,
            antenna=antennas[table.antenna],
            parts=tuple(self._part(part, (*path, "parts", i)) for i, part in enumerate(table.parts)),
            feeds=tuple(dict.fromkeys(names)),
        )
        return [run]

    def _feeds(self) -> list[str]:
        """Return everything that a run may feed by name."""
        units, links = self.brief.unit, self.brief.link
        words = [unit.id for unit in units]
        words += [name for link_id, names in self.link_ids.items() for name in dict.fromkeys((link_id, *names))]
        words += [word for unit in units for word in (unit.rack, unit.antenna) if word is not None]
        words += [word for link in links for word in (link.rack, link.receiver, link.antenna) if word is not None]
        return list(dict.fromkeys(words))

    def _antenna(self, index: int, table: AntennaTable) -> Antenna:
        return _antenna(table, self._file(table.touchstone, 1, ("antenna", index)))

    def _part(self, table: PartTable, path: Path) -> Part:
        return _part(table, _stated(table.points) or self._file(table.touchstone, 2, path))

    def _file(self, name: str | None, ports: int, path: Path) -> Response | None:
        """Return what a Touchstone file says; what is wrong with it is noted at the key that names it."""
        if name is None:
            return None
        path = (*path, "touchstone")
        if self.library.touchstone is None:
            text = f"a job file keeps no Touchstone files, so {given_text(name)} cannot be found from it."
            hint = "State the gain over frequency with points, as `bandwright job import` does from a brief beside it."
            self.findings.add("no-folder", path, text, given=name, allowed="points", hint=hint)
            return None
        try:
            return self.library.touchstone(name, ports)
        except InputError as error:
            fault = error.faults[0]
            self.findings.add(fault.code, path, fault.text, given=name, hint=fault.hint)
            return None


def _stated(points: Sequence[GainPointTable] | None) -> Response | None:
    if points is None:
        return None
    pairs = tuple((float(point.mhz), point.db) for point in points)
    return Response(source="its list of points", points=pairs)


def _antenna(table: AntennaTable, mismatch: Response | None) -> Antenna:
    return Antenna(
        id=table.id,
        name=table.name or table.id,
        gain_dbi=table.gain_dbi,
        height_m=table.height_m,
        at_m=table.at_m,
        site_noise_db=table.site_noise_db,
        polarisation_loss_db=table.polarisation_loss_db,
        place=table.place,
        pattern=_pattern(table),
        facing_deg=table.facing_deg,
        response=_stated(table.points),
        mismatch=mismatch,
        supply=table.supply,
    )


def _part(table: PartTable, response: Response | None) -> Part:
    return Part(
        what=table.what,
        name=table.name,
        type=table.type,
        length_m=table.length_m,
        db_per_100m=table.db_per_100m,
        loss_db=table.loss_db,
        ways=table.ways,
        gain_db=table.gain_db,
        noise_figure_db=table.noise_figure_db,
        iip3_dbm=table.iip3_dbm,
        p1db_dbm=table.p1db_dbm,
        passband=table.passband,
        stopband_db=table.stopband_db,
        response=response,
        supply=table.supply or (Supply.PASSES if table.what is PartKind.CABLE else None),
    )


def wall_of(table: WallTable) -> Wall:
    """Return a wall as the core knows it."""
    thickness_m = None if table.thickness_mm is None else table.thickness_mm / 1000
    return Wall(loss_db=table.loss_db, material=table.material, thickness_m=thickness_m)


def _pattern(table: AntennaTable) -> AntennaPattern | None:
    """Return how an antenna receives by direction, or None where nobody said."""
    if table.pattern is None or isinstance(table.pattern, str):
        return (
            None
            if table.pattern is None
            else AntennaPattern(
                name=table.pattern, beamwidth_deg=table.beamwidth_deg, front_to_back_db=table.front_to_back_db
            )
        )
    return AntennaPattern(name="table", points=table.pattern)
