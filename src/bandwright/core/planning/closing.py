"""Why a link has no carrier open to it at all: the one rule that decides, or what each leaves to the next."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandwright.core.planning.carriers import CarrierFacts
from bandwright.core.planning.plan import Reason
from bandwright.core.words import and_list
from bandwright.units import mhz_text

__all__ = ["closing_reasons"]

Flags = npt.NDArray[np.bool_]

# The law first; then what no move of ours can change.
_ORDER = (
    "permit", "time", "bandwidth", "grid", "power", "tv", "tuning", "hold", "block", "other", "noise", "unmeasured",
)  # fmt: skip

# What a rule says that closes everything by itself; {all} is what the radio type can be set to.
_DECIDES = {
    "tuning": "It can be set to none of the carriers {all}.",
    "hold": "It is held on none of the carriers it can be set to ({all}).",
    "permit": "No permit covers what it can be set to ({all}).",
    "time": "No permit for what it can be set to ({all}) is valid during all its time on air.",
    "bandwidth": "It is wider than the permits for what it can be set to ({all}) allow.",
    "grid": "Nothing that it can be set to ({all}) lies on the grid of a permit.",
    "power": "The permits for what it can be set to ({all}) allow less power than its power_mw.",
    "tv": "All that it can be set to ({all}) lies in closed TV channels.",
    "block": "All that it can be set to ({all}) lies outside its block, or in one kept for others.",
    "other": "All that it can be set to ({all}) is too near to other users.",
    "noise": "All that it can be set to ({all}) is noisy{sweeps}.",
    "unmeasured": "Nothing that it can be set to ({all}) was measured, and this job closes what is not measured.",
}

# What a rule closes of the carriers that those before it left open: the words for one and for several.
_CLOSES = {
    "tuning": ("is out of its reach", "are out of its reach"),
    "hold": ("is not the held one", "are not the held one"),
    "permit": ("is covered by no permit", "are covered by no permit"),
    "time": ("is not permitted at that time", "are not permitted at that time"),
    "bandwidth": ("lies where no permit is wide enough", "lie where no permit is wide enough"),
    "grid": ("is off the permit's grid", "are off the permit's grid"),
    "power": (
        "lies where the permit allows less power than its power_mw",
        "lie where the permit allows less power than its power_mw",
    ),
    "tv": ("lies in a closed TV channel", "lie in closed TV channels"),
    "block": ("lies outside its block, or in one kept for others", "lie outside its block, or in one kept for others"),
    "other": ("is too near to other users", "are too near to other users"),
    "noise": ("is noisy{sweeps}", "are noisy{sweeps}"),
    "unmeasured": ("was not measured", "were not measured"),
}


def closing_reasons(facts: CarrierFacts) -> tuple[Reason, ...]:
    """Return the rule that closes everything a radio type can be set to, or how several share it, the law first."""
    total = len(facts.carriers_hz)
    if not total:
        return (Reason(code="tuning", text="Its radio type can be set to no carrier at all."),)
    everything = _range(facts)
    rules = [rule for rule in _ORDER if rule in facts.closed]
    for rule in rules:
        if facts.closed[rule].all():
            text = _DECIDES[rule].format(all=everything, sweeps=_closed_by(facts, facts.closed[rule]))
            return (Reason(code=rule, text=text),)
    left = np.ones(total, np.bool_)
    found: list[Reason] = []
    for rule in rules:
        count = int((facts.closed[rule] & left).sum())
        if count:
            text = _shares(rule, count, int(left.sum()), everything, first=not found)
            found.append(Reason(code=rule, text=text.format(sweeps=_closed_by(facts, facts.closed[rule] & left))))
        left &= ~facts.closed[rule]
    return tuple(found)


def _shares(rule: str, count: int, left: int, everything: str, *, first: bool) -> str:
    one, several = _CLOSES[rule]
    words = one if count == 1 else several
    if first:
        return f"Of the {left} carriers it can be set to ({everything}), {count} {words}."
    whole = "The other one" if left == 1 else f"The other {left}"
    return f"{whole} {words}." if count == left else f"Of the other {left}, {count} {words}."


def _closed_by(facts: CarrierFacts, closed: Flags) -> str:
    """Return the sweeps that closed some carriers, with how many each where there are several, the most first."""
    numbers, counts = np.unique(facts.closed_by[closed & (facts.closed_by >= 0)], return_counts=True)
    order = sorted(zip(counts.tolist(), numbers.tolist(), strict=True), key=lambda pair: (-pair[0], pair[1]))
    if len(order) == 1:
        return f" (closed by {facts.sweeps[order[0][1]]})"
    return f" (closed by {and_list([f'{facts.sweeps[k]}: {count}' for count, k in order])})" if order else ""


def _range(facts: CarrierFacts) -> str:
    low, high = int(facts.carriers_hz.min()), int(facts.carriers_hz.max())
    return f"{mhz_text(low)} MHz" if low == high else f"{mhz_text(low)}-{mhz_text(high)} MHz"
