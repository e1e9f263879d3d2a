"""The `why` document: what every rule says of one carrier."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.explain import Explanation, Finding
from bandwright.core.planning.plan import Warn
from bandwright.documents.outputs.common import Document, Input, Model, Number, RuleWord, khz, warned
from bandwright.units import mhz_text

__all__ = ["WhyDocument", "why_document"]


class FindingModel(Model):
    """What one rule says."""

    rule: RuleWord
    verdict: Literal["stops", "allows"]
    text: str
    sources: tuple[str, ...]
    family: str | None
    offset_khz: Number | None
    required_khz: Number | None


class WhyDocument(Document):
    """What `bandwright why --json` prints; `beside_plan` tells whether the carriers of a plan counted."""

    schema_: Literal["bandwright.why/1"] = Field(default="bandwright.why/1", alias="schema")
    carrier_hz: int
    carrier_mhz: str
    link: str
    radio: str
    beside_plan: bool
    allowed: bool
    findings: tuple[FindingModel, ...]


def why_document(explanation: Explanation, *, inputs: Sequence[Input], warnings: Sequence[Warn] = ()) -> WhyDocument:
    """Return an explanation as a document."""
    return WhyDocument(
        carrier_hz=explanation.carrier_hz,
        carrier_mhz=mhz_text(explanation.carrier_hz),
        link=explanation.link,
        radio=explanation.radio,
        beside_plan=explanation.beside_plan,
        allowed=explanation.allowed,
        findings=tuple(_finding(item) for item in explanation.findings),
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
        offset_khz=khz(item.offset_hz),
        required_khz=khz(item.required_hz),
    )
