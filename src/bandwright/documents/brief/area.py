"""The plan of a place as a core value, with everything that it names and where it lies checked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from bandwright.core.reach.area import Area, AreaWall, Candidate, FixedTransmitter, Metres, Walkway, Zone
from bandwright.core.reach.area_geometry import encloses
from bandwright.core.reach.tables import ReachTables
from bandwright.documents.brief.area_tables import AreaTable
from bandwright.documents.brief.runs import wall_of
from bandwright.documents.faults import Findings

__all__ = ["AreaReader"]

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaReader:
    """Reads the `[area]` of one brief; `known` notes a name that is not known and tells whether it is."""

    table: AreaTable
    tables: ReachTables
    findings: Findings
    known: Callable[[str | None, Iterable[str], Path, str], bool]

    def area(self, places: Iterable[str], link_ids: Mapping[str, tuple[str, ...]]) -> Area | None:
        """Return the area, or None where its outline is not known; what is wrong is noted."""
        table = self.table
        self.known(table.place, places, ("area", "place"), "place")
        materials = [item.name for item in self.tables.materials]
        for number, wall in enumerate(table.walls):
            self.known(wall.material, materials, ("area", "walls", number, "material"), "material")
        for kind in ("zones", "walks", "candidates"):
            self._each_once(kind)
        walks = tuple(self._walk(number, link_ids) for number in range(len(table.walks)))
        outline = self._outline()
        if outline is None:
            return None
        for kind, key in (("zones", "corners_m"), ("walks", "along_m")):
            for number, item in enumerate(getattr(table, kind)):
                self._inside(outline, getattr(item, key), ("area", kind, number, key), item.id)
        return Area(
            outline_m=outline,
            place=table.place,
            walls=tuple(
                AreaWall(start_m=wall.from_m, end_m=wall.to_m, wall=wall_of(wall), name=wall.name)
                for wall in table.walls
            ),
            zones=tuple(Zone(id=z.id, name=z.name or z.id, corners_m=z.corners_m) for z in table.zones),
            walks=walks,
            candidates=tuple(
                Candidate(id=c.id, name=c.name or c.id, at_m=c.at_m, height_m=c.height_m, facing_deg=c.facing_deg)
                for c in table.candidates
            ),
            transmitters=tuple(
                FixedTransmitter(
                    name=one.name or f"transmitter at [{one.at_m[0]:g}, {one.at_m[1]:g}]",
                    at_m=one.at_m,
                    power_mw=one.power_mw,
                    power_kind=one.power_kind,
                    carrier_hz=one.carrier_hz,
                )
                for one in table.transmitters
            ),
        )

    def _outline(self) -> tuple[Metres, ...] | None:
        table = self.table
        if table.outline_m is not None:
            if table.width_m is not None or table.depth_m is not None:
                text = "it says both outline_m and width_m or depth_m; one of the two is its outline."
                self.findings.add("two-outlines", ("area", "outline_m"), text, allowed="one of them")
            return table.outline_m
        if table.width_m is None or table.depth_m is None:
            if not self.findings.any_under(("area",)):
                text = "it has no outline."
                allowed = "width_m with depth_m, or outline_m"
                hint = "Write width_m = 24 and depth_m = 16, or outline_m with the corners in order."
                self.findings.add("no-outline", ("area",), f"[area]: {text}", allowed=allowed, hint=hint)
            return None
        return ((0.0, 0.0), (table.width_m, 0.0), (table.width_m, table.depth_m), (0.0, table.depth_m))

    def _each_once(self, kind: str) -> None:
        seen: set[str] = set()
        for number, item in enumerate(getattr(self.table, kind)):
            if item.id in seen:
                text = f'{kind} name "{item.id}" twice; each has an id of its own.'
                path = ("area", kind, number, "id")
                self.findings.add("id-twice", path, text, given=item.id, hint="Give one of them another id.")
            seen.add(item.id)

    def _walk(self, number: int, link_ids: Mapping[str, tuple[str, ...]]) -> Walkway:
        table = self.table.walks[number]
        every = [one for ids in link_ids.values() for one in ids]
        names: list[str] = []
        for name in table.links:
            if self.known(name, [*link_ids, *every], ("area", "walks", number, "links"), "link"):
                names += link_ids.get(name, (name,))
        return Walkway(id=table.id, name=table.name or table.id, along_m=table.along_m, links=tuple(names))

    def _inside(self, outline: Sequence[Metres], points: Sequence[Metres], path: Path, name: str) -> None:
        """Note the first point that lies outside the outline."""
        stray = next((point for point in points if not encloses(outline, point)), None)
        if stray is not None:
            given = f"[{stray[0]:g}, {stray[1]:g}]"
            text = f'{path[1]} "{name}" has a point at {given} m, which lies outside the outline.'
            hint = "Move the point, or make the outline larger."
            self.findings.add(
                "outside-outline", path, text, given=given, allowed="points inside the outline", hint=hint
            )
