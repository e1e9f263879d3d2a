"""The `replan` document: what the plan before breaks now, which links move, in which order, and the new plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.change import Change, LeftAlone, Move, Step
from bandwright.core.planning.move_order import Action
from bandwright.core.planning.plan import BoundStatus, Warn
from bandwright.documents.outputs.check import ViolationModel, violation_model
from bandwright.documents.outputs.common import Document, Input, Model, Run, warned
from bandwright.documents.outputs.plan import PlanDocument

__all__ = ["MoveModel", "ReplanDocument", "replan_document"]

When = Literal["now", "break"]


class CheckedModel(Model):
    """The verdict on the plan before: links without and with a part in a broken rule."""

    ok: bool
    violations: tuple[ViolationModel, ...]
    fine: tuple[str, ...]
    in_trouble: tuple[str, ...]


class MoveModel(Model):
    """One link that moves; `from_hz` is null for one that had no carrier, `spare` the spare carrier it takes."""

    link: str
    from_hz: int | None
    to_hz: int
    when: When
    spare: str | None
    reason: str
    text: str


class StepModel(Model):
    """One thing to do, in its turn; a carrier is null where the link is off."""

    link: str
    action: Action
    from_hz: int | None
    to_hz: int | None
    when: When
    text: str


class LeftAloneModel(Model):
    """A link that must not be touched, or that should go and may not."""

    link: str
    text: str


class SpareChangeModel(Model):
    """A spare carrier that is another one now; a carrier is null where there is none."""

    id: str
    from_hz: int | None
    to_hz: int | None
    text: str


class ReplanDocument(Document):
    """What `bandwright replan --json` prints. Moves stand in the order in which to make them; `steps` has it all."""

    schema_: Literal["bandwright.replan/1"] = Field(default="bandwright.replan/1", alias="schema")
    checked: CheckedModel
    moves: tuple[MoveModel, ...]
    steps: tuple[StepModel, ...]
    fewest: Literal[BoundStatus.PROVEN, BoundStatus.FOUND]
    not_touched: tuple[LeftAloneModel, ...]
    stuck: tuple[LeftAloneModel, ...]
    unplaced: tuple[str, ...]
    spares: tuple[SpareChangeModel, ...]
    plan: PlanDocument
    run: Run


def replan_document(
    change: Change, plan: PlanDocument, *, inputs: Sequence[Input], run: Run, warnings: Sequence[Warn] = ()
) -> ReplanDocument:
    """Return a change and the plan it leads to as the document."""
    return ReplanDocument(
        checked=CheckedModel(
            ok=not change.broken,
            violations=tuple(violation_model(item) for item in change.broken),
            fine=change.fine,
            in_trouble=change.in_trouble,
        ),
        moves=tuple(_move(item) for item in change.moves),
        steps=tuple(_step(item) for item in change.steps),
        fewest=change.fewest,
        not_touched=tuple(_left_alone(item) for item in change.not_touched),
        stuck=tuple(_left_alone(item) for item in change.stuck),
        unplaced=tuple(item.id for item in plan.unplaced),
        spares=tuple(
            SpareChangeModel(id=item.id, from_hz=item.from_hz, to_hz=item.to_hz, text=item.text)
            for item in change.spares
        ),
        plan=plan,
        inputs=tuple(inputs),
        warnings=warned(warnings),
        run=run,
    )


def _when(*, at_break: bool) -> When:
    return "break" if at_break else "now"


def _move(item: Move) -> MoveModel:
    return MoveModel(
        link=item.link,
        from_hz=item.from_hz,
        to_hz=item.to_hz,
        when=_when(at_break=item.at_break),
        spare=item.spare,
        reason=item.reason,
        text=item.text,
    )


def _step(item: Step) -> StepModel:
    return StepModel(
        link=item.link,
        action=item.action,
        from_hz=item.from_hz,
        to_hz=item.to_hz,
        when=_when(at_break=item.at_break),
        text=item.text,
    )


def _left_alone(item: LeftAlone) -> LeftAloneModel:
    return LeftAloneModel(link=item.link, text=f"{item.link}: {item.why}.".replace("..", "."))
