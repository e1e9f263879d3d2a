"""How the links of an open job reach: worked out beside whoever serves pages, and kept as long as it stands."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from bandwright.core.job import Job
from bandwright.core.reach.area_glance import sight_of
from bandwright.core.readiness_facts import StrongFacts
from bandwright.core.sweep import Sweep
from bandwright.documents.outputs import Input, ReachDocument
from bandwright.documents.outputs.reach_area import GlanceModel, glance_model
from bandwright.errors import BandwrightError, InputError
from bandwright.reference import tables as reference
from bandwright.service.context import Context, Progress
from bandwright.service.desk import Desk, Told
from bandwright.service.job_plans import plan_in_force
from bandwright.service.job_runs import ground_of
from bandwright.service.names import named
from bandwright.service.reach import EVERY_S, NO_PLAN, judged
from bandwright.service.runs import beside

__all__ = ["ReachNow", "glance", "reach_now", "strong_facts"]

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachNow:
    """How links reach now: on the carriers of this plan in force, None where there is none yet.

    `carriers_from` says it in words. `cables` names the types of cable whose loss is known.
    """

    plan: int | None
    carriers_from: str
    cables: tuple[str, ...]
    document: ReachDocument


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReachTask:
    """What the worker is given to judge links."""

    job: Job
    links: tuple[str, ...]
    sweeps: tuple[Sweep, ...]
    carriers: Mapping[str, int]
    inputs: tuple[Input, ...]
    ratios_of: tuple[str, ...]


def reach_now(desk: Desk, link_id: str | None = None) -> ReachNow:
    """Return how the links of the job reach, or one of them.

    Carrier to interference takes a while for many links, so that it is told of one that is asked for alone.

    Raises
    ------
    CellFaults
        When the brief is not one that can be planned.
    InputError
        When the link is unknown.
    """
    if link_id is not None:
        named(link_id, {link.id: link for link in desk.job().links}, what="link", file=desk.path.name)
    return desk.keep_apart(_name(link_id), _stands_on(desk), partial(_reach, desk, link_id))


def glance(desk: Desk, link_id: str, antenna_id: str, at_m: tuple[float, float]) -> GlanceModel:
    """Return the map of a link with an antenna (both by their ids) at another spot, while somebody moves it.

    Raises
    ------
    CellFaults
        When the brief is not one that can be planned.
    InputError
        When link or antenna are unknown, or the link is not on the plan of a place.
    """
    job, file = desk.job(), desk.path.name
    named(link_id, {link.id: link for link in job.links}, what="link", file=file)
    named(antenna_id, {run.antenna.id: run for run in job.runs}, what="antenna", file=file)
    tables = reference.reach_tables()
    plan = plan_in_force(desk)
    carriers = {} if plan is None else plan.carriers()
    sight = desk.keep_apart(
        f"sight {link_id}",
        _stands_on(desk),
        lambda: sight_of(job, link_id, carriers=carriers, tables=tables, every_s=EVERY_S),
    )
    if sight is None:
        text = f'Link "{link_id}" is not on the plan of a place.'
        hint = "Write down the plan of its place, or choose another link."
        raise InputError.single("no-plan-of-the-place", text, given=link_id, hint=hint)
    return glance_model(sight.glance(antenna_id, at_m, tables))


def reach_in_worker(task: ReachTask, *, progress: Callable[[Progress], None], cancelled: Callable[[], bool]) -> str:
    """Return how links reach as the text of a document; runs in the worker."""
    context = Context(progress=progress, cancelled=cancelled)
    links = [link for link in task.job.links if link.id in task.links]
    found = judged(
        context,
        task.job,
        links,
        carriers=task.carriers,
        sweeps=task.sweeps,
        every_s=EVERY_S,
        ratios_of=task.ratios_of,
    )
    return found.document().model_copy(update={"inputs": task.inputs}).model_dump_json(by_alias=True)


def strong_facts(desk: Desk) -> StrongFacts | None:
    """Return what is known of whether the signal is strong enough; None where nothing can be told of any link.

    It never keeps anybody waiting who serves pages: what is not worked out yet is `pending`, and whoever listens is
    told once it is.
    """
    job = desk.brief().job
    if job is None or not job.links or not (job.runs or job.area):
        return None
    found = desk.known(_name(None), _stands_on(desk))
    if found is None and desk.worker is None:
        found = reach_now(desk)
    if found is None:
        _look_ahead(desk)
        return StrongFacts(pending=True)
    return _facts_of(found.document)


def _name(link_id: str | None) -> str:
    return "reach" if link_id is None else f"reach {link_id}"


def _stands_on(desk: Desk) -> tuple[int, int | None]:
    plan = plan_in_force(desk)
    return desk.file.seq_of("entry", "sweep"), None if plan is None else plan.number


def _reach(desk: Desk, link_id: str | None) -> ReachNow:
    ground, plan = ground_of(desk), plan_in_force(desk)
    task = ReachTask(
        job=ground.job,
        links=tuple(link.id for link in ground.job.links) if link_id is None else (link_id,),
        sweeps=ground.sweeps,
        carriers={} if plan is None else plan.carriers(),
        inputs=(*ground.inputs, *(() if plan is None else (plan.input,))),
        ratios_of=() if link_id is None else (link_id,),
    )
    document = ReachDocument.model_validate_json(beside(desk, reach_in_worker, task))
    return ReachNow(
        plan=None if plan is None else plan.number,
        carriers_from=NO_PLAN if plan is None else f"plan {plan.number}, {plan.row.check_phrase}",
        cables=tuple(cable.name for cable in reference.reach_tables().cables),
        document=document,
    )


def _facts_of(document: ReachDocument) -> StrongFacts:
    by_state: dict[str, list[str]] = {"enough": [], "short": [], "open": []}
    for link in document.links:
        state = link.state if link.standing is None else link.standing.state
        by_state[state].append(link.id if link.name == link.id else f"{link.id} {link.name}")
    known = [
        (link.standing.reserve_db, link.id, link.standing.where)
        for link in document.links
        if link.standing is not None and link.standing.reserve_db is not None
    ]
    least = min(known, default=(None, None, None))
    return StrongFacts(
        enough=len(by_state["enough"]),
        short=tuple(by_state["short"]),
        untold=tuple(by_state["open"]),
        least_db=least[0],
        least=least[1],
        where=least[2],
    )


def _look_ahead(desk: Desk) -> None:
    """Work it out in a thread of its own, one at a time, and tell whoever listens."""
    if not desk.looking_ahead.acquire(blocking=False):
        return

    def look() -> None:
        try:
            try:
                reach_now(desk)
            finally:
                desk.looking_ahead.release()  # before anybody is told, who may ask for what is newer
            desk.tell(Told(seq=desk.seq, who="", what="", topics=("readiness",), uids=()))
        except BandwrightError as error:
            _LOG.info("how links reach is not known: %s", error)
        except Exception:
            _LOG.exception("how links reach could not be worked out")

    threading.Thread(target=look, name="bandwright-reach", daemon=True).start()
