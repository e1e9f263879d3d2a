"""What stands on a plan: antennas, walls, zones, walks, spots, near limits, and the worst point, with their labels."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

from bandwright.core.drawing import Area, Ink, Item, Line, Mark, Pattern, Point, Polyline, Shape
from bandwright.core.picture_area_labels import PlanFrame, db_text, placed_label
from bandwright.core.picture_area_legend import Sign
from bandwright.core.picture_content import LABEL, SMALL
from bandwright.core.reach.area_antenna import facing_towards_deg
from bandwright.core.reach.area_kinds import KindMap
from bandwright.core.reach.area_points import Judged
from bandwright.core.reach.area_reach import AreaReach
from bandwright.core.rig import Antenna, Wall

__all__ = ["plan_items"]

_ARROW = 26.0


def plan_items(
    reach: AreaReach, kind: KindMap | None, judged: Sequence[Judged], frame: PlanFrame, names: Mapping[str, str]
) -> tuple[list[Item], tuple[Sign, ...]]:
    """Return what is on the plan and its signs; the labels that matter most come first, so that they find room."""
    area = reach.area
    outline = frame.line(area.outline_m)
    signs: dict[Sign, None] = {}
    items: list[Item] = [Polyline(points=(*outline, outline[0]), ink=Ink.TEXT, width=1.4)]
    used = {antenna.id for antenna in kind.antennas} if kind is not None else set()
    antennas = [antenna for antenna in reach.antennas if kind is None or antenna.id in used]
    marks, labels = [], []
    for shapes, texts in (
        _worst(judged, names, frame, signs),
        _antennas(reach, antennas, frame, signs),
        _transmitters(reach, frame, signs),
        _walks(reach, judged, frame, signs),
        _zones(reach, judged, frame, signs),
        _walls(reach, frame, signs),
        _candidates(reach, judged, frame, signs),
        _near(reach, used, frame, signs),
    ):
        marks.append(shapes)
        labels += texts
    for shapes in reversed(marks):
        items += shapes
    for at, text, size, bold, over in labels:
        items += placed_label(at, text, size, frame, bold=bold, over=over)
    return items, tuple(signs)


Labels = list[tuple[Point, str, float, bool, bool]]
"""Where, what, how large, whether bold, and whether above or below goes before beside."""
_Part = tuple[list[Item], Labels]


def _worst(judged: Sequence[Judged], names: Mapping[str, str], frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    known = [one for one in judged if one.worst is not None]
    if not known:
        return [], []
    weakest = min(known, key=lambda one: one.worst.reserve_db if one.worst else 0.0)
    assert weakest.worst is not None
    signs[Sign.WORST] = None
    at = frame.at(weakest.worst.at_m)
    frame.keep_free(at, 9)
    words = f"worst: {names[weakest.facts.link.id]} {db_text(weakest.worst.reserve_db)}"
    shapes: list[Item] = [
        Mark(at=at, shape=Shape.DIAMOND, ink=Ink.PAPER, size=22),
        Mark(at=at, shape=Shape.DIAMOND, ink=Ink.TEXT, size=18),
        Mark(at=at, shape=Shape.DIAMOND, ink=Ink.PAPER, size=8),
    ]
    return shapes, [(at, words, LABEL, True, False)]


def _antennas(reach: AreaReach, antennas: Sequence[Antenna], frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    shapes: list[Item] = []
    labels: Labels = []
    for antenna in antennas:
        assert antenna.at_m is not None
        at = frame.at(antenna.at_m)
        signs[Sign.ANTENNA] = None
        frame.keep_free(at, 8)
        if antenna.pattern is not None and antenna.pattern.name != "omni":
            facing = antenna.facing_deg
            towards = facing_towards_deg(antenna.at_m, reach.area.middle_m) if facing is None else facing
            shapes += _arrow(at, towards)
            frame.keep_free(_arrow_at(at, towards, _ARROW)(0, 0), 7)
        shapes += [
            Mark(at=at, shape=Shape.DISC, ink=Ink.PAPER, size=17),
            Mark(at=at, shape=Shape.DISC, ink=Ink.OURS, size=13),
            Mark(at=at, shape=Shape.DISC, ink=Ink.PAPER, size=4),
        ]
        labels.append((at, antenna.name, LABEL, True, False))
    return shapes, labels


def _arrow(at: Point, towards_deg: float) -> Iterator[Item]:
    """Yield an arrow that shows where an antenna looks."""
    on = _arrow_at(at, towards_deg, 0.0)
    for ink, width, more in ((Ink.PAPER, 5.0, 2.5), (Ink.OURS, 2.0, 0.0)):
        yield Line(start=at, end=on(_ARROW, 0), ink=ink, width=width)
        tip = _ARROW + 9 + more
        yield Area(points=(on(tip, 0), on(_ARROW - more, 5 + more), on(_ARROW - more, -5 - more)), ink=ink)


def _arrow_at(at: Point, towards_deg: float, ahead: float) -> Callable[[float, float], Point]:
    """Return what gives a point so far along a direction, and across it, from one that lies some way ahead."""
    east, north = math.sin(math.radians(towards_deg)), math.cos(math.radians(towards_deg))

    def on(along: float, across: float) -> Point:
        far = ahead + along
        return at[0] + far * east + across * north, at[1] - far * north + across * east

    return on


def _transmitters(reach: AreaReach, frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    shapes: list[Item] = []
    labels: Labels = []
    for one in reach.area.transmitters:
        at = frame.at(one.at_m)
        signs[Sign.TRANSMITTER] = None
        frame.keep_free(at, 7)
        shapes += [
            Mark(at=at, shape=Shape.SQUARE, ink=Ink.PAPER, size=15),
            Mark(at=at, shape=Shape.SQUARE, ink=Ink.OTHER, size=11),
        ]
        labels.append((at, one.name, SMALL, False, False))
    return shapes, labels


def _walks(reach: AreaReach, judged: Sequence[Judged], frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    shapes: list[Item] = []
    labels: Labels = []
    for walk in reach.area.walks:
        line = frame.line(walk.along_m)
        signs[Sign.WALK] = None
        shapes.append(Polyline(points=line, ink=Ink.PAPER, width=5.0))
        shapes.append(Polyline(points=line, ink=Ink.TEXT, width=1.8, dash=(9.0, 4.0, 2.0, 4.0)))
        lows = [point for one in judged for way, point in one.walks if way.id == walk.id]
        if not lows:
            labels.append((line[0], walk.name, SMALL, False, False))
            continue
        lowest = min(lows, key=lambda point: point.reserve_db)
        at = frame.at(lowest.at_m)
        shapes.append(Mark(at=at, shape=Shape.RING, ink=Ink.TEXT, size=11))
        labels.append((at, f"{walk.name}: {db_text(lowest.reserve_db)}", SMALL, False, False))
    return shapes, labels


def _zones(reach: AreaReach, judged: Sequence[Judged], frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    shapes: list[Item] = []
    labels: Labels = []
    for zone in reach.area.zones:
        corners = frame.line(zone.corners_m)
        signs[Sign.ZONE] = None
        shapes.append(Polyline(points=(*corners, corners[0]), ink=Ink.PAPER, width=4.0))
        shapes.append(Polyline(points=(*corners, corners[0]), ink=Ink.OURS, width=1.6, dash=(4.0, 3.0)))
        x, y = min(corners, key=lambda corner: corner[0] + corner[1])
        labels.append(((x, y + 6), zone.name, SMALL, False, False))
    return shapes, labels


def _walls(reach: AreaReach, frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    shapes: list[Item] = []
    labels: Labels = []
    for item in reach.area.walls:
        start, end = frame.at(item.start_m), frame.at(item.end_m)
        signs[Sign.WALL] = None
        shapes.append(Line(start=start, end=end, ink=Ink.PAPER, width=7.0))
        shapes.append(Line(start=start, end=end, ink=Ink.TEXT, width=4.0))
        flat = abs(end[0] - start[0]) > abs(end[1] - start[1])
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        labels.append((middle, f"{item.name or 'wall'}, {_wall_words(item.wall)}", SMALL, False, flat))
    return shapes, labels


def _wall_words(wall: Wall) -> str:
    if wall.loss_db is not None:
        return f"{wall.loss_db:g} dB"
    return f"{(wall.thickness_m or 0.0) * 1000:g} mm {wall.material}"


def _best(reach: AreaReach, judged: Sequence[Judged]) -> frozenset[str]:
    """Return the best set of spots for the links on a map: of the most antennas, for most of the links."""
    shown = {one.facts.link.id for one in judged}
    ranked = [one for one in reach.placing if shown.intersection(one.links)]
    best = max(ranked, key=lambda one: (len(shown.intersection(one.links)), one.antennas), default=None)
    return frozenset() if best is None else frozenset(best.best[0].ids)


def _candidates(reach: AreaReach, judged: Sequence[Judged], frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    shapes: list[Item] = []
    labels: Labels = []
    best = _best(reach, judged)
    for one in reach.area.candidates:
        at = frame.at(one.at_m)
        signs[Sign.CANDIDATE] = None
        frame.keep_free(at, 6)
        shapes.append(Mark(at=at, shape=Shape.RING, ink=Ink.OURS, size=12))
        if one.id in best:
            signs[Sign.BEST] = None
            shapes.append(Mark(at=at, shape=Shape.DISC, ink=Ink.OURS, size=5))
        labels.append((at, one.name, SMALL, one.id in best, False))
    return shapes, labels


def _near(reach: AreaReach, used: set[str], frame: PlanFrame, signs: dict[Sign, None]) -> _Part:
    shapes: list[Item] = []
    labels: Labels = []
    widest: dict[str, int] = {}
    for number, limit in enumerate(reach.near):
        known = widest.get(limit.antenna.id)
        if limit.antenna.id in used and (known is None or limit.radius_m > reach.near[known].radius_m):
            widest[limit.antenna.id] = number
    for limit in (reach.near[number] for number in widest.values()):
        if limit.radius_m * frame.scale < 8:
            continue
        signs[Sign.NEAR] = None
        ring = frame.line(limit.ring_m)
        shapes.append(Area(points=ring, ink=Ink.TAKEN, pattern=Pattern.DOTS, opacity=0.9))
        shapes.append(Polyline(points=(*ring, ring[0]), ink=Ink.TEXT, width=1.4, dash=(2.0, 2.5)))
        labels.append((max(ring), f"overload within {limit.radius_m:.1f} m", SMALL, False, False))
    return shapes, labels
