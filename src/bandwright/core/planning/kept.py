"""What a plan keeps of an earlier one: link by link, and in all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bandwright.core.planning.plan import BoundStatus, Kept, Moved, Plan

__all__ = ["with_kept"]


def with_kept(plan: Plan, earlier_hz: Mapping[str, int], *, of: str, most: bool) -> Plan:
    """Return the plan with what it keeps of an earlier one.

    Parameters
    ----------
    plan
        The plan with its links, spare carriers and what is unplaced.
    earlier_hz
        The carriers of the earlier plan by id; those of links that this plan does not know do not count.
    of
        How the earlier plan is called.
    most
        Whether it is proven that no plan that places as much keeps more.
    """
    now: dict[str, int | None] = {item.id: None for item in plan.unplaced}
    now |= {link.id: link.carrier_hz for link in plan.links} | {spare.id: spare.carrier_hz for spare in plan.spares}
    had = [name for name in now if name in earlier_hz]
    moved = [Moved(id=name, from_hz=earlier_hz[name], to_hz=now[name]) for name in had if now[name] != earlier_hz[name]]
    kept = Kept(
        of=of,
        status=BoundStatus.PROVEN if most or not moved else BoundStatus.FOUND,
        had=len(had),
        moved=tuple(sorted(moved, key=lambda item: item.to_hz is None)),
        new=tuple(name for name, hz in now.items() if hz is not None and name not in earlier_hz),
    )
    return replace(
        plan,
        links=tuple(replace(link, was_hz=earlier_hz.get(link.id)) for link in plan.links),
        spares=tuple(replace(spare, was_hz=earlier_hz.get(spare.id)) for spare in plan.spares),
        kept=kept,
    )
