"""Which rules carriers break, each with its reason in words: what it is, what is asked, who is in the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from bandwright.core.bands import occupied
from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.blocks import own_blocks, shut_blocks
from bandwright.core.planning.build import seats_problem
from bandwright.core.planning.carriers import closed_tv, examine_carriers, hears, needed_from_other_hz
from bandwright.core.planning.heard import noise_of
from bandwright.core.planning.places import at_each_place
from bandwright.core.planning.plan import NoiseState, Violation
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.units import unit_violations
from bandwright.core.planning.verify import Hit, examine
from bandwright.core.products import family_named
from bandwright.core.sweep import Sweep
from bandwright.core.words import and_list, antenna_words, sweep_label
from bandwright.units import khz_text, mhz_text

__all__ = ["RULES", "carrier_violations", "check_carriers", "hit_violation", "rule_of"]

RULES = (
    "tuning",
    "hold",
    "permit",
    "time",
    "bandwidth",
    "grid",
    "power",
    "tv",
    "block",
    "other",
    "noise",
    "unmeasured",
)


def check_carriers(
    job: Job, carriers_hz: Mapping[str, int], sweeps: Sequence[Sweep] = (), *, more: Sequence[Link] = ()
) -> tuple[Violation, ...]:
    """Return every rule that these carriers break, by link id. `more` holds links beside the job's (spare carriers).

    Carriers need not lie on any raster; each rule is decided in whole Hz.
    """
    seats = [link for link in (*job.links, *more) if link.id in carriers_hz]
    hz = np.array([carriers_hz[seat.id] for seat in seats], np.int64)
    found = [v for seat in seats for v in carrier_violations(job, seat, carriers_hz[seat.id], sweeps)]
    problem = seats_problem(job, seats)
    f = [*hz.tolist(), *(item.carrier_hz for item in problem.fixed)]
    found.extend(hit_violation(problem, f, hit) for hit in examine(problem, hz).hits)
    found.extend(unit_violations(seats))
    return tuple(found)


def carrier_violations(job: Job, link: Link, carrier_hz: int, sweeps: Sequence[Sweep] = ()) -> tuple[Violation, ...]:
    """Return the rules that one carrier breaks by itself, each with its reason in words.

    A spare carrier breaks a rule at each place where it does; what is the same at all of them is said once.
    """
    there = [(here, examine_carriers(job, here, [carrier_hz], sweeps)) for here in at_each_place(job, link)]
    found = [
        _WORDS[rule](job, here, carrier_hz, sweeps)
        for rule in RULES
        for here, facts in there
        if rule in facts.closed and facts.closed[rule][0]
    ]
    return tuple(dict.fromkeys(found))


def _at(link: Link, carrier_hz: int) -> str:
    return f"{link.id} on {mhz_text(carrier_hz)} MHz"


def _there(job: Job, link: Link, carrier_hz: int) -> str:
    """Return which carrier, and at which place where a spare carrier is judged at one of several."""
    where = f" at {job.place_of(link).name}" if link.spare_at and len(job.places) > 1 else ""
    return f"{_at(link, carrier_hz)}{where}"


def _tuning(_: Job, link: Link, carrier_hz: int, __: Sequence[Sweep]) -> Violation:
    radio = link.radio
    ranges = [
        f"{mhz_text(r.low_hz)} to {mhz_text(r.high_hz)} MHz in steps of {khz_text(r.step_hz)} kHz" for r in radio.tuning
    ]
    if radio.presets:
        near = min(radio.presets, key=lambda preset: abs(preset.carrier_hz - carrier_hz))
        ranges.append(f"{len(radio.presets)} presets, the nearest {near.label} on {mhz_text(near.carrier_hz)} MHz")
    text = f"{_at(link, carrier_hz)}: {radio.name} cannot be set to it; it tunes {'; '.join(ranges) or 'nowhere'}."
    return Violation(rule="tuning", victim=link.id, text=text)


def _hold(_: Job, link: Link, carrier_hz: int, __: Sequence[Sweep]) -> Violation:
    held = mhz_text(link.hold_hz or 0)
    return Violation(rule="hold", victim=link.id, text=f"{_at(link, carrier_hz)}: it is held on {held} MHz.")


def _permit(job: Job, link: Link, carrier_hz: int, _: Sequence[Sweep]) -> Violation:
    place = job.place_of(link)
    windows = [w for p in job.permits if p.place in (None, place.id) for w in p.windows]
    span = occupied(carrier_hz, link.radio.bandwidth_hz)
    nearest_window = min(windows, key=lambda w: max(w.low_hz - span.low_hz, span.high_hz - w.high_hz), default=None)
    hint = f"; the nearest window is {nearest_window}" if nearest_window else "; no permit is for this place"
    text = f"{_there(job, link, carrier_hz)}: no permit covers {span}{hint}."
    return Violation(rule="permit", victim=link.id, text=text)


def _time(job: Job, link: Link, carrier_hz: int, __: Sequence[Sweep]) -> Violation:
    text = f"{_there(job, link, carrier_hz)}: the permit for this carrier is not valid during all its time on air."
    return Violation(rule="time", victim=link.id, text=text)


def _bandwidth(job: Job, link: Link, carrier_hz: int, _: Sequence[Sweep]) -> Violation:
    widest = max((p.max_bandwidth_hz or 0 for p in job.permits), default=0)
    text = (
        f"{_there(job, link, carrier_hz)}: it occupies {khz_text(link.radio.bandwidth_hz)} kHz; "
        f"the permit allows {khz_text(widest)} kHz."
    )
    return Violation(rule="bandwidth", victim=link.id, text=text)


def _grid(job: Job, link: Link, carrier_hz: int, _: Sequence[Sweep]) -> Violation:
    grids = sorted({p.grid_hz for p in job.permits if p.grid_hz is not None})
    steps = ", ".join(khz_text(grid) for grid in grids)
    text = f"{_there(job, link, carrier_hz)}: it is off the permit's grid of {steps} kHz."
    return Violation(rule="grid", victim=link.id, text=text)


def _power(job: Job, link: Link, carrier_hz: int, _: Sequence[Sweep]) -> Violation:
    limits = {
        f"{limit:g} mW {p.max_power.kind.value}"
        for p in job.permits
        if p.max_power is not None and (limit := p.max_power.for_worn(link.worn)) is not None
    }
    powers = [link.power_mw] if link.power_mw is not None else list(link.radio.power_mw)
    kind = link.radio.power_kind.value if link.radio.power_kind else "of an unstated kind"
    given = ", ".join(f"{mw:g}" for mw in powers)
    text = (
        f"{_there(job, link, carrier_hz)}: {given} mW {kind} is more than the permit's {' or '.join(sorted(limits))} "
        f"for a transmitter worn as {link.worn.value}."
    )
    return Violation(rule="power", victim=link.id, text=text)


def _tv(job: Job, link: Link, carrier_hz: int, _: Sequence[Sweep]) -> Violation:
    place = job.place_of(link)
    span = occupied(carrier_hz, link.radio.bandwidth_hz)
    wide = occupied(carrier_hz, link.radio.bandwidth_hz + 2 * place.tv_guard_hz)
    hit = [c for c in closed_tv(place) if c.span.overlaps(wide)]
    labels = " and ".join(c.label for c in hit)
    guard = f" (with a guard of {khz_text(place.tv_guard_hz)} kHz)" if place.tv_guard_hz else ""
    text = f"{_there(job, link, carrier_hz)}: its {span} lies in closed TV channel {labels}{guard}."
    return Violation(rule="tv", victim=link.id, sources=tuple(c.label for c in hit), text=text)


def _block(job: Job, link: Link, carrier_hz: int, _: Sequence[Sweep]) -> Violation:
    span = occupied(carrier_hz, link.radio.bandwidth_hz)
    blocks = [block for block in shut_blocks(job, link) if any(window.overlaps(span) for window in block.windows)]
    if blocks:
        text = f"lies in block {blocks[0].id}, which is kept for {and_list(blocks[0].names)}"
    else:
        blocks = list(own_blocks(job, link))
        windows = and_list([str(window) for block in blocks for window in block.windows])
        text = f"lies outside {windows}, where {and_list([name for b in blocks for name in b.names])} must be"
    ids = tuple(block.id for block in blocks)
    text = f"{_there(job, link, carrier_hz)}: its {span} {text}."
    return Violation(rule="block", victim=link.id, sources=ids, text=text)


def _other(job: Job, link: Link, carrier_hz: int, _: Sequence[Sweep]) -> Violation:
    close = [
        other
        for other in job.others
        if hears(job, link, other) and abs(carrier_hz - other.carrier_hz) < needed_from_other_hz(link, other)
    ]
    other = min(close, key=lambda item: abs(carrier_hz - item.carrier_hz))
    offset, needed = abs(carrier_hz - other.carrier_hz), needed_from_other_hz(link, other)
    text = (
        f"{_there(job, link, carrier_hz)}: {other.name} on {mhz_text(other.carrier_hz)} MHz is {khz_text(offset)} kHz "
        f"away; at least {khz_text(needed)} kHz is asked."
    )
    return Violation(rule="other", victim=link.id, sources=(other.id,), offset_hz=offset, required_hz=needed, text=text)


def _noise(job: Job, link: Link, carrier_hz: int, sweeps: Sequence[Sweep]) -> Violation:
    noise = noise_of(job, link, carrier_hz, sweeps)
    above_db, limit_db = noise.above_floor_db or 0.0, job.wishes.close_above_floor_db
    by_level = antenna_words(noise, link.radio.name) if above_db <= limit_db else ""
    text = (
        f"{_there(job, link, carrier_hz)}: closed by {sweep_label(noise.sweep or 'a sweep', noise.sweep_started)}, "
        f"which shows {noise.value:.0f} {noise.unit} there, {above_db:.0f} dB above the floor; "
        f"{by_level or f'more than {limit_db:g} dB closes a carrier'}."
    )
    return Violation(rule="noise", victim=link.id, text=text)


def _unmeasured(job: Job, link: Link, carrier_hz: int, sweeps: Sequence[Sweep]) -> Violation:
    noise = noise_of(job, link, carrier_hz, sweeps)
    more = antenna_words(noise, link.radio.name) if noise.state is NoiseState.SHALLOW else ""
    state = f"{noise.state.value}{f' ({more})' if more else ''}"
    text = f"{_there(job, link, carrier_hz)}: {state}, and this job closes what is not measured."
    return Violation(rule="unmeasured", victim=link.id, text=text)


_WORDS: dict[str, Callable[[Job, Link, int, Sequence[Sweep]], Violation]] = {
    "tuning": _tuning,
    "hold": _hold,
    "permit": _permit,
    "time": _time,
    "bandwidth": _bandwidth,
    "grid": _grid,
    "power": _power,
    "tv": _tv,
    "block": _block,
    "other": _other,
    "noise": _noise,
    "unmeasured": _unmeasured,
}


def rule_of(hit: Hit) -> str:
    """Return the word for the rule that a hit breaks: product, unit or spacing."""
    if hit.family is not None:
        return "product"
    return "unit" if hit.too_far else "spacing"


def hit_violation(problem: Problem, carriers_hz: Sequence[int], hit: Hit) -> Violation:
    """Return a broken rule between members as a violation in words."""
    ids = problem.ids
    victim, sources = ids[hit.victim], tuple(ids[m] for m in hit.members)
    here = f"{victim} on {mhz_text(carriers_hz[hit.victim])} MHz"
    offset, asked = khz_text(hit.offset_hz), khz_text(hit.required_hz)
    if hit.family is not None:
        product = f"{mhz_text(hit.product_hz or 0)} MHz"
        what = f"{family_named(hit.family).words(sources)} falls on {product}"
        text = f"{here}: {what}, {offset} kHz away; at least {asked} kHz is asked."
    elif hit.too_far:
        text = f"{here}: {sources[0]} is {offset} kHz away; the front end they share passes {asked} kHz."
    else:
        there = mhz_text(carriers_hz[hit.members[0]])
        text = f"{here}: {sources[0]} on {there} MHz is {offset} kHz away; at least {asked} kHz is asked."
    return Violation(
        rule=rule_of(hit),
        victim=victim,
        sources=sources,
        family=hit.family,
        product_hz=hit.product_hz,
        offset_hz=hit.offset_hz,
        required_hz=hit.required_hz,
        text=text,
    )
