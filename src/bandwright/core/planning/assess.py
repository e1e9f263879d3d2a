"""From carriers to evidence: what each link's carrier rests on, what is broken, and the words for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from bandwright.core.bands import occupied
from bandwright.core.job import Job, Place
from bandwright.core.kit import Link
from bandwright.core.multiplex import TvVerdict, tv_findings
from bandwright.core.permits import PermitState
from bandwright.core.planning.bounds import Bound as Ceiling
from bandwright.core.planning.breaches import carrier_violations, rule_of
from bandwright.core.planning.bridges import bridge_warnings
from bandwright.core.planning.build import Compiled, seats_problem
from bandwright.core.planning.carriers import (
    CarrierFacts,
    closed_tv,
    examine_carriers,
    hears,
    needed_from_other_hz,
    permit_power_mw,
)
from bandwright.core.planning.closing import closing_reasons
from bandwright.core.planning.earshot import isolation_warnings
from bandwright.core.planning.heard import floor_alone_warnings, noise_of
from bandwright.core.planning.places import sweeps_at
from bandwright.core.planning.plan import (
    Closest,
    Conflict,
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
from bandwright.core.planning.quality import plan_bound
from bandwright.core.planning.sharing import sharing_notes
from bandwright.core.planning.units import unit_warnings
from bandwright.core.planning.verify import Nearest, examine, nearest
from bandwright.core.reach.receiver_facts import receiver_warnings
from bandwright.core.sweep import Sweep
from bandwright.core.unlisted import unlisted_carriers, unlisted_warnings
from bandwright.core.words import and_list, label_list

__all__ = [
    "assess_plan",
    "closest_of",
    "own_transmitters_unknown",
    "sweep_places_unknown",
    "taken_tv",
]

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
    taken: Mapping[str, Sequence[str]] = MappingProxyType({}),
    ceiling: Ceiling | None = None,
    conflicts: Sequence[Conflict] = (),
) -> Plan:
    """Return the plan of these carriers (-1 = not placed) with the evidence for each.

    `taken` holds the TV channels on which the sweeps show a multiplex, by place (`taken_tv`). `ceiling` is an upper
    bound for the links that is known already, `conflicts` are wishes that cannot hold together.
    """
    job = compiled.job
    placed = [i for i, hz in enumerate(carriers_hz) if hz >= 0]
    seats = [compiled.seats[i] for i in placed]
    hz = [carriers_hz[i] for i in placed]
    closest = _closest(job, seats, hz)
    notes = sharing_notes(job, {seat.id: carrier for seat, carrier in zip(seats, hz, strict=True)})
    links, spares = [], []
    for index, seat in zip(placed, seats, strict=True):
        if compiled.spare[index]:
            spares.append(_spare(job, seat, carriers_hz[index], sweeps))
        else:
            link = _placed(job, seat, carriers_hz[index], sweeps, closest.get(seat.id))
            links.append(replace(link, notes=notes.get(seat.id, ())))
    crowded: _Crowded = {}
    unplaced = tuple(
        Unplaced(id=seat.id, name=seat.name, reasons=_reasons(compiled, i, carriers_hz, sweeps, crowded))
        for i, seat in enumerate(compiled.seats)
        if carriers_hz[i] < 0
    )
    return Plan(
        number=number,
        links=tuple(links),
        spares=tuple(spares),
        unplaced=unplaced,
        bound=plan_bound(compiled, carriers_hz, ceiling),
        conflicts=tuple(conflicts),
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
    """Return the TV channel a carrier lies in; None where there is none, or where places name it differently."""
    rasters = [place.raster for place in job.places_of(seat)]
    channels = [raster.at(hz) if raster else None for raster in rasters]
    labels = {channel.label if channel else None for channel in channels}
    return labels.pop() if len(labels) == 1 else None


def _reasons(
    compiled: Compiled, index: int, carriers_hz: Sequence[int], sweeps: Sequence[Sweep], crowded: _Crowded
) -> tuple[Reason, ...]:
    """Return why a seat has no carrier: rules that close all of them, or what stops those that are open.

    `crowded` keeps what was found, since links under the same rules have the same reasons.
    """
    seat = compiled.seats[index]
    if seat.hold_hz is not None:
        alone = carrier_violations(compiled.job, seat, seat.hold_hz, sweeps)
        held = tuple(Reason(code=v.rule, text=v.text) for v in alone)
        if held:
            return held
    facts = compiled.facts_of(index)
    if not facts.open.any():
        return closing_reasons(facts)
    alike = _rules_of(compiled, index, carriers_hz)
    if alike not in crowded:
        crowded[alike] = _crowded_out(compiled, index, carriers_hz, facts)
    return crowded[alike]


def _rules_of(compiled: Compiled, index: int, carriers_hz: Sequence[int]) -> tuple[object, ...]:
    """Return all that the rules know of a seat beside what is placed."""
    problem = compiled.problem
    beside = np.ones(problem.near_hz.shape[0], np.bool_)
    beside[: len(carriers_hz)] = np.array(carriers_hz) >= 0
    far = problem.far_hz[index][beside].tobytes()
    return (compiled.choice_of[index], problem.wanted[index].contexts, problem.near_hz[index][beside].tobytes(), far)


def _crowded_out(compiled: Compiled, index: int, carriers_hz: Sequence[int], facts: CarrierFacts) -> tuple[Reason, ...]:
    """Return what stops the open carriers beside the plan: how often each rule, with whom, and how many none stops."""
    is_open = facts.carriers_hz[facts.open]
    probed = is_open[:: max(1, len(is_open) // _PROBED)]
    trial = np.array(carriers_hz, np.int64)
    stops: dict[str, int] = {}
    culprits: dict[str, dict[str, int]] = {}
    free = 0
    for hz in probed.tolist():
        trial[index] = hz
        hits = examine(compiled.problem, trial, listed=50).hits
        free += not hits
        met = {(rule_of(hit), m) for hit in hits for m in (hit.victim, *hit.members)}
        for rule in {rule for rule, _ in met}:
            stops[rule] = stops.get(rule, 0) + 1
        for rule, member in met:
            if member != index:
                names = culprits.setdefault(rule, {})
                names[compiled.problem.ids[member]] = names.get(compiled.problem.ids[member], 0) + 1
    some = "open carriers" if len(probed) == len(is_open) else "open carriers looked at"
    found = [
        Reason(
            code=rule,
            text=f"{_how_many(stops[rule], len(probed), some)} {_BROKEN[rule]} with the plan, most often "
            f"with {and_list(sorted(culprits[rule], key=lambda name: (-culprits[rule][name], name))[:3])}.",
        )
        for rule in sorted(stops, key=lambda rule: (-stops[rule], rule))
    ]
    return (*found, *_in_all(free, len(probed), some, stops))


def _how_many(stopped: int, probed: int, some: str) -> str:
    """Return how many of so many carriers break something, up to the verb."""
    if probed == 1:
        return "The only open carrier breaks"
    return f"{f'All {probed}' if stopped == probed else f'{stopped} of {probed}'} {some} break"


def _in_all(free: int, probed: int, some: str, stops: Mapping[str, int]) -> tuple[Reason, ...]:
    """Return what the counts of single rules do not tell: that together they leave nothing, or that some is left."""
    if free:
        text = (
            f"{free} of {probed} {some} break no rule with the plan as it stands: no rule stops this "
            "link there by itself, but the search ended before it found carriers for all together; give it more time."
        )
        return (Reason(code="combination", text=text),)
    if max(stops.values()) < probed:
        text = f"Each of the {probed} {some} breaks one of these rules; there can only be room by moving other links."
        return (Reason(code="combination", text=text),)
    return ()


_BROKEN = {
    "spacing": "the carrier spacing",
    "product": "a product clearance",
    "unit": "the window of a shared front end",
}


def _warnings(
    job: Job, sweeps: Sequence[Sweep], links: Sequence[PlacedLink], taken: Mapping[str, Sequence[str]]
) -> list[Warn]:
    found = []
    if not sweeps:
        text = "No sweep was given: every carrier is planned without knowing what is on the air."
        found.append(Warn(code="no-sweep", text=text))
    found.extend([*own_transmitters_unknown(sweeps), *sweep_places_unknown(job, sweeps)])
    found.extend(floor_alone_warnings([link.radio for link in job.links], sweeps))
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
    found.extend(unlisted_warnings(job, unlisted_carriers(job, sweeps, taken), sweeps))
    found.extend(_tv_edge_warnings(job, links))
    found.extend(_families_off(job))
    found.extend([*unit_warnings(job), *isolation_warnings(job, job.links)])
    carriers = {link.id: link.carrier_hz for link in links}
    found.extend([*bridge_warnings(job, carriers), *receiver_warnings(job, carriers)])
    return found


def own_transmitters_unknown(sweeps: Sequence[Sweep]) -> list[Warn]:
    """Name, in one sentence, the sweeps of which nobody said whether own transmitters were off."""
    names = list(dict.fromkeys(sweep.name for sweep in sweeps if sweep.own_transmitters == "unknown"))
    if not names:
        return []
    text = (
        f"Nobody said whether own transmitters were off in {and_list(names)}; energy on a carrier counts as an "
        "intruder."
    )
    return [Warn(code="own-transmitters-unknown", text=text, where=and_list(names))]


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


def sweep_places_unknown(job: Job, sweeps: Sequence[Sweep]) -> list[Warn]:
    """Name, in one sentence, the sweeps that count for all places because nobody said at which one they were made."""
    names = [sweep.name for sweep in sweeps if sweep.place is None]
    if len(job.places) < 2 or not names:
        return []
    counts = "counts" if len(names) == 1 else "count"
    text = f"Nobody said at which place {and_list(names)} was made, so it {counts} for every place."
    command = f"Say so with --sweep {job.places[0].id}={names[0]}."
    return [Warn(code="sweep-place-unknown", text=text, where=and_list(names), command=command)]


def taken_tv(job: Job, sweeps: Sequence[Sweep]) -> dict[str, tuple[str, ...]]:
    """Return for each place the labels of the TV channels on which one of its sweeps shows a multiplex."""
    return {place.id: _taken_at(place, sweeps_at(place, sweeps)) for place in job.places if place.raster is not None}


def _taken_at(place: Place, sweeps: Sequence[Sweep]) -> tuple[str, ...]:
    if place.raster is None:
        return ()
    found = [finding for sweep in sweeps for finding in tv_findings(sweep, place.raster)]
    return tuple(dict.fromkeys(f.channel.label for f in found if f.verdict is TvVerdict.TAKEN))


def _tv_on_air_warnings(job: Job, taken: Mapping[str, Sequence[str]]) -> list[Warn]:
    found = []
    for place in job.places:
        labels = label_list([label for label in taken.get(place.id, ()) if label not in place.tv_closed])
        if labels:
            where = f" at {place.name}" if len(job.places) > 1 else ""
            text = (
                f"The sweep{where} shows a multiplex on TV {labels}, which the brief does not close; "
                "add it to tv_closed."
            )
            found.append(Warn(code="tv-on-air", text=text, where=labels))
    return found


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
        if job.wishes.khz_rules == "off" and radio.iip3_dbm is not None:
            continue  # levels are looked at in their place
        off = [family for family in ("2A-B", "A+B-C") if radio.clearance_of(family) is None]
        if off:
            text = (
                f"{radio.name} asks nothing about {and_list(off)} products; they are not looked at for its receivers."
            )
            found.append(Warn(code="family-off", text=text, where=radio.id))
    return found
