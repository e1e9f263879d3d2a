"""The `why` document: what every rule says of one carrier."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.explain import Explanation, Finding, Opening, Unasked
from bandwright.core.planning.plan import CarrierToInterference, Warn
from bandwright.documents.outputs.common import Document, Input, Model, Number, RuleWord, khz, warned
from bandwright.documents.outputs.plan import ReasonModel
from bandwright.documents.outputs.plan_levels import CarrierToInterferenceModel, carrier_to_interference_model
from bandwright.units import mhz_text

__all__ = ["WhyDocument", "why_document"]


class FindingModel(Model):
    """What one rule says; `asked_by` is what asks for `required_khz`, `remedy` what would have to change.

    `restates` marks products that only say again that two carriers are nearer than their spacing.
    """

    rule: RuleWord
    verdict: Literal["stops", "allows"]
    text: str
    sources: tuple[str, ...]
    family: str | None
    product_hz: int | None
    offset_khz: Number | None
    required_khz: Number | None
    asked_by: str | None
    remedy: str | None
    restates: bool


class OpeningModel(Model):
    """What would open a stopped carrier.

    `links` are the fewest own links that would have to leave (`fewest`: proven, or found), null where moving any does
    not help; `stays` are the rules that keep it closed whatever moves, `immovable` the links in the way that are held
    or never move.
    """

    links: tuple[str, ...] | None
    fewest: Literal["proven", "found"] | None
    stays: tuple[RuleWord, ...]
    immovable: tuple[str, ...]


class UnaskedModel(Model):
    """What would stop it if all concerned heard each other at one time, and the reason why that is not asked."""

    text: str
    reason: ReasonModel
    victim: str
    sources: tuple[str, ...]
    family: str | None
    offset_khz: Number
    would_require_khz: Number


class WhyDocument(Document):
    """What `bandwright why --json` prints, the most important finding first.

    `beside` tells what counted: a plan, the links that the brief holds, or nothing. `carrier_to_interference` is what
    the link would have there, null where no levels can be predicted.
    """

    schema_: Literal["bandwright.why/1"] = Field(default="bandwright.why/1", alias="schema")
    carrier_hz: int
    carrier_mhz: str
    link: str
    radio: str
    beside_plan: bool
    beside: Literal["plan", "held links", "nothing"]
    allowed: bool
    findings: tuple[FindingModel, ...]
    to_open: OpeningModel | None
    not_asked: tuple[UnaskedModel, ...]
    carrier_to_interference: CarrierToInterferenceModel | None = None


def why_document(
    explanation: Explanation,
    *,
    inputs: Sequence[Input],
    warnings: Sequence[Warn] = (),
    ratio: CarrierToInterference | None = None,
) -> WhyDocument:
    """Return an explanation as a document."""
    return WhyDocument(
        carrier_hz=explanation.carrier_hz,
        carrier_mhz=mhz_text(explanation.carrier_hz),
        link=explanation.link,
        radio=explanation.radio,
        beside_plan=explanation.beside_plan,
        beside=explanation.beside,
        allowed=explanation.allowed,
        findings=tuple(_finding(item) for item in explanation.findings),
        to_open=None if explanation.opening is None else _opening(explanation.opening),
        not_asked=tuple(_unasked(item) for item in explanation.unasked),
        carrier_to_interference=carrier_to_interference_model(ratio),
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _finding(item: Finding) -> FindingModel:
    return FindingModel(
        rule=item.rule,
        verdict="stops" if item.stops else "allows",
        text=item.text,
        sources=item.sources,
        family=item.family,
        product_hz=item.product_hz,
        offset_khz=khz(item.offset_hz),
        required_khz=khz(item.required_hz),
        asked_by=item.asked_by,
        remedy=item.remedy,
        restates=item.restates,
    )


def _opening(item: Opening) -> OpeningModel:
    fewest = None if item.links is None else "proven" if item.proven else "found"
    return OpeningModel(links=item.links, fewest=fewest, stays=item.stays, immovable=item.immovable)


def _unasked(item: Unasked) -> UnaskedModel:
    return UnaskedModel(
        text=item.text,
        reason=ReasonModel(code=item.reason.code, text=item.reason.text),
        victim=item.victim,
        sources=item.sources,
        family=item.family,
        offset_khz=khz(item.offset_hz),
        would_require_khz=khz(item.would_require_hz),
    )
