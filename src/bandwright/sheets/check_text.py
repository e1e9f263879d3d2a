"""The verdict on a list of carriers, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bandwright.core.planning.plan import Violation, Warn
from bandwright.core.planning.restate import folded
from bandwright.core.words import and_list, one_line
from bandwright.sheets.terminal import wrapped

__all__ = ["check_text"]

_MANY = 3


def check_text(violations: Sequence[Violation], warnings: Sequence[Warn], *, carriers: int, columns: int = 100) -> str:
    """Return the verdict on so many carriers: what is broken, products that only restate a spacing folded into it."""
    return "\n".join(_lines(folded(violations), warnings, carriers, max(columns, 50))) + "\n"


def _lines(
    broken: Sequence[tuple[Violation, int]], warnings: Sequence[Warn], carriers: int, columns: int
) -> Iterator[str]:
    rules = "no rule is" if not broken else "1 rule is" if len(broken) == 1 else f"{len(broken)} rules are"
    yield f"{carriers} carrier{'' if carriers == 1 else 's'} checked: {rules} broken."
    for item, follow in broken:
        products = "1 IM product follows" if follow == 1 else f"{follow} IM products follow"
        more = f" {products} from that and {'is' if follow == 1 else 'are'} not told one by one." if follow else ""
        yield from wrapped(one_line(f"{item.text}{more}"), columns, first=f"  {item.rule:<11}")
    if shared := _in_all([item for item, _ in broken]):
        has = "has" if len(shared) == 1 else "have"
        yield from wrapped(one_line(f"{and_list(shared)} {has} a part in every one."), columns)
    for warning in warnings:
        yield from wrapped(one_line(warning.in_terminal), columns, first="Note: ")


def _in_all(broken: Sequence[Violation]) -> list[str]:
    """Return the links and other users that have a part in everything that is broken, where that is three or more."""
    if len(broken) < _MANY:
        return []
    return sorted(set.intersection(*({item.victim, *item.sources} for item in broken)))
