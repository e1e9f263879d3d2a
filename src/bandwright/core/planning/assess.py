"""From carriers to evidence: what each link's carrier rests on, what is broken, and the words for it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bandwright.core.bands import occupied
from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.multiplex import TvVerdict, tv_findings
from bandwright.core.permits import PermitState
from bandwright.core.planning.breaches import RULES, carrier_violations
from bandwright.core.planning.build import Compiled, seats_problem
from bandwright.core.planning.carriers import (
    CarrierFacts,
    closed_tv,
    examine_carriers,
    hears,
    needed_from_other_hz,
    noise_of,
    permit_power_mw,
)
from bandwright.core.planning.plan import (
    Bound,
    BoundStatus,
    Closest,
    NoiseState,
    PlacedLink,
    Plan,
    Reason,
    Spare,
    Status,
    Unplaced,
    Warn,
)
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import Nearest, examine, nearest
from bandwright.core.sweep import Sweep
from bandwright.core.words import and_list, label_list

__all__ = ["assess_plan", "closest_of", "own_transmitters_unknown", "taken_tv"]

_THIN = 4  # a slack under 1/4 of what is asked is a caution
_STRONG_TV_GUARD_HZ = 300_000
_PROBED = 400  # candidates looked at, at most, to say why a link found no room

_Crowded = dict[tuple[object, ...], tuple[Reason, ...]]


def closest_of(problem: Problem, found: Nearest) -> Closest:
    """Return the verifier's nearest rule as evidence."""
    ids = problem.ids
    return Closest(
        rule="spacing" if found.family is None else "product",
        family=found.family,
        sources=tuple(ids[m] for m in found.members),
        product_hz=found.product_hz,
        offset_hz=found.offset_hz,
        required_hz=found.required_hz,
    )


def _closest(job: Job, seats: Sequence[Link], carriers_hz: Sequence[int]) -> dict[str, Closest]:
    """Return for each placed seat what leaves it the smallest slack, other users' blocked width included."""
    problem = seats_problem(job, seats)
    found = nearest(problem, np.array(carriers_hz, np.int64))
    closest = {seats[index].id: closest_of(problem, item) for index, item in found.items()}
    for seat, hz in zip(seats, carriers_hz, strict=True):
        for other in job.others:
            if not hears(job, seat, other):
                continue
            candidate = Closest(
                rule="other",
                family=None,
                sources=(other.id,),
                product_hz=None,
                offset_hz=abs(hz - other.carrier_hz),
                required_hz=needed_from_other_hz(seat, other),
            )
            if seat.id not in closest or candidate.slack_hz < closest[seat.id].slack_hz:
                closest[seat.id] = candidate
    return closest


def assess_plan(
    compiled: Compiled,
    carriers_hz: Sequence[int],
    sweeps: Sequence[Sweep] = (),
    *,
    number: int = 1,
    warnings: Sequence[Warn] = (),
    taken: Sequence[str] = (),
    method: str = "tabu search on count arrays",
) -> Plan:
    """Return the plan of these carriers (-1 = not placed) with the evidence for each.

    `taken` holds the TV channels on which the sweeps show a multiplex (`taken_tv`).
    """
    job = compiled.job
    placed = [i for i, hz in enumerate(carriers_hz) if hz >= 0]
    seats = [compiled.seats[i] for i in placed]
    hz = [carriers_hz[i] for i in placed]
    closest = _closest(job, seats, hz)
    links, spares = [], []
    for index, seat in zip(placed, seats, strict=True):
        if compiled.spare[index]:
            spares.append(_spare(job, seat, carriers_hz[index], sweeps))
        else:
            links.append(_placed(job, seat, carriers_hz[index], sweeps, closest.get(seat.id)))
    crowded: _Crowded = {}
    unplaced = tuple(
        Unplaced(id=seat.id, name=seat.name, reasons=_reasons(compiled, i, carriers_hz, crowded))
        for i, seat in enumerate(compiled.seats)
        if carriers_hz[i] < 0
    )
    return Plan(
        number=number,
        links=tuple(links),
        spares=tuple(spares),
        unplaced=unplaced,
        bound=_bound(compiled, carriers_hz, method),
        warnings=(*warnings, *_warnings(job, sweeps, links, taken)),
    )


def _placed(job: Job, seat: Link, hz: int, sweeps: Sequence[Sweep], closest: Closest | None) -> PlacedLink:
    facts = examine_carriers(job, seat, [hz], sweeps)
    noise = noise_of(job, seat, hz, sweeps)
    permit = job.permits[int(facts.permit[0])] if facts.permit[0] >= 0 else None
    power, shown = permit_power_mw(seat, permit) if permit else (seat.power_mw, None)
    cautions = []
    if closest is not None and closest.slack_hz * _THIN < closest.required_hz:
        cautions.append("thin-slack")
    if noise.state is NoiseState.UNMEASURED:
        cautions.append("unmeasured")
    elif noise.state is NoiseState.SHALLOW:
        cautions.append("not-deep-enough")
    if permit is not None and permit.state is PermitState.APPLIED:
        cautions.append("permit-only-applied-for")
    if shown is None:
        cautions.append("power-not-shown-to-be-within")
    blocked = not bool(facts.open[0])
    return PlacedLink(
        id=seat.id,
        name=seat.name,
        radio=seat.radio.id,
        carrier_hz=hz,
        status=Status.BLOCKED if blocked else Status.CAUTION if cautions else Status.CLEAR,
        cautions=tuple(cautions),
        permit=permit.id if permit else None,
        tv_channel=_tv_label(job, seat, hz),
        power_mw=power,
        preset=_preset(seat, hz),
        noise=noise,
        closest=closest,
    )


def _spare(job: Job, seat: Link, hz: int, sweeps: Sequence[Sweep]) -> Spare:
    facts = examine_carriers(job, seat, [hz], sweeps)
    return Spare(
        id=seat.id,
        radio=seat.radio.id,
        carrier_hz=hz,
        preset=_preset(seat, hz),
        tv_channel=_tv_label(job, seat, hz),
        permit=job.permits[int(facts.permit[0])].id if facts.permit[0] >= 0 else None,
        noise=noise_of(job, seat, hz, sweeps),
    )


def _preset(seat: Link, hz: int) -> str | None:
    preset = seat.radio.preset_at(hz)
    return preset.label if preset else None


def _tv_label(job: Job, seat: Link, hz: int) -> str | None:
    raster = job.place_of(seat).raster
    channel = raster.at(hz) if raster else None
    return channel.label if channel else None


def _bound(compiled: Compiled, carriers_hz: Sequence[int], method: str) -> Bound:
    """Return how good the number of placed links is: all of them, or within those that could have one at all."""
    links = [i for i, spare in enumerate(compiled.spare) if not spare]
    found = sum(carriers_hz[i] >= 0 for i in links)
    could = sum(bool(compiled.facts_of(i).open.any()) for i in links)
    about = "links placed"
    if found == len(links):
        return Bound(about=about, status=BoundStatus.PROVEN, found=found, upper_bound=found, method="all are placed")
    if found == could:
        why = "no other link has a carrier open to it"
        return Bound(about=about, status=BoundStatus.PROVEN, found=found, upper_bound=could, method=why)
    how = f"{method}; the bound counts links with a carrier open to them alone"
    return Bound(about=about, status=BoundStatus.BOUNDED, found=found, upper_bound=could, method=how)


_CLOSED_VERB = {
    "tuning": "are out of its reach",
    "hold": "are not the held one",
    "permit": "are covered by no permit",
    "time": "are not permitted at that time",
    "bandwidth": "lie where the permit's bandwidth is too narrow",
    "grid": "are off the permit's grid",
    "power": "lie where the permit allows less power",
    "tv": "lie in closed TV channels",
    "other": "are too near to other users",
    "noise": "are noisy in the sweep",
    "unmeasured": "were not measured",
}


def _reasons(compiled: Compiled, index: int, carriers_hz: Sequence[int], crowded: _Crowded) -> tuple[Reason, ...]:
    """Return why a seat has no carrier: rules that close all of them, or what stops those that are open.

    `crowded` keeps what was found, since links under the same rules have the same reasons.
    """
    seat = compiled.seats[index]
    if seat.hold_hz is not None:
        alone = carrier_violations(compiled.job, seat, seat.hold_hz)
        held = tuple(Reason(code=v.rule, text=v.text) for v in alone if v.rule not in ("hold", "unmeasured"))
        if held:
            return held
    facts = compiled.facts_of(index)
    if not facts.open.any():
        return _closing(facts)
    alike = _rules_of(compiled, index, carriers_hz)
    if alike not in crowded:
        crowded[alike] = _crowded_out(compiled, index, carriers_hz, facts)
    return crowded[alike]


def _rules_of(compiled: Compiled, index: int, carriers_hz: Sequence[int]) -> tuple[object, ...]:
    """Return all that the rules know of a seat beside what is placed."""
    problem = compiled.problem
    beside = np.ones(problem.near_hz.shape[0], np.bool_)
    beside[: len(carriers_hz)] = np.array(carriers_hz) >= 0
    far = problem.far_hz[index][beside].tobytes() if problem.far_hz is not None else b""
    return (compiled.choice_of[index], problem.wanted[index].contexts, problem.near_hz[index][beside].tobytes(), far)


def _closing(facts: CarrierFacts) -> tuple[Reason, ...]:
    total = len(facts.carriers_hz)
    counts = {rule: int(facts.closed[rule].sum()) for rule in RULES if rule in facts.closed}
    ordered = sorted((rule for rule in counts if counts[rule]), key=lambda rule: -counts[rule])
    if not ordered:
        return (Reason(code="tuning", text="its radio type can be set to no carrier at all."),)
    return tuple(
        Reason(code=rule, text=f"of the {total} carriers it can be set to, {counts[rule]} {_CLOSED_VERB[rule]}.")
        for rule in ordered
    )


def _crowded_out(compiled: Compiled, index: int, carriers_hz: Sequence[int], facts: CarrierFacts) -> tuple[Reason, ...]:
    """Return what stops the open carriers beside the plan: how often each rule, and the culprits most often met."""
    is_open = facts.carriers_hz[facts.open]
    probed = is_open[:: max(1, len(is_open) // _PROBED)]
    trial = np.array(carriers_hz, np.int64)
    stops: dict[str, int] = {}
    culprits: dict[str, int] = {}
    for hz in probed.tolist():
        trial[index] = hz
        hits = examine(compiled.problem, trial, listed=50).hits
        for rule in {"spacing" if hit.family is None else "product" for hit in hits}:
            stops[rule] = stops.get(rule, 0) + 1
        for member in {m for hit in hits for m in (hit.victim, *hit.members) if m != index}:
            name = compiled.problem.ids[member]
            culprits[name] = culprits.get(name, 0) + 1
    if not stops:
        return (Reason(code="product", text="the search ended before it found a place; give it more time."),)
    often = sorted(culprits, key=lambda name: (-culprits[name], name))[:3]
    return tuple(
        Reason(
            code=rule,
            text=f"{stops[rule]} of {len(probed)} open carriers looked at break {_PLURAL[rule]} with the plan, "
            f"most often with {and_list(often)}.",
        )
        for rule in sorted(stops, key=lambda rule: -stops[rule])
    )


_PLURAL = {"spacing": "the carrier spacing", "product": "a product clearance"}


def _warnings(job: Job, sweeps: Sequence[Sweep], links: Sequence[PlacedLink], taken: Sequence[str]) -> list[Warn]:
    found = []
    if not sweeps:
        text = "No sweep was given: every carrier is planned without knowing what is on the air."
        found.append(Warn(code="no-sweep", text=text))
    found.extend(own_transmitters_unknown(sweeps))
    used = {link.permit for link in links}
    for permit in job.permits:
        if permit.id in used and permit.state is PermitState.APPLIED:
            text = (
                f"Permit {permit.reference} is only applied for; nothing may go on air under it before it is granted."
            )
            found.append(Warn(code="permit-applied", text=text, where=permit.id))
        if permit.id in used and not permit.confirmed:
            text = (
                f"Carriers under {permit.reference} are inside the shipped, unconfirmed figures; "
                "the regulator's current text decides."
            )
            found.append(Warn(code="figures-unconfirmed", text=text, where=permit.id))
    found.extend(_permit_times(job, links))
    found.extend(_tv_on_air_warnings(job, taken))
    found.extend(_tv_edge_warnings(job, links))
    found.extend(_families_off(job))
    return found


def own_transmitters_unknown(sweeps: Sequence[Sweep]) -> list[Warn]:
    """Name the sweeps of which nobody said whether own transmitters were off."""
    text = "Nobody said whether own transmitters were off; energy on a carrier counts as an intruder."
    return [
        Warn(code="own-transmitters-unknown", text=text, where=sweep.name)
        for sweep in sweeps
        if sweep.own_transmitters == "unknown"
    ]


def _permit_times(job: Job, links: Sequence[PlacedLink]) -> list[Warn]:
    """Name links without times on air under a permit that counts at certain times only."""
    untimed = {link.id for link in job.links if not link.on_air}
    limited = {permit.id: permit for permit in job.permits if permit.valid}
    found = []
    for permit_id, permit in limited.items():
        ids = [link.id for link in links if link.permit == permit_id and link.id in untimed]
        if ids:
            text = (
                f"{permit.reference} counts at certain times only, and {and_list(ids)} state no on_air: "
                "keep to its times."
            )
            found.append(Warn(code="permit-times", text=text, where=permit_id))
    return found


def taken_tv(job: Job, sweeps: Sequence[Sweep]) -> tuple[str, ...]:
    """Return the labels of the TV channels of the first place on which a sweep shows a multiplex."""
    raster = job.places[0].raster
    if raster is None:
        return ()
    found = [finding for sweep in sweeps for finding in tv_findings(sweep, raster, with_levels=False)]
    return tuple(dict.fromkeys(f.channel.label for f in found if f.verdict is TvVerdict.TAKEN))


def _tv_on_air_warnings(job: Job, taken: Sequence[str]) -> list[Warn]:
    new = [label for label in taken if label not in job.places[0].tv_closed]
    if not new:
        return []
    labels = label_list(new)
    text = f"The sweep shows a multiplex on TV {labels}, which the brief does not close; add it to tv_closed."
    return [Warn(code="tv-on-air", text=text, where=labels)]


def _tv_edge_warnings(job: Job, links: Sequence[PlacedLink]) -> list[Warn]:
    near: dict[str, list[str]] = {}
    seats = {link.id: link for link in job.links}
    for link in links:
        seat = seats[link.id]
        place = job.place_of(seat)
        wide = occupied(link.carrier_hz, seat.radio.bandwidth_hz + 2 * _STRONG_TV_GUARD_HZ)
        for channel in closed_tv(place):
            if channel.use == "tv" and channel.span.overlaps(wide):
                near.setdefault(channel.label, []).append(link.id)
    return [
        Warn(
            code="tv-edge",
            text=f"{and_list(ids)}: under 300 kHz from closed TV channel {label}; a strong one reaches over its edge.",
            where=label,
        )
        for label, ids in near.items()
    ]


def _families_off(job: Job) -> list[Warn]:
    """Say once, for each radio type in use, which of the usual third-order families it does not ask about."""
    found = []
    for radio in {link.radio.id: link.radio for link in job.links}.values():
        off = [family for family in ("2A-B", "A+B-C") if radio.clearance_of(family) is None]
        if off:
            text = (
                f"{radio.name} asks nothing about {and_list(off)} products; they are not looked at for its receivers."
            )
            found.append(Warn(code="family-off", text=text, where=radio.id))
    return found
