"""How good a plan is, in words: what is proven about its number of links, and which wishes cannot hold together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bandwright.core.kit import Link, RadioType
from bandwright.core.planning.bounds import Bound as Ceiling
from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.build import Compiled
from bandwright.core.planning.plan import Bound, BoundStatus, Conflict
from bandwright.core.words import and_list
from bandwright.units import khz_text

__all__ = ["conflict_of", "links_of", "plan_bound"]

_NAMED = 6  # links that are named before the rest is counted
_WINDOWS = 3


def links_of(compiled: Compiled) -> tuple[int, ...]:
    """Return the seats that are links, not spare carriers."""
    return tuple(seat for seat, spare in enumerate(compiled.spare) if not spare)


def plan_bound(compiled: Compiled, carriers_hz: Sequence[int], ceiling: Ceiling | None = None) -> Bound:
    """Return how good the number of placed links is.

    `ceiling` is an upper bound for the links that somebody has worked out already; it counts where it is no higher.
    """
    links = links_of(compiled)
    found = sum(carriers_hz[link] >= 0 for link in links)
    about = "links placed"
    if found == len(links):
        return Bound(about=about, status=BoundStatus.PROVEN, found=found, upper_bound=found, method="all are placed")
    counted = upper_bound(compiled.problem, links)
    lowest = counted if ceiling is None or counted.upper_bound < ceiling.upper_bound else ceiling
    status = BoundStatus.PROVEN if found == lowest.upper_bound else BoundStatus.BOUNDED
    return Bound(about=about, status=status, found=found, upper_bound=lowest.upper_bound, method=lowest.method)


def conflict_of(compiled: Compiled, members: Sequence[int], *, proven: bool, remedies: Sequence[str]) -> Conflict:
    """Return wishes that cannot hold together, as a sentence: who, where, under which rules, and what would do."""
    seats = [compiled.seats[member] for member in members]
    certain = "(proven)" if proven else "(suspected: none was found, none is ruled out)"
    verb = "cannot share" if proven else "found no room together in"
    fewer = {1: "", 2: "; either of them can"}.get(len(seats), f"; any {len(seats) - 1} of them can")
    if len(seats) == 1:
        verb = "cannot be placed in" if proven else "found no place in"
    text = f"{_who(compiled, members)} {verb} {_where(compiled, members)}{_why(compiled, members)} {certain}{fewer}."
    if remedies:
        text = f"{text} {'All of them fit' if len(seats) > 1 else 'It fits'} with {'; or with '.join(remedies)}."
    return Conflict(links=tuple(seat.id for seat in seats), proven=proven, remedies=tuple(remedies), text=text)


def _who(compiled: Compiled, members: Sequence[int]) -> str:
    names = [compiled.seats[member].id for member in members]
    kinds = Counter(compiled.seats[member].radio.id for member in members)
    if len(names) == 1:
        return f"{names[0]} ({next(iter(kinds))})"
    listed = and_list(names) if len(names) <= _NAMED else f"{', '.join(names[: _NAMED - 1])} and others"
    what = "carriers" if any(compiled.spare[member] for member in members) else "links"
    of_what = f" of {next(iter(kinds))}" if len(kinds) == 1 else ""
    split = "" if len(kinds) == 1 else f"{and_list([f'{count} of {kind}' for kind, count in kinds.items()])}: "
    return f"These {len(names)} {what}{of_what} ({split}{listed})"


def _where(compiled: Compiled, members: Sequence[int]) -> str:
    """Return the permit windows in which any of them has a carrier open to it."""
    carriers = _open(compiled, members)
    spans = {window for permit in compiled.job.permits for window in permit.windows}
    windows = [span for span in sorted(spans) if np.any((carriers >= span.low_hz) & (carriers <= span.high_hz))]
    if not windows:
        return "the permits"
    return and_list([str(window) for window in windows]) if len(windows) <= _WINDOWS else f"{len(windows)} windows"


def _open(compiled: Compiled, members: Sequence[int]) -> npt.NDArray[np.int64]:
    """Return the carriers in Hz that are open to any of them."""
    facts = [compiled.facts[choice] for choice in {compiled.choice_of[member] for member in members}]
    return np.concatenate([one.carriers_hz[one.open] for one in facts])


def _why(compiled: Compiled, members: Sequence[int]) -> str:
    if not _open(compiled, members).size:
        return ": no carrier is open to it" if len(members) == 1 else ": no carrier is open to them"
    return f" {_rules([compiled.seats[member] for member in members])}"


def _rules(seats: Sequence[Link]) -> str:
    radios = {seat.radio.id: seat.radio for seat in seats}
    if len(radios) > 1:
        return "under the rules of their types"
    return f"under {_asks(next(iter(radios.values())))}"


def _asks(radio: RadioType) -> str:
    clearances = [f"{family} {khz_text(hz)} kHz" for family, hz in radio.clearance_hz]
    return and_list([f"spacing {khz_text(radio.spacing_hz)} kHz", *clearances])
