"""The `check` document: the verdict on a list of carriers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.plan import Violation, Warn
from bandwright.documents.outputs.common import Document, Input, Model, Number, RuleWord, khz, warned

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


class CheckDocument(Document):
    """What `bandwright check --json` prints."""

    schema_: Literal["bandwright.check/1"] = Field(default="bandwright.check/1", alias="schema")
    ok: bool
    violations: tuple[ViolationModel, ...]


def check_document(
    violations: Sequence[Violation], *, inputs: Sequence[Input], warnings: Sequence[Warn] = ()
) -> CheckDocument:
    """Return the broken rules as a document; `ok` when there is none."""
    return CheckDocument(
        ok=not violations,
        violations=tuple(violation_model(item) for item in violations),
        inputs=tuple(inputs),
        warnings=warned(warnings),
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
