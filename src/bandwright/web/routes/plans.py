"""Plans: the one in force, those before it, runs of the engine, and a carrier in somebody's hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Body, Path, Response
from pydantic import Field

from bandwright.service import job_hand, job_plans, job_replan, job_runs, runs
from bandwright.service.plan_words import CarrierWords, plan_words
from bandwright.service.shapes import PlanDocument, ReplanDocument
from bandwright.web.exact import Exact, ExactRoute, dumps
from bandwright.web.models import REFUSALS, Asked, Change, Shape, Uid, Wish, change_of
from bandwright.web.serving import Asker, Here, Keyed, Serving

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["plans"], route_class=ExactRoute, responses=REFUSALS)

Number = Annotated[int, Path(ge=1, le=2**31)]
Seconds = Annotated[float, Field(ge=0, le=86_400)]
Plain = Annotated[Wish | None, Body()]


class Plans(Shape):
    """All plans, newest first."""

    plans: list[job_plans.PlanLine]


class PlanNow(Shape):
    """A plan with its evidence; `stale` says what changed since it was made.

    `bound_text` says how good it is, `kept_text` how many carriers of an earlier plan it keeps and whether more could
    be (null where it kept to none), `texts` has the words for each link and spare carrier by its id.
    """

    number: int
    check_phrase: str
    made: str
    by: str
    stale: str | None
    bound_text: str
    kept_text: str | None
    texts: Mapping[str, CarrierWords]
    document: PlanDocument


class RunWish(Asked):
    """What to run the engine with; what is absent is as the brief says.

    With `keep` as many links as can be keep the carriers of the plan in force.
    """

    time_limit_s: Seconds | None = None
    seed: Annotated[int, Field(ge=0, le=2**53 - 1)] | None = None
    keep: bool = False


class ReplanWish(Asked):
    """Ids of links whose carriers are of no use where they stand; whether nobody is on the air yet."""

    lost: tuple[str, ...] = ()
    off_air: bool = False
    time_limit_s: Seconds | None = None


class Hand(Asked):
    """A link (by its uid) on a carrier, as long as somebody holds it."""

    link: Uid
    carrier_hz: Annotated[int, Field(ge=0, le=10**12)]


class Move(Wish):
    """Put a link on a carrier; `base` is the number of the plan that whoever moves it has before their eyes."""

    link: Uid
    carrier_hz: Annotated[int, Field(ge=0, le=10**12)]
    base: Annotated[int, Field(ge=1, le=2**31)]


class KeptPlan(Shape):
    """The number of the new plan, whether it is in force, and what changed."""

    number: int
    in_force: bool
    change: Change


class Proposal(Shape):
    """A replan that nobody has accepted yet; `base` is the plan that it starts from."""

    lost: list[str]
    base: int
    document: ReplanDocument


class Accept(Wish):
    """How to accept a replan: with `keep_off` the interference on lost carriers is written into the brief."""

    keep_off: bool = False


@router.get("/plan", response_model=PlanNow | None)
def plan_in_force(here: Here, me: Asker) -> Response:
    """Return the plan in force; null where there is none."""
    found = job_plans.plan_in_force(here.desk)
    return Exact(None if found is None else _plan(here, found))


@router.get("/plans", response_model=Plans)
def all_plans(here: Here, me: Asker) -> Response:
    """Return all plans."""
    return Exact({"plans": job_plans.plan_lines(here.desk)})


@router.get("/plans/{number}", response_model=PlanNow)
def one_plan(here: Here, me: Asker, number: Number) -> Response:
    """Return a plan by its number."""
    return Exact(_plan(here, job_plans.plan_numbered(here.desk, number)))


@router.post("/plans/{number}/current", response_model=Change)
def use(here: Here, me: Asker, keyed: Keyed, number: Number, wish: Plain = None) -> Response:
    """Put a plan in force; what was ticked of links that it moves is taken back."""
    return Exact(change_of(job_plans.use_plan(here.desk, number, who=me.name, client_key=keyed(wish))))


@router.post("/plan/run", response_model=runs.RunState)
def run(here: Here, me: Asker, wish: Annotated[RunWish | None, Body()] = None) -> Response:
    """Plan the job in the worker; the socket tells how it goes."""
    wish = RunWish() if wish is None else wish
    state = job_runs.run_plan(here.desk, who=me.name, time_limit_s=wish.time_limit_s, seed=wish.seed, keep=wish.keep)
    return Exact(state)


@router.get("/plan/run", response_model=runs.RunState | None)
def run_state(here: Here, me: Asker) -> Response:
    """Return how the run that is going on stands, or the last one; null before the first."""
    found = runs.run_of(here.desk)
    return Exact(found)


@router.post("/plan/run/cancel", response_model=runs.RunState | None)
def cancel(here: Here, me: Asker) -> Response:
    """Ask the run to stop; the best it has is kept."""
    found = runs.cancel_run(here.desk)
    return Exact(found)


@router.post("/plan/preview", response_model=job_hand.InHand)
def preview(here: Here, me: Asker, hand: Hand) -> Response:
    """Return what moving a link to a carrier would mean; nothing is changed."""
    return Exact(job_hand.preview_link(here.desk, hand.link, hand.carrier_hz))


@router.post("/plan/move", response_model=KeptPlan)
def move(here: Here, me: Asker, keyed: Keyed, wish: Move) -> Response:
    """Put a link on another carrier: a new numbered plan, in force at once; 409 when another plan is in force."""
    kept = job_hand.move_link(
        here.desk, wish.link, wish.carrier_hz, base=wish.base, who=me.name, client_key=keyed(wish)
    )
    return Exact(_kept(kept))


@router.post("/replan", response_model=runs.RunState)
def replan(here: Here, me: Asker, wish: ReplanWish) -> Response:
    """Look in the worker for the fewest moves from the plan in force; what comes out is a proposal."""
    state = job_replan.run_replan(
        here.desk, who=me.name, lost=wish.lost, off_air=wish.off_air, time_limit_s=wish.time_limit_s
    )
    return Exact(state)


@router.get("/replan", response_model=Proposal | None)
def proposal(here: Here, me: Asker) -> Response:
    """Return the replan that waits to be accepted; null where none does."""
    found = job_replan.proposal_of(here.desk)
    return Exact(None if found is None else Proposal.model_validate(found))


@router.post("/replan/accept", response_model=KeptPlan)
def accept(here: Here, me: Asker, keyed: Keyed, wish: Annotated[Accept | None, Body()] = None) -> Response:
    """Put the proposed moves in force as a new plan; 409 when the brief or the plan changed since."""
    keep_off = wish is not None and wish.keep_off
    kept = job_replan.accept_replan(here.desk, who=me.name, keep_off=keep_off, client_key=keyed(wish))
    return Exact(_kept(kept))


def _plan(here: Serving, found: job_plans.PlanNow) -> bytes:
    """Return a plan as it is told: written once, since every open page asks for it after each change."""
    return here.desk.keep_apart(f"told {found.number}", found.stale, lambda: dumps(_told(found)).encode())


def _told(found: job_plans.PlanNow) -> PlanNow:
    words = plan_words(found.plan)
    return PlanNow(
        number=found.number,
        check_phrase=found.row.check_phrase,
        made=found.made.isoformat(timespec="minutes"),
        by=found.row.made_by,
        stale=found.stale,
        bound_text=words.bound,
        kept_text=words.kept,
        texts=words.carriers,
        document=found.document,
    )


def _kept(kept: job_runs.Kept) -> KeptPlan:
    return KeptPlan(number=kept.number, in_force=kept.in_force, change=change_of(kept.changed))
