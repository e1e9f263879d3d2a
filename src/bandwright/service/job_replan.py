"""Replans of an open job: run beside it, kept in it as a proposal until somebody accepts it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from bandwright.core.job import Job
from bandwright.core.planning.change import with_lost
from bandwright.core.words import and_list
from bandwright.documents.others import other_row
from bandwright.documents.outputs import ReplanDocument
from bandwright.errors import InputError
from bandwright.service.context import Context, Progress
from bandwright.service.desk import Desk
from bandwright.service.differences import differences_since
from bandwright.service.earlier import Earlier
from bandwright.service.job_plans import Overtaken, changed_for_plans, plan_in_force
from bandwright.service.job_runs import Ground, Kept, earlier_of, ground_of, keep_plan, number_made
from bandwright.service.names import named
from bandwright.service.replan import Replanned, mend, new_to_the_plan
from bandwright.service.runs import RunState, Work, start_run
from bandwright.store import Draft

__all__ = ["Proposal", "accept_replan", "proposal_of", "run_replan"]

_PROPOSAL = "proposal"
"""The state that holds the replan which waits to be accepted; its document is a blob."""

Tell = Callable[[Progress], None]
Asked = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A replan that nobody has accepted yet: what was lost, the document, and the plan it starts from.

    `heard` is the interference on the lost carriers, as tables of somebody else's transmitters.
    """

    lost: tuple[str, ...]
    heard: tuple[Mapping[str, Any], ...]
    document: ReplanDocument
    base: int
    stands_on: int


def run_replan(
    desk: Desk, *, who: str, lost: Sequence[str] = (), off_air: bool = False, time_limit_s: float | None = None
) -> RunState:
    """Look in the worker for the fewest moves from the plan in force; what comes out is a proposal.

    Parameters
    ----------
    lost
        Ids of links on whose carriers interference was heard.
    off_air
        Whether nobody is on the air yet, so that in-ears are in nobody's ears.
    """
    ground = ground_of(desk)
    plan = plan_in_force(desk)
    if plan is None:
        hint = "Plan the carriers first."
        raise InputError.single("no-plan", "There is no plan in force to start from.", key="plan", hint=hint)
    carriers = plan.carriers()
    lost_hz = {name: named(name, carriers, what="link", file=desk.path.name) for name in lost}
    wishes = ground.job.wishes
    limit_s = wishes.time_limit_s if time_limit_s is None else time_limit_s
    job = with_lost(replace(ground.job, wishes=replace(wishes, time_limit_s=limit_s)), lost_hz)
    heard = tuple(other_row(other) for other in job.others if other not in ground.job.others)
    earlier = earlier_of(plan)

    def keep(text: str) -> tuple[str, bool, int | None]:
        document = ReplanDocument.model_validate_json(text)
        found = Proposal(lost=tuple(lost), heard=heard, document=document, base=plan.number, stands_on=ground.stands_on)
        moves = len(document.moves)
        words = f"{moves} link{'' if moves == 1 else 's'} would move" if moves else "Nobody has to move"
        _keep_proposal(desk, found, text, who=who, what=f"Looked for the fewest moves{_of_lost(lost)}: {words}")
        return f"{words}.", document.run.stopped == "cancelled", None

    work = Work(
        kind="replan",
        function=replan_in_worker,
        arguments=(
            ReplanTask(
                ground=ground, job=job, earlier=earlier, lost_hz=lost_hz, off_air=off_air, now=desk.context.now()
            ),
        ),
        limit_s=limit_s,
        stale=lambda: changed_for_plans(differences_since(desk.file, ground.stands_on, "entry", "sweep")),
        keep=keep,
    )
    return start_run(desk, work)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReplanTask:
    """What the worker is given for a replan."""

    ground: Ground
    job: Job
    earlier: Earlier
    lost_hz: Mapping[str, int]
    off_air: bool
    now: datetime


def replan_in_worker(task: ReplanTask, *, progress: Tell, cancelled: Asked) -> str:
    """Return the change from an earlier plan as the text of its document; runs in the worker."""
    context = Context(now=lambda: task.now, progress=progress, cancelled=cancelled)
    change, planned = mend(
        context, task.job, task.earlier, task.ground.sweeps, lost_hz=task.lost_hz, off_air=task.off_air
    )
    brief, *sweeps = task.ground.inputs
    found = Replanned(
        change=change,
        planned=replace(planned, inputs=(brief, task.earlier.input, *sweeps)),
        warnings=new_to_the_plan(task.job, task.earlier),
        before=task.earlier.called,
        looked_at=(),
    )
    return found.document().model_dump_json(by_alias=True)


def _keep_proposal(desk: Desk, found: Proposal, text: str, *, who: str, what: str) -> None:
    """Keep a proposal in the job file, in the place of the one before; undo does not take that back."""

    def make(draft: Draft) -> None:
        kept = {"lost": list(found.lost), "heard": list(found.heard), "base": found.base, "stands_on": found.stands_on}
        draft.set_state(_PROPOSAL, {**kept, "document": draft.put_blob(text.encode())})
        draft.last()

    desk.change(make, who=who, what=what)


def _of_lost(lost: Sequence[str]) -> str:
    return f" ({and_list(list(lost))} lost)" if lost else ""


def _kept_proposal(desk: Desk) -> Proposal | None:
    """Return the proposal in the job file, as long as the plan that it starts from is in force."""
    kept, plan = desk.file.state(_PROPOSAL), plan_in_force(desk)
    if kept is None or plan is None or plan.number != kept["base"]:
        return None
    sha256 = kept["document"]
    try:
        document = desk.keep("proposal", sha256, lambda: ReplanDocument.model_validate_json(desk.file.blob(sha256)))
    except ValidationError:  # another version of the program wrote it; it is made again in seconds
        return None
    return Proposal(
        lost=tuple(kept["lost"]),
        heard=tuple(kept["heard"]),
        document=document,
        base=kept["base"],
        stands_on=kept["stands_on"],
    )


def _changed_since(desk: Desk, found: Proposal) -> str | None:
    return changed_for_plans(differences_since(desk.file, found.stands_on, "entry", "sweep"))


def proposal_of(desk: Desk) -> Proposal | None:
    """Return the replan that waits to be accepted; None once the plan in force or what it stands on is another."""
    with desk.lock:
        found = _kept_proposal(desk)
        return None if found is None or _changed_since(desk, found) is not None else found


def accept_replan(desk: Desk, *, who: str, keep_off: bool = False, client_key: str | None = None) -> Kept:
    """Put the proposed moves in force as a new plan; what was ticked of links that move is taken back.

    Parameters
    ----------
    keep_off
        Whether to write the interference on the lost carriers into the brief, so that every later plan keeps off it.
        Without that the next plan knows nothing of it.

    Raises
    ------
    Overtaken
        When the brief or the plan in force changed since the proposal was made.
    InputError
        When there is none.
    """
    with desk.lock:
        if client_key is not None and (done := desk.file.answer_to(client_key)) is not None:
            changed = desk.changed(done, who=who)
            return Kept(number=number_made(desk, changed), in_force=True, changed=changed)
        found = _kept_proposal(desk)
        if found is None:
            text = "There is no replan to accept: none was made, or another plan is in force since."
            raise InputError.single("no-replan", text, hint="Replan, and look at the moves first.")
        changed_since = _changed_since(desk, found)
        if changed_since is not None:
            raise Overtaken.single("changed-since", f"{changed_since} Replan once more.", key="replan")
        return keep_plan(
            desk,
            found.document.plan,
            who=who,
            stands_on=found.stands_on,
            what=f"Replanned{_of_lost(found.lost)}",
            force=True,
            others=found.heard if keep_off else (),
            also=lambda draft: draft.set_state(_PROPOSAL, None),
            client_key=client_key,
        )
