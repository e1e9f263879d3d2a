"""A carrier in hand: what moving it would mean, moving it, and why it may or may not be used."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from bandwright.core.planning.assess import assess_plan, taken_tv
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import compile_job, spare_links
from bandwright.core.planning.change import LeftAlone, with_blocked
from bandwright.core.planning.plan import Plan
from bandwright.core.planning.preview import Board, board_of, preview
from bandwright.core.sweep_age import age_warnings
from bandwright.core.words import closest_words
from bandwright.documents.outputs import PlanDocument, Run, plan_document
from bandwright.documents.outputs.check import ViolationModel, violation_model
from bandwright.documents.outputs.plan import ClosestModel, closest_model
from bandwright.errors import InputError
from bandwright.service import plan_levels as levels
from bandwright.service.desk import Desk
from bandwright.service.job_plans import Overtaken, PlanNow, plan_in_force
from bandwright.service.job_runs import Ground, Kept, ground_of, keep_plan, number_made
from bandwright.service.names import named
from bandwright.service.planned import minute_at
from bandwright.service.seats import Seat
from bandwright.service.why import Explained, carrier_of, explained
from bandwright.units import HIGHEST_CARRIER_HZ, mhz_text

__all__ = ["AffectedLink", "InHand", "explain_here", "move_link", "preview_link"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AffectedLink:
    """Another link whose verdict would differ: how it would stand, and why."""

    link: str
    id: str
    ok: bool
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InHand:
    """What moving a link to a carrier would mean: what it breaks, what comes closest, and whom it touches."""

    link: str
    carrier_hz: int
    ok: bool
    violations: tuple[ViolationModel, ...]
    closest: ClosestModel | None
    closest_text: str | None
    affected: tuple[AffectedLink, ...]


def preview_link(desk: Desk, link: str, carrier_hz: int) -> InHand:
    """Return what moving a link (by its uid) to a carrier would mean under the plan in force.

    Raises
    ------
    InputError
        When there is no plan, no such link, or no such frequency.
    """
    plan, ground = _plan(desk), ground_of(desk)
    seat = _seat(plan, link)
    _check_carrier(carrier_hz)
    board = _board(desk, plan, ground)
    if seat.id not in {item.id for item in board.seats}:
        carriers = {**plan.carriers(), seat.id: carrier_hz}
        board = board_of(ground.job, carriers, ground.sweeps, more=spare_links(ground.job))
    found = preview(board, seat.id, carrier_hz)
    uids = {item.id: item.uid for item in plan.seats}
    return InHand(
        link=link,
        carrier_hz=carrier_hz,
        ok=found.ok,
        violations=tuple(violation_model(item) for item in found.violations),
        closest=closest_model(found.closest),
        closest_text=None if found.closest is None else closest_words(found.closest),
        affected=tuple(
            AffectedLink(link=uids.get(item.link, item.link), id=item.link, ok=item.ok, text=item.text)
            for item in found.affected
        ),
    )


def _board(desk: Desk, plan: PlanNow, ground: Ground) -> Board:
    return desk.keep(
        "board",
        (ground.stands_on, plan.number),
        lambda: board_of(ground.job, plan.carriers(), ground.sweeps, more=spare_links(ground.job)),
    )


def move_link(desk: Desk, link: str, carrier_hz: int, *, base: int, who: str, client_key: str | None = None) -> Kept:
    """Put a link on another carrier: a new numbered plan, in force at once; its ticks are taken back.

    A carrier that breaks rules is taken all the same, and the links concerned are marked as blocked.

    Parameters
    ----------
    base
        The number of the plan that whoever moves it had before their eyes.

    Raises
    ------
    Overtaken
        When another plan is in force by now.
    """
    with desk.lock:
        if client_key is not None and (done := desk.file.answer_to(client_key)) is not None:
            changed = desk.changed(done, who=who)
            return Kept(number=number_made(desk, changed), in_force=True, changed=changed)
        plan, ground = _plan(desk), ground_of(desk)
        if plan.number != base:
            text = f"Plan {plan.number} is in force by now, and not plan {base}; nothing was moved."
            hint = "Look at it, and move the link there."
            raise Overtaken.single("other-plan", text, key="base", given=str(base), allowed=str(plan.number), hint=hint)
        seat = _seat(plan, link)
        _check_carrier(carrier_hz)
        carriers = {**plan.carriers(), seat.id: carrier_hz}
        document = _moved(desk, plan, ground, carriers)
        what = f"{seat.id} moved to {mhz_text(carrier_hz)} MHz"
        return keep_plan(
            desk, document, who=who, stands_on=ground.stands_on, what=what, force=True, client_key=client_key
        )


def _moved(desk: Desk, plan: PlanNow, ground: Ground, carriers: Mapping[str, int]) -> PlanDocument:
    """Return the plan of these carriers with all its evidence, and with who breaks a rule marked as blocked."""
    job, sweeps = ground.job, ground.sweeps
    compiled = desk.keep("compiled", ground.stands_on, lambda: compile_job(job, sweeps))
    made = minute_at(desk.context, job)
    found = assess_plan(
        compiled,
        [carriers.get(seat.id, -1) for seat in compiled.seats],
        sweeps,
        warnings=age_warnings(job, sweeps, made=made),
        taken=taken_tv(job, sweeps),
    )
    levels.prepare(desk.context, job)
    hz = [carriers.get(seat.id, -1) for seat in compiled.seats]
    found = levels.told_levels(compiled, found, hz, pictures=levels.FEW_PICTURES)
    broken = check_carriers(job, carriers, sweeps, more=spare_links(job))
    stuck = {item.victim: LeftAlone(link=item.victim, why=item.text) for item in broken}
    found = _with_bound(with_blocked(found, tuple(stuck.values())), plan)
    run = Run(seed=plan.document.run.seed, stopped="hand", seconds=0)
    return plan_document(job, found, inputs=ground.inputs, made=made, run=run, sweeps=sweeps)


def _with_bound(found: Plan, before: PlanNow) -> Plan:
    """Return the plan with the bound of the one it was moved from, where it still holds."""
    if before.stale is not None or len(found.links) != len(before.plan.links):
        return found
    return replace(found, bound=before.plan.bound, conflicts=before.plan.conflicts)


def explain_here(desk: Desk, link_id: str, mhz: str) -> Explained:
    """Return why a link (by its id) may or may not use a carrier beside the plan in force."""
    ground, plan = ground_of(desk), plan_in_force(desk)
    carrier_hz = carrier_of(mhz)
    links = {link.id: link for link in (*ground.job.links, *spare_links(ground.job))}
    link = named(link_id, links, what="link", file=desk.path.name)
    placed = None if plan is None else plan.carriers()
    return explained(desk.context, ground.job, link, carrier_hz, ground.sweeps, placed=placed, inputs=ground.inputs)


def _plan(desk: Desk) -> PlanNow:
    plan = plan_in_force(desk)
    if plan is None:
        text = "There is no plan in force, so no carrier to move."
        raise InputError.single("no-plan", text, key="plan", hint="Plan the carriers first.")
    return plan


def _seat(plan: PlanNow, uid: str) -> Seat:
    seat = next((seat for seat in plan.seats if seat.uid == uid), None)
    if seat is None:
        text = "There is no link with this uid."
        raise InputError.single("no-such-link", text, key="link", given=uid, hint="Name a link of this job.")
    return seat


def _check_carrier(carrier_hz: int) -> None:
    if not 0 < carrier_hz <= HIGHEST_CARRIER_HZ:
        text = f"a carrier lies above 0 and up to {mhz_text(HIGHEST_CARRIER_HZ)} MHz."
        raise InputError.single("out-of-range", text, key="carrier_hz", given=str(carrier_hz))
