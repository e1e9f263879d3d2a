"""A change of plan as text for a terminal: the verdict, then what to do, one line after another."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence

from bandwright.core.planning.change import Change, LeftAlone, Move, Step
from bandwright.core.planning.plan import BoundStatus, Plan, Warn
from bandwright.core.words import and_list, one_line

__all__ = ["replan_text"]

_LEAST_WIDTH = 60


def replan_text(
    change: Change,
    plan: Plan,
    *,
    before: str,
    looked_at: Sequence[str],
    sweeps: str | None = None,
    warnings: Sequence[Warn] = (),
    columns: int = 100,
) -> str:
    """Return what is broken, who moves in which order and why, and who must not be touched; for so many columns.

    `before` names the plan before, `looked_at` what it was held against, `sweeps` the sweeps with their ages.
    """
    width = max(columns, _LEAST_WIDTH)
    parts = (
        _verdict(change, before, looked_at, width),
        _todo(change, width),
        _spares(change, width),
        _untouched(change, width),
        _left(change, plan, width),
        _end(plan, sweeps, warnings, width),
    )
    return "\n\n".join("\n".join(lines) for part in parts if (lines := list(part))) + "\n"


def _wrapped(text: str, width: int, indent: int = 0, hang: int = 2) -> list[str]:
    return textwrap.wrap(
        one_line(text),
        width,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_on_hyphens=False,
    )


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _verdict(change: Change, before: str, looked_at: Sequence[str], width: int) -> Iterable[str]:
    fine = _counted(len(change.fine), "link") + (" is fine" if len(change.fine) == 1 else " are fine")
    trouble = f", {len(change.in_trouble)} in trouble" if change.in_trouble else ""
    yield from _wrapped(f"{before} against {and_list(looked_at)}: {fine}{trouble}.", width)
    for item in change.broken:
        yield from _wrapped(f"{item.rule:<10} {item.text}", width, 2, 11)


def _todo(change: Change, width: int) -> Iterable[str]:
    if not change.steps:
        yield "Nobody has to move."
        return
    moving = [move for move in change.moves if move.from_hz is not None]
    fresh = len(change.moves) - len(moving)
    sure = "proven: fewer cannot do it" if change.fewest is BoundStatus.PROVEN else "found; fewer are not ruled out"
    new = f" {_counted(fresh, 'link')} {'is' if fresh == 1 else 'are'} new on the air." if fresh else ""
    yield from _wrapped(f"{_counted(len(moving), 'link')} to move ({sure}).{new} In this order:", width)
    reasons = {move.link: move for move in change.moves}
    last = None
    for number, step in enumerate(change.steps, start=1):
        if step.at_break is not last:
            yield "At the next break" if step.at_break else "Now"
            last = step.at_break
        yield from _wrapped(f"{number:>3}  {_onto(step, reasons)}", width, 0, 5)
        if step.link in reasons and step.to_hz == reasons[step.link].to_hz:
            yield from _wrapped(reasons[step.link].reason, width, 5, 0)


def _onto(step: Step, moves: Mapping[str, Move]) -> str:
    move = moves.get(step.link)
    spare = move.spare if move is not None and step.to_hz == move.to_hz else None
    return step.text + (f" (spare carrier {spare})" if spare else "")


def _spares(change: Change, width: int) -> Iterable[str]:
    if change.spares:
        yield "Spare carriers"
        for item in change.spares:
            yield from _wrapped(item.text, width, 2)


def _untouched(change: Change, width: int) -> Iterable[str]:
    if change.not_touched:
        yield "Do not touch"
        yield from _listed(change.not_touched, width)


def _left(change: Change, plan: Plan, width: int) -> Iterable[str]:
    if change.stuck:
        yield "Should go, and may not"
        yield from _listed(change.stuck, width)
    if plan.unplaced:
        yield "Without a carrier"
        told = [(item.id, " ".join(reason.text for reason in item.reasons)) for item in plan.unplaced]
        yield from _reasons(told, width)


def _listed(items: Sequence[LeftAlone], width: int) -> Iterable[str]:
    return _reasons([(item.link, item.why) for item in items], width)


def _reasons(told: Iterable[tuple[str, str]], width: int) -> Iterable[str]:
    """Yield links with why, those with one reason on one line."""
    by_reason: dict[str, list[str]] = {}
    for link, why in told:
        by_reason.setdefault(why, []).append(link)
    for why, links in by_reason.items():
        yield from _wrapped(f"{and_list(links)}: {why.rstrip('.')}.", width, 2)


def _end(plan: Plan, sweeps: str | None, warnings: Sequence[Warn], width: int) -> Iterable[str]:
    yield from _wrapped(f"Plan {plan.number} ({plan.check_phrase}).", width)
    if sweeps is not None:
        yield from _wrapped(f"Sweep: {sweeps}", width, 0, 7)
    for warning in (*warnings, *plan.warnings):
        yield from _wrapped(f"Note: {warning.in_terminal}", width, 0, 6)
