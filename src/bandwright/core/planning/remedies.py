"""What would have to change for a rule to give way, in a few words."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator

from bandwright.core.bands import occupied
from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.carriers import tunable_carriers
from bandwright.core.planning.plan import Violation
from bandwright.core.words import and_list, or_list
from bandwright.units import khz_text, mhz_text

__all__ = ["is_movable", "remedy_of"]


def remedy_of(job: Job, link: Link, carrier_hz: int, violation: Violation) -> str:
    """Return what would have to change so that a carrier no longer breaks this rule."""
    return _REMEDIES[violation.rule](job, link, carrier_hz, violation)


def _permit(_: Job, link: Link, hz: int, __: Violation) -> str:
    return f"a permit that covers {occupied(hz, link.radio.bandwidth_hz)}"


def _time(_: Job, __: Link, ___: int, ____: Violation) -> str:
    return "a permit that counts during all its time on air"


def _bandwidth(_: Job, link: Link, __: int, ___: Violation) -> str:
    return f"a permit for {khz_text(link.radio.bandwidth_hz)} kHz, or a narrower radio type"


def _grid(job: Job, link: Link, hz: int, _: Violation) -> str:
    grids = [(p.grid_hz, p.grid_anchor_hz) for p in job.permits if p.grid_hz is not None]
    on_grid = {anchor + (hz - anchor) // grid * grid + k * grid for grid, anchor in grids for k in (0, 1)}
    return f"a carrier on the grid: {_nearest(sorted(on_grid), hz)}"


def _power(_: Job, __: Link, ___: int, ____: Violation) -> str:
    return "a setting within the permit, or a permit for more power"


def _tv(_: Job, __: Link, ___: int, violation: Violation) -> str:
    return f"TV channel {' and '.join(violation.sources)} off the air, and out of tv_closed"


def _tuning(_: Job, link: Link, hz: int, __: Violation) -> str:
    return f"a carrier it can be set to: {_nearest(tunable_carriers(link.radio).tolist(), hz)}"


def _hold(_: Job, __: Link, ___: int, ____: Violation) -> str:
    return "its hold_mhz taken away"


def _block(_: Job, __: Link, ___: int, violation: Violation) -> str:
    return f"block {or_list(violation.sources)} changed"


def _other(job: Job, _: Link, __: int, violation: Violation) -> str:
    names = [other.name for other in job.others if other.id in violation.sources]
    return f"{' and '.join(names)} off the air, or a smaller keep_away_khz agreed with them"


def _noise(_: Job, __: Link, ___: int, ____: Violation) -> str:
    return "whoever is there off the air, and a new sweep that shows it"


def _unmeasured(_: Job, __: Link, ___: int, ____: Violation) -> str:
    return "a sweep that measures it"


def _unit(_: Job, link: Link, __: int, violation: Violation) -> str:
    if violation.offset_hz is None:  # apart_from, on one box
        return f"another unit for {or_list([link.id, *violation.sources])}"
    return f"{or_list(violation.sources)} moved, or received by another box"


def _among_links(job: Job, link: Link, _: int, violation: Violation) -> str:
    links = {item.id: item for item in job.links}
    others = {other.id for other in job.others}
    ids = [name for name in dict.fromkeys((violation.victim, *violation.sources)) if name != link.id]
    movable = [name for name in ids if name not in others and (name not in links or is_movable(links[name]))]
    ways = [f"{or_list(movable)} moved"] if movable else []
    ways += [f"{name} off the air" for name in ids if name in others]
    return " or ".join(ways) or f"{and_list(ids)} moved, though held or never to be moved"


def is_movable(link: Link) -> bool:
    """Whether a link's carrier may change at all."""
    return link.hold_hz is None and link.movable != "never"


def _nearest(carriers_hz: list[int], hz: int) -> str:
    """Return the carriers on both sides of a frequency."""
    at = bisect_left(carriers_hz, hz)
    return " or ".join(_sides(carriers_hz, at)) or "none is known"


def _sides(carriers_hz: list[int], at: int) -> Iterator[str]:
    for place in (at - 1, at):
        if 0 <= place < len(carriers_hz):
            yield f"{mhz_text(carriers_hz[place])} MHz"


_REMEDIES: dict[str, Callable[[Job, Link, int, Violation], str]] = {
    "permit": _permit,
    "time": _time,
    "bandwidth": _bandwidth,
    "grid": _grid,
    "power": _power,
    "tv": _tv,
    "tuning": _tuning,
    "hold": _hold,
    "block": _block,
    "other": _other,
    "noise": _noise,
    "unmeasured": _unmeasured,
    "unit": _unit,
    "spacing": _among_links,
    "product": _among_links,
}
