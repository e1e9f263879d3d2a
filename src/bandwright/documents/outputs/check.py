"""The `check` document: the verdict on a list of carriers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.plan import PlacedLink, Plan, Violation, Warn
from bandwright.documents.outputs.common import Document, Input, Model, Number, RuleWord, khz, warned
from bandwright.documents.outputs.plan import ClosestModel, closest_model
from bandwright.documents.outputs.plan_levels import (
    CarrierToInterferenceModel,
    PlanLevelsModel,
    carrier_to_interference_model,
    plan_levels_model,
)

__all__ = ["CheckDocument", "ViolationModel", "check_document", "violation_model"]


class ViolationModel(Model):
    """One broken rule: whose receiver or permit, by what, and by how much."""

    rule: RuleWord
    victim: str
    sources: tuple[str, ...]
    family: str | None
    product_hz: int | None
    offset_khz: Number | None
    required_khz: Number | None
    text: str


class CheckedLinkModel(Model):
    """A link's carrier beside the rule that comes closest, and its predicted carrier to interference.

    `cautions` are those of a plan; null stands for what cannot be told.
    """

    link: str
    carrier_hz: int
    cautions: tuple[str, ...]
    closest: ClosestModel | None
    carrier_to_interference: CarrierToInterferenceModel | None


class CheckDocument(Document):
    """What `bandwright check --json` prints; `links` and `levels` only where levels are predicted."""

    schema_: Literal["bandwright.check/1"] = Field(default="bandwright.check/1", alias="schema")
    ok: bool
    violations: tuple[ViolationModel, ...]
    links: tuple[CheckedLinkModel, ...] = ()
    levels: PlanLevelsModel | None = None


def check_document(
    violations: Sequence[Violation],
    *,
    inputs: Sequence[Input],
    warnings: Sequence[Warn] = (),
    leveled: Plan | None = None,
) -> CheckDocument:
    """Return the broken rules as a document, `ok` when there is none, with the levels that a plan tells."""
    return CheckDocument(
        ok=not violations,
        violations=tuple(violation_model(item) for item in violations),
        links=() if leveled is None else tuple(_link(item) for item in leveled.links),
        levels=None if leveled is None else plan_levels_model(leveled.levels),
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _link(item: PlacedLink) -> CheckedLinkModel:
    return CheckedLinkModel(
        link=item.id,
        carrier_hz=item.carrier_hz,
        cautions=item.cautions,
        closest=closest_model(item.closest),
        carrier_to_interference=carrier_to_interference_model(item.carrier_to_interference),
    )


def violation_model(item: Violation) -> ViolationModel:
    """Return a broken rule as part of a document."""
    return ViolationModel(
        rule=item.rule,
        victim=item.victim,
        sources=item.sources,
        family=item.family,
        product_hz=item.product_hz,
        offset_khz=khz(item.offset_hz),
        required_khz=khz(item.required_hz),
        text=item.text,
    )
