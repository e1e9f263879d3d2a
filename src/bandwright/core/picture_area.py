"""The plan of a place as a drawing: what links have over what they need, walls, antennas, walks, the worst point."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from bandwright.core.drawing import Drawing, Group, Ink, Item, Text
from bandwright.core.picture_area_ground import axis_items, grid_lines, margin_items, outside_items
from bandwright.core.picture_area_labels import PlanFrame, db_text
from bandwright.core.picture_area_legend import legend
from bandwright.core.picture_area_marks import plan_items
from bandwright.core.picture_content import LABEL, MARGIN, TITLE
from bandwright.core.reach.area_geometry import along
from bandwright.core.reach.area_kinds import KindMap
from bandwright.core.reach.area_points import Judged
from bandwright.core.reach.area_reach import AreaReach
from bandwright.core.reach.audible import audible_of, counted_words

__all__ = ["area_picture", "area_pictures"]

_HEAD, _AXIS, _LEGEND = 66.0, 34.0, 264.0
_MOST_HIGH, _LEAST_HIGH = 640.0, 320.0


def area_pictures(
    reach: AreaReach, *, title: str, names: Mapping[str, str], width: float = 1120.0
) -> tuple[Drawing, ...]:
    """Return a map for each kind of links, the one with the worst point first; the plan alone where none is judged."""
    kinds = [kind for kind in reach.kinds if kind.reserve_db is not None]
    ranked = sorted(kinds, key=lambda kind: _least_of(reach, kind))
    if not ranked:
        return (area_picture(reach, None, title=title, names=names, width=width),)
    return tuple(area_picture(reach, kind, title=title, names=names, width=width) for kind in ranked)


def area_picture(
    reach: AreaReach, kind: KindMap | None, *, title: str, names: Mapping[str, str], width: float = 1120.0
) -> Drawing:
    """Return the map of one kind of links; without one, the plan alone.

    Parameters
    ----------
    reach
        The plan judged.
    kind
        One of its kinds.
    title
        What stands on top.
    names
        How links are called here, by id: people may not want their names on a wall.
    width
        In units of the drawing.
    """
    left, low, right, high = _box_m(reach)
    room = width - 2 * MARGIN - _AXIS - _LEGEND
    scale = min(room / (right - left), _MOST_HIGH / (high - low))
    frame = PlanFrame(left=MARGIN + _AXIS, top=_HEAD, scale=scale, box_m=(left, low, right, high))
    judged = [one for one in reach.judged if kind is None or one.facts.link.id in kind.links]
    subtitle = _subtitle(judged, kind, names)
    _keep_room(reach, frame)
    ground = [*margin_items(reach, kind, frame), *outside_items(reach, frame), *grid_lines(frame)]
    plan, signs = plan_items(reach, kind, judged, frame, names)
    below = list(_words(reach, judged, names))
    items: list[Item] = [
        Text(at=(MARGIN, 32), text=title, size=TITLE, bold=True),
        Text(at=(MARGIN, 52), text=subtitle, size=LABEL, ink=Ink.MUTED),
        Group(title="margins on the plan", items=tuple(ground), clip=frame.rect),
        Group(title="walls, antennas, walks and the worst point", items=tuple(plan)),
        *axis_items(frame),
    ]
    legend_left = frame.left + frame.width + 28
    head = None if kind is None else _head(reach, judged)
    drawn, legend_bottom = legend(signs, left=legend_left, top=frame.top, head=head, words=below)
    items += drawn
    return Drawing(
        width=width,
        height=max(frame.top + frame.height + _AXIS + 8, legend_bottom + 8, _LEAST_HIGH),
        items=tuple(items),
        title=title,
        description=f"{subtitle}. {' '.join(below)}",
    )


def _head(reach: AreaReach, judged: Sequence[Judged]) -> str:
    """Return what is drawn: the margin over what, and which dropouts count for that."""
    counted = counted_words(audible_of(one.facts.link.radio) for one in judged)
    minutes = reach.every_s / 60
    return (
        f"Margin over what fading asks for: no more than one audible dropout in {minutes:g} min of walking. {counted}"
    )


def _keep_room(reach: AreaReach, frame: PlanFrame) -> None:
    """Keep labels off walls, and figures of lines off walks and antennas too."""
    area = reach.area
    for wall in area.walls:
        for x, y in along((frame.at(wall.start_m), frame.at(wall.end_m)), step_m=8.0).tolist():
            frame.keep_free((x, y), 4)
    for walk in area.walks:
        for x, y in along(frame.line(walk.along_m), step_m=8.0).tolist():
            frame.keep_clear((x, y), 5)
    for antenna in reach.antennas:
        if antenna.at_m is not None:
            frame.keep_clear(frame.at(antenna.at_m), 36)


def _subtitle(judged: Sequence[Judged], kind: KindMap | None, names: Mapping[str, str]) -> str:
    called = [names[one.facts.link.id] for one in judged]
    shown = ", ".join(called[:5]) + (f" and {len(called) - 5} more" if len(called) > 5 else "")
    if kind is None:
        return f"{shown}: no margin can be told"
    radios = ", ".join(dict.fromkeys(one.facts.link.radio.name for one in judged))
    way = "" if judged and judged[0].facts.inward else ", from its antenna to the people"
    return f"{shown} ({radios}{way})"


def _words(reach: AreaReach, judged: Sequence[Judged], names: Mapping[str, str]) -> Iterator[str]:
    known = [one for one in judged if one.worst is not None]
    if not known:
        if reach.gaps:
            lacking = ", ".join(dict.fromkeys(f"{gap.key} of {gap.id}" for gap in reach.gaps))
            yield f"To fill in: {lacking}."
        return
    weakest = min(known, key=lambda one: one.worst.reserve_db if one.worst else 0.0)
    assert weakest.worst is not None
    x, y = weakest.worst.at_m
    zone = reach.area.zone(weakest.zone)
    where = "the whole area" if zone is None else zone.name
    over = db_text(weakest.worst.reserve_db)
    yield f"Worst point of {where}: {names[weakest.facts.link.id]} at [{x:.1f}, {y:.1f}] m, {over}."
    if weakest.enough is not None:
        yield (
            f"It is enough in {math.floor(weakest.enough * 100)} % of {where}."
            if weakest.enough < 1
            else f"It is enough all over {where}."
        )


def _least_of(reach: AreaReach, kind: KindMap) -> float:
    worst = [one.worst.reserve_db for one in reach.judged if one.worst and one.facts.link.id in kind.links]
    return min(worst, default=math.inf)


def _box_m(reach: AreaReach) -> tuple[float, float, float, float]:
    """Return the box around everything on the plan, with a little room."""
    area = reach.area
    points = [*area.outline_m, *(one.at_m for one in area.candidates), *(one.at_m for one in area.transmitters)]
    points += [antenna.at_m for antenna in reach.antennas if antenna.at_m is not None]
    points += [end for wall in area.walls for end in (wall.start_m, wall.end_m)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    room = max(max(xs) - min(xs), max(ys) - min(ys)) * 0.04
    return min(xs) - room, min(ys) - room, max(xs) + room, max(ys) + room
