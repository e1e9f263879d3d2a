"""What a plan could not place: a proven bound, wishes that cannot hold together, and the least that would do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from bandwright.core.planning.bounds import Bound
from bandwright.core.planning.build import Compiled, compile_job
from bandwright.core.planning.by_permit import bound_by_parts, parts_of
from bandwright.core.planning.plan import Conflict
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.quality import conflict_of, links_of
from bandwright.core.planning.relax import Ladder, Relaxation, ladders
from bandwright.core.sweep import Sweep
from bandwright.engines.conflict import Clash, ceiling, clashes, least_change, only, until
from bandwright.engines.solve import Outcome
from bandwright.service.context import Context, Progress

__all__ = ["Shortfall", "look_into_shortfall"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """What is known of a plan that could not place all: an upper bound for the links, and what cannot hold together.

    `carriers_hz` are those of the plan, or better ones that were met on the way.
    """

    carriers_hz: tuple[int, ...]
    ceiling: Bound | None
    conflicts: tuple[Conflict, ...]


def look_into_shortfall(context: Context, compiled: Compiled, sweeps: Sequence[Sweep], outcome: Outcome) -> Shortfall:
    """Return how many links could be placed at most, and the smallest wishes that cannot hold together."""
    carriers_hz = outcome.carriers_hz
    if all(hz >= 0 for hz in carriers_hz):
        return Shortfall(carriers_hz=carriers_hz, ceiling=None, conflicts=())
    context.progress(Progress(text="looking for what cannot hold together"))
    wishes = compiled.job.wishes
    ended = until(wishes.time_limit_s, context.cancelled)
    found = clashes(compiled.problem, carriers_hz, seed=wishes.seed, cancelled=ended)
    placed = carriers_hz if found.better_hz is None else found.better_hz
    remedies = [tuple(_remedies(context, compiled, sweeps, clash, ended=ended)) for clash in found.clashes]
    context.progress(Progress(text="proving how many links can be placed"))
    known = Bound(upper_bound=outcome.upper_bound, method=outcome.method)
    ended = until(wishes.time_limit_s, context.cancelled)  # as long again
    at_most = ceiling(compiled.problem, links_of(compiled), placed, known=known, cancelled=ended)
    at_most = _by_permit(compiled, placed, at_most, ended=ended)
    conflicts = tuple(
        conflict_of(
            compiled,
            clash.members,
            proven=clash.proven or _are_too_many(compiled, clash, at_most),
            remedies=would_do,
        )
        for clash, would_do in zip(found.clashes, remedies, strict=True)
    )
    return Shortfall(carriers_hz=placed, ceiling=at_most, conflicts=conflicts)


def _by_permit(compiled: Compiled, placed: Sequence[int], at_most: Bound, *, ended: Callable[[], bool]) -> Bound:
    """Return what permits, or the windows of one, hold at most where that says as much as the bound of the whole."""
    parts = parts_of(compiled)
    if not parts:
        return at_most
    bounds = [ceiling(part.problem, part.links, part.inside(placed), cancelled=ended) for part in parts]
    summed = bound_by_parts(parts, bounds)
    return summed if summed.upper_bound <= at_most.upper_bound else at_most


def _are_too_many(compiled: Compiled, clash: Clash, at_most: Bound) -> bool:
    """Whether a clash is of more links than can be placed of all links together."""
    links = set(links_of(compiled))
    return len(links.intersection(clash.members)) > at_most.upper_bound


def _remedies(
    context: Context, compiled: Compiled, sweeps: Sequence[Sweep], clash: Clash, *, ended: Callable[[], bool]
) -> Iterator[str]:
    """Yield the least change of each kind under which all of a clash were placed."""
    for radio_id, ladder in _ladders(compiled, sweeps, clash):
        context.progress(Progress(text=f"trying {ladder[-1].change}"))
        rung = least_change(
            [partial(_problem, step, sweeps, clash) for step in ladder],
            seed=compiled.job.wishes.seed,
            cancelled=ended,
        )
        if rung is not None:
            yield f"{ladder[rung].change}{f' for {radio_id}' if radio_id else ''}"


def _ladders(compiled: Compiled, sweeps: Sequence[Sweep], clash: Clash) -> Iterator[tuple[str, Ladder]]:
    """Yield what could be eased for any of a clash, each change once, with the radio type where there are several."""
    seats = [compiled.seats[member] for member in clash.members]
    radios = {seat.radio.id: seat for seat in seats}
    told: set[str] = set()
    for radio_id, seat in radios.items():
        for ladder in ladders(compiled.job, seat.radio, compiled.job.place_of(seat), sweeps):
            own = ladder[0].code == "spacing" or ladder[0].code.startswith("family ")
            name = radio_id if own and len(radios) > 1 else ""
            if f"{name} {ladder[0].change}" not in told:
                told.add(f"{name} {ladder[0].change}")
                yield name, ladder


def _problem(step: Relaxation, sweeps: Sequence[Sweep], clash: Clash) -> Problem:
    return only(compile_job(step.job, sweeps).problem, clash.members)
