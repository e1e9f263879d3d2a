"""A plan in the short words of the sheets, for a page: so that words are made in one place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bandwright.core.planning.plan import PlacedLink, Plan, Spare
from bandwright.core.words import bound_words, caution_words, closest_words, kept_words, noise_words

__all__ = ["CarrierWords", "PlanWords", "plan_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierWords:
    """What is closest to a carrier, what the sweeps say of it, and why it asks for caution."""

    closest: str | None
    noise: str | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWords:
    """How good a plan is, and the words of each carrier by the id of its link or spare carrier.

    `kept` says how many carriers of an earlier plan stay, and whether more could; None where it kept to none.
    """

    bound: str
    kept: str | None
    carriers: Mapping[str, CarrierWords]


def plan_words(plan: Plan) -> PlanWords:
    """Return what a plan says in the words that stand on its sheets."""
    carriers: tuple[PlacedLink | Spare, ...] = (*plan.links, *plan.spares)
    return PlanWords(
        bound=bound_words(plan.bound),
        kept=None if plan.kept is None else kept_words(plan.kept),
        carriers={item.id: _words(item) for item in carriers},
    )


def _words(item: PlacedLink | Spare) -> CarrierWords:
    closest = item.closest if isinstance(item, PlacedLink) else None
    return CarrierWords(
        closest=None if closest is None else closest_words(closest),
        noise=None if item.noise is None else noise_words(item.noise),
        cautions=tuple(caution_words(code) for code in item.cautions) if isinstance(item, PlacedLink) else (),
    )
