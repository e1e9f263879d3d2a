"""Why a carrier may or may not be used: every rule that allows or stops it, with the culprits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bandwright.core.bands import occupied
from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.assess import closest_of
from bandwright.core.planning.breaches import carrier_violations, hit_violation
from bandwright.core.planning.build import seats_problem
from bandwright.core.planning.carriers import examine_carriers, noise_of, permit_power_mw
from bandwright.core.planning.plan import NoiseState, Violation
from bandwright.core.planning.verify import examine, nearest
from bandwright.core.sweep import Sweep
from bandwright.core.words import closest_words, noise_words, power_words

__all__ = ["Explanation", "Finding", "explain"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What one rule says: `stops` or allows, in words, with the culprits where there are any."""

    rule: str
    stops: bool
    text: str
    sources: tuple[str, ...] = ()
    family: str | None = None
    offset_hz: int | None = None
    required_hz: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Everything that is known about one carrier for one link; `beside_plan` tells whether other links counted."""

    link: str
    radio: str
    carrier_hz: int
    findings: tuple[Finding, ...]
    beside_plan: bool

    @property
    def allowed(self) -> bool:
        """Whether no rule stops it."""
        return not any(finding.stops for finding in self.findings)


def explain(
    job: Job,
    link: Link,
    carrier_hz: int,
    sweeps: Sequence[Sweep] = (),
    *,
    placed: Mapping[str, int] | None = None,
    more: Sequence[Link] = (),
) -> Explanation:
    """Return what every rule says of this carrier for this link.

    `placed` maps ids of other links (of the job or of `more`, such as spare carriers) to their carriers in Hz; the
    link's own carrier there is ignored, because this is about moving it here.
    """
    stops = [_stop(v) for v in carrier_violations(job, link, carrier_hz, sweeps)]
    allows = _allowing(job, link, carrier_hz, sweeps, {finding.rule for finding in stops})
    if placed is not None:
        beside, near = _beside(job, link, carrier_hz, placed, more)
        stops.extend(beside)
        allows.extend(near)
    return Explanation(
        link=link.id,
        radio=link.radio.id,
        carrier_hz=carrier_hz,
        findings=(*stops, *allows),
        beside_plan=placed is not None,
    )


def _stop(violation: Violation) -> Finding:
    return Finding(
        rule=violation.rule,
        stops=True,
        text=violation.text,
        sources=violation.sources,
        family=violation.family,
        offset_hz=violation.offset_hz,
        required_hz=violation.required_hz,
    )


def _allowing(job: Job, link: Link, hz: int, sweeps: Sequence[Sweep], stopped: set[str]) -> list[Finding]:
    found = []
    facts = examine_carriers(job, link, [hz], sweeps)
    if "tuning" not in stopped:
        preset = link.radio.preset_at(hz)
        how = f"preset {preset.label}" if preset else "its tuning range"
        found.append(Finding(rule="tuning", stops=False, text=f"{link.radio.name} reaches it through {how}."))
    if facts.permit[0] >= 0:
        permit = job.permits[int(facts.permit[0])]
        span = occupied(hz, link.radio.bandwidth_hz)
        text = f"{span} lies inside {permit.reference} ({permit.state.value})."
        found.append(Finding(rule="permit", stops=False, text=text))
        power, within = permit_power_mw(link, permit)
        words = power_words(power) if power is not None else "a power that nobody stated"
        verdict = "is within the permit" if within else "is not shown to be within the permit"
        found.append(Finding(rule="power", stops=False, text=f"{words} {verdict}."))
    raster = job.place_of(link).raster
    channel = raster.at(hz) if raster else None
    if channel is not None and "tv" not in stopped:
        found.append(Finding(rule="tv", stops=False, text=f"TV channel {channel.label} is not closed here."))
    if not stopped & {"noise", "unmeasured"}:
        noise = noise_of(job, link, hz, sweeps)
        by = f" by {noise.sweep}" if noise.sweep else ""
        rule = "unmeasured" if noise.state is NoiseState.UNMEASURED else "noise"
        found.append(Finding(rule=rule, stops=False, text=f"Sweep: {noise_words(noise)}{by}."))
    return found


def _beside(
    job: Job, link: Link, hz: int, placed: Mapping[str, int], more: Sequence[Link]
) -> tuple[list[Finding], list[Finding]]:
    """Return what stops the carrier beside the plan (also what it would do to others), and the closest rule."""
    seats = [link, *(other for other in (*job.links, *more) if other.id in placed and other.id != link.id)]
    carriers = np.array([hz, *(placed[other.id] for other in seats[1:])], np.int64)
    problem = seats_problem(job, seats)
    f = [*carriers.tolist(), *(item.carrier_hz for item in problem.fixed)]
    report = examine(problem, carriers)
    hits = [hit for hit in report.hits if hit.victim == 0 or 0 in hit.members]
    stops = [_stop(hit_violation(problem, f, hit)) for hit in hits]
    found = nearest(problem, carriers).get(0)
    if found is None or any(hit.victim == 0 for hit in hits):
        return stops, []
    closest = closest_of(problem, found)
    text = f"Closest: {closest_words(closest)}."
    return stops, [
        Finding(
            rule=closest.rule,
            stops=False,
            text=text,
            sources=closest.sources,
            family=closest.family,
            offset_hz=closest.offset_hz,
            required_hz=closest.required_hz,
        )
    ]
