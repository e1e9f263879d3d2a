"""The plan judged, as text for a terminal: worst points, walks, spots for antennas, and what comes too near."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bandwright.core.reach.area_points import Judged, Point
from bandwright.core.reach.area_reach import AreaReach
from bandwright.core.reach.audible import audible_of, counted_words
from bandwright.core.reach.placing import APART_M, Placing
from bandwright.core.words import and_list, one_line
from bandwright.sheets.terminal import cut, padded, wrapped

__all__ = ["area_lines"]

_SETS = {2: "pairs", 3: "threes", 4: "fours"}


def area_lines(reach: AreaReach, *, width: int) -> Iterator[str]:
    """Yield the lines of a plan judged, for a terminal of so many columns."""
    yield from _table(reach, width)
    for text in (*_walks(reach), *_placing(reach), *_near(reach), *_strong(reach)):
        yield from wrapped(one_line(text), width, first="  - ")


def _table(reach: AreaReach, width: int) -> Iterator[str]:
    left, low, right, high = reach.area.box_m
    label = max(5, *(len(one.facts.link.id) for one in reach.judged)) if reach.judged else 5
    room = max(width - label - 57, 8)
    yield f"On the plan ({right - left:g} x {high - low:g} m), each link at the worst point of its zone:"
    yield f"{'Label':<{label}}  {'Zone':<{room}} {'at [x, y] m':>15} {'over, dB':>9} {'dropouts':>12} {'enough in':>10}"
    for one in reach.judged:
        zone = reach.area.zone(one.zone)
        name = padded(cut(one_line("the whole area" if zone is None else zone.name), room), room)
        yield f"{one.facts.link.id:<{label}}  {name} {_figures(one)}"
    yield ""
    minutes = reach.every_s / 60
    counted = counted_words(audible_of(one.facts.link.radio) for one in reach.judged)
    yield from wrapped(
        f"Over: what the margin has over what fading asks for with no more than one audible dropout in {minutes:g} min "
        "of walking there. Dropouts: audible ones while somebody walks there. Enough in: the part of the zone where "
        f"over is at least 0 dB. {counted}",
        width,
    )


def _figures(one: Judged) -> str:
    if one.worst is None:
        return f"{'?':>15} {'?':>9} {'?':>12} {'?':>10}"
    x, y = one.worst.at_m
    share = "?" if one.enough is None else f"{int(one.enough * 100)} %"
    return f"{f'[{x:.1f}, {y:.1f}]':>15} {one.worst.reserve_db:>+9.1f} {_often(one.worst):>12} {share:>10}"


def _often(point: Point) -> str:
    """Return how often dropouts are heard, short enough for a column."""
    per_min = point.dropouts_per_min
    if per_min is None:
        return "mostly gone"
    if per_min >= 1:
        return f"{per_min:.0f} a min" if per_min >= 100 else f"{per_min:.2g} a min"
    if per_min * 120 >= 1:
        return f"1 in {1 / per_min:.0f} min"
    return f"1 in {1 / per_min / 60:.0f} h" if per_min * 6000 >= 1 else "< 1 in 100 h"


def _walks(reach: AreaReach) -> Iterator[str]:
    for walk in reach.area.walks:
        lows = [(point, one) for one in reach.judged for way, point in one.walks if way.id == walk.id]
        if lows:
            point, one = min(lows, key=lambda low: low[0].reserve_db)
            x, y = point.at_m
            yield (
                f"Along {walk.name} the lowest is {one.facts.link.name} at [{x:.1f}, {y:.1f}] m: "
                f"{_over(point.reserve_db)} what it needs."
            )
    kept = [one for one in reach.judged if one.kept is not None]
    if kept:
        least = min(kept, key=lambda one: one.kept if one.kept is not None else 1.0)
        assert least.kept is not None
        yield (
            f"Levels scatter: {least.facts.link.name} is to be expected to have enough in {int(least.kept * 100)} % "
            "of its zone."
        )


def _over(reserve_db: float) -> str:
    return f"{reserve_db:.0f} dB over" if reserve_db >= 0 else f"{-reserve_db:.0f} dB short of"


def _placing(reach: AreaReach) -> Iterator[str]:
    for group in _groups(reach.placing):
        said = " ".join(f"{_best(one)}." for one in group)
        now = "" if group[0].now_db is None else f" As antennas stand now: {group[0].now_db:+.0f} dB."
        yield f"{_for_whom(group[0], reach)}. {said}{now}"
    if reach.apart is not None:
        apart = reach.apart
        yield (
            f"Two antennas {APART_M:g} m apart at {apart.spot}: {apart.two.reserve_db:+.0f} dB at the worst point, "
            f"where one alone has {apart.one.reserve_db:+.0f} dB."
        )


def _groups(placing: Sequence[Placing]) -> list[list[Placing]]:
    """Return rankings for the same links together, in their order; what says the same as one before it is left out."""
    groups: dict[tuple[bool, tuple[str | None, ...]], list[Placing]] = {}
    for one in placing:
        groups.setdefault((one.inward, one.zones), []).append(one)
    told: dict[object, list[Placing]] = {}
    for group in groups.values():
        told.setdefault((group[0].inward, tuple((one.antennas, one.best) for one in group)), group)
    return list(told.values())


def _for_whom(one: Placing, reach: AreaReach) -> str:
    what = "Receiving antennas for microphones" if one.inward else "Sending antennas for in-ears"
    zones = [reach.area.zone(zone) for zone in one.zones]
    names = ["the whole area" if zone is None else zone.name for zone in zones]
    return f"{what} in {and_list(names)}{' together' if len(names) > 1 else ''}"


def _best(one: Placing) -> str:
    best = one.best[0]
    has = f"{best.reserve_db:+.0f} dB at the worst point"
    if one.antennas == 1 and one.every:
        return f"With one antenna the best of {one.sets} positions is {best.ids[0]}: {has}"
    spots = " with ".join(best.ids)
    if one.every and one.sets == 1:
        return f"The only choice of {one.antennas} positions is {spots}: {has}"
    if one.every:
        sets = _SETS.get(one.antennas, f"sets of {one.antennas}")
        return f"Of all {one.sets} {sets} of positions the best is {spots}: {has}"
    return f"Found by exchanging one position at a time, and not proven to be the best: {spots}, {has}"


def _near(reach: AreaReach) -> Iterator[str]:
    """Yield for each antenna how near packs may come, and which parts of the plan reach there."""
    for antenna in reach.antennas:
        limits = [one for one in reach.near if one.antenna.id == antenna.id]
        widest = max(limits, key=lambda one: one.radius_m, default=None)
        if widest is None or widest.radius_m < _WORTH_M:
            continue
        point = "its 1 dB point" if widest.stated else "its 1 dB point, 9.6 dB under its intercept point"
        zones = [(reach.area.zone(one.zone), one) for one in limits if one.enters]
        parts = [f"{one.link} in {'the whole area' if zone is None else zone.name}" for zone, one in zones]
        reaches = f"who may come there: {', '.join(parts)}" if parts else "nobody's zone reaches there"
        yield (
            f"Closer than {widest.radius_m:.1f} m to {antenna.name} a pack such as {widest.link} drives {widest.first} "
            f"past {point} ({round(widest.limit_dbm)} dBm at the antenna); {reaches}."
        )


_WORTH_M = 0.3  # a smaller distance to keep is not told


def _strong(reach: AreaReach) -> Iterator[str]:
    for one in reach.strong:
        over_db = one.level_dbm - one.limit_dbm
        if over_db > -_CLOSE_DB:
            word = f"{over_db:.0f} dB over" if over_db >= 0 else f"{-over_db:.0f} dB under"
            yield (
                f"{one.sender.name} brings {one.level_dbm:.0f} dBm to {one.antenna.name}, {word} the level at which "
                "what lies behind it clips."
            )


_CLOSE_DB = 10.0  # under the 1 dB point; what lies farther is not told
