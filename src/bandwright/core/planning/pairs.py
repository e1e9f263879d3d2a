"""What two links ask of each other's carriers: the least offset and why, and the window that receivers share.

Of several `[[pair]]` rules that fit two links the most specific one counts: a rule for the same wearer or the same rack
goes before one for anywhere; then the better named one (a link before a role, a role before a variant, a variant before
a radio type, the better named side first); of equals the larger spacing. The order of the rules never matters.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from bandwright.core.job import Job, PairRule
from bandwright.core.kit import Link
from bandwright.core.planning.earshot import hears
from bandwright.core.when import share_a_moment
from bandwright.units import khz_text

__all__ = ["APART_HZ", "Asked", "asked_of", "far_matrix", "near_matrix", "rank_of", "rule_between", "spacing_hz"]

APART_HZ = 4_000_000  # a lead and its backup; common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The least offset that two links ask of each other, and what asks for it in words."""

    spacing_hz: int
    by: str


_NOTHING = Asked(spacing_hz=0, by="nothing")


def spacing_hz(job: Job, one: Link, two: Link) -> int:
    """Return the spacing two links ask of each other, 0 where they never meet."""
    return asked_of(job, one, two).spacing_hz


def asked_of(job: Job, one: Link, two: Link) -> Asked:
    """Return what two links ask of each other.

    The larger of what their types ask, or what a `[[pair]]` rule says by name; never less than half the sum of their
    bandwidths. A lead and its backup (`apart_from`) lie 4 MHz apart.
    """
    if not hears(job, one, two):
        return _NOTHING
    wider = max(one, two, key=lambda link: link.radio.spacing_hz).radio
    asked = Asked(spacing_hz=wider.spacing_hz, by=f"the carrier spacing of {wider.name}")
    rule = rule_between(job, one, two)
    if rule is not None:
        asked = Asked(spacing_hz=rule.spacing_hz, by=f"pair rule {rule.id}")
    if two.id in one.apart_from or one.id in two.apart_from:
        backup = Asked(spacing_hz=APART_HZ, by=f"apart_from: {khz_text(APART_HZ)} kHz between a lead and its backup")
        asked = max(asked, backup, key=lambda item: item.spacing_hz)
    half = -(-(one.radio.bandwidth_hz + two.radio.bandwidth_hz) // 2)
    return asked if asked.spacing_hz >= half else Asked(spacing_hz=half, by="half the sum of their bandwidths")


# --------------------------------------------------------------------------------------------------------- pair rules


def rank_of(name: str, link: Link) -> int:
    """Return how closely a name names a link: 4 its id, 3 its role, 2 its variant, 1 its radio type, 0 not at all."""
    base, _, variant = link.radio.id.partition("/")
    names = (link.id, link.role, link.radio.id if variant else None, base)
    return next((4 - place for place, known in enumerate(names) if name == known), 0)


def rule_between(job: Job, one: Link, two: Link) -> PairRule | None:
    """Return the most specific `[[pair]]` rule that fits two links, or None."""
    fitting = [(fit, rule) for rule in job.pairs if (fit := _fit(job, rule, one, two)) is not None]
    return max(fitting, key=lambda item: item[0])[1] if fitting else None


def _fit(job: Job, rule: PairRule, one: Link, two: Link) -> tuple[int, ...] | None:
    """Return how specific a rule is for two links, as numbers to compare; None where it does not fit them."""
    ways = [(rank_of(rule.one, a), rank_of(rule.two, b)) for a, b in ((one, two), (two, one))]
    named = [sorted(ranks, reverse=True) for ranks in ways if all(ranks)]
    if not named or not _SAME[rule.where](job, one, two):
        return None
    return (int(rule.where != "anywhere"), *max(named), rule.spacing_hz)


def _anywhere(_: Job, __: Link, ___: Link) -> bool:
    return True


def _same_wearer(_: Job, one: Link, two: Link) -> bool:
    return one.wearer is not None and one.wearer == two.wearer


def _same_rack(job: Job, one: Link, two: Link) -> bool:
    rack = _rack(job, one)
    return rack is not None and rack == _rack(job, two)


def _rack(job: Job, link: Link) -> str | None:
    """Return the rack a link says it is in, or that of its unit."""
    return link.rack or next((unit.rack for unit in job.units if unit.id == link.unit), None)


_SAME: dict[str, Callable[[Job, Link, Link], bool]] = {
    "anywhere": _anywhere,
    "same-wearer": _same_wearer,
    "same-rack": _same_rack,
}


# ----------------------------------------------------------------------------------------------------------- matrices


def near_matrix(job: Job, seats: Sequence[Link], fixed: int) -> npt.NDArray[np.int64]:
    """Return the spacing asked between any two seats, with rows of 0 for `fixed` given carriers after them.

    Other users' blocked width is a matter of candidates. Links that no rule tells apart are asked about once.
    """
    kinds: dict[tuple[object, ...], list[int]] = {}
    for index, key in enumerate(_kinds(job, seats)):
        kinds.setdefault(key, []).append(index)
    kind_of = np.zeros(len(seats), np.int64)
    asked = np.zeros((len(kinds), len(kinds)), np.int64)
    for i, ours in enumerate(kinds.values()):
        kind_of[ours] = i
        for j, theirs in zip(range(i + 1), kinds.values(), strict=False):
            asked[i, j] = asked[j, i] = spacing_hz(job, seats[ours[-1]], seats[theirs[0]])  # two links, not one twice
    near = np.zeros((len(seats) + fixed, len(seats) + fixed), np.int64)
    near[: len(seats), : len(seats)] = asked[np.ix_(kind_of, kind_of)]
    np.fill_diagonal(near, 0)
    return near


def _kinds(job: Job, seats: Sequence[Link]) -> list[tuple[object, ...]]:
    """Return for each seat all that spacing may depend on. What one seat alone has and no rule names is left out."""
    named = {name for rule in job.pairs for name in (rule.one, rule.two)}
    apart = {name for seat in seats for name in (seat.apart_from and (seat.id, *seat.apart_from))}
    wearers = _shared([seat.wearer for seat in seats]) if any(r.where == "same-wearer" for r in job.pairs) else set()
    racks = _shared([_rack(job, seat) for seat in seats]) if any(r.where == "same-rack" for r in job.pairs) else set()
    return [
        (
            seat.radio.id,
            tuple(place.id for place in job.places_of(seat)),
            bool(seat.spare_at),
            seat.earshots,
            seat.on_air,
            seat.id if seat.id in named | apart else None,
            seat.role if seat.role in named else None,
            seat.wearer if seat.wearer in wearers else None,
            _rack(job, seat) if racks and _rack(job, seat) in racks else None,
        )
        for seat in seats
    ]


def _shared(names: Sequence[str | None]) -> set[str]:
    seen: set[str] = set()
    twice: set[str] = set()
    for name in names:
        if name is not None:
            (twice if name in seen else seen).add(name)
    return twice


def far_matrix(seats: Sequence[Link], fixed: int) -> npt.NDArray[np.int64]:
    """Return the largest offset of links on the air together through one unit whose channels share a front-end window.

    The smaller window where their types differ; 0 where nothing limits them.
    """
    far = np.zeros((len(seats) + fixed, len(seats) + fixed), np.int64)
    of_unit: dict[str, list[int]] = {}
    for index, seat in enumerate(seats):
        if seat.unit is not None:
            of_unit.setdefault(seat.unit, []).append(index)
    for members in of_unit.values():
        for i, j in combinations(members, 2):
            one, two = seats[i], seats[j]
            windows = [w for link in (one, two) if (w := link.radio.shared_window_hz) is not None]
            if windows and share_a_moment(one.on_air, two.on_air):
                far[i, j] = far[j, i] = min(windows)
    return far
