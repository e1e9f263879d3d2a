"""The verdict on a list of carriers, as text for a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from bandwright.core.planning.plan import PlacedLink, Violation, Warn
from bandwright.core.planning.restate import folded
from bandwright.core.words import and_list, caution_words, closest_words, one_line, ratio_words
from bandwright.sheets.terminal import wrapped

__all__ = ["check_text"]

_MANY = 3
_MOST_LINKS = 40
_THIN = "level-margin"


def check_text(
    violations: Sequence[Violation],
    warnings: Sequence[Warn],
    links: Sequence[PlacedLink] = (),
    *,
    carriers: int,
    columns: int = 100,
) -> str:
    """Return the verdict on so many carriers: what is broken, products that only restate a spacing folded into it.

    `links` tell their carrier to interference beside the rule that comes closest, those with least to spare first.
    """
    columns = max(columns, 50)
    verdict = _lines(folded(violations), carriers, columns)
    notes = (line for warning in warnings for line in wrapped(one_line(warning.in_terminal), columns, first="Note: "))
    return "\n".join([*verdict, *_levels(links, columns), *notes]) + "\n"


def _levels(links: Sequence[PlacedLink], columns: int) -> Iterator[str]:
    told = [(ratio, link) for link in links if (ratio := link.carrier_to_interference) is not None]
    told.sort(key=lambda item: math.inf if item[0].margin_db is None else item[0].margin_db)
    if not told:
        return
    yield "Predicted carrier to interference, beside the rule that comes closest:"
    wide = max(len(link.id) for _, link in told[:_MOST_LINKS])
    for ratio, link in told[:_MOST_LINKS]:
        closest = closest_words(link.closest) if link.closest is not None else "nothing near"
        thin = f"; {caution_words(_THIN)}" if _THIN in link.cautions else ""
        yield from wrapped(one_line(f"{ratio_words(ratio)}{thin}; {closest}"), columns, first=f"  {link.id:<{wide}}  ")
    if len(told) > _MOST_LINKS:
        yield f"  and {len(told) - _MOST_LINKS} more with no less to spare; --json lists them all"


def _lines(broken: Sequence[tuple[Violation, int]], carriers: int, columns: int) -> Iterator[str]:
    rules = "no rule is" if not broken else "1 rule is" if len(broken) == 1 else f"{len(broken)} rules are"
    yield f"{carriers} carrier{'' if carriers == 1 else 's'} checked: {rules} broken."
    for item, follow in broken:
        products = "1 IM product follows" if follow == 1 else f"{follow} IM products follow"
        more = f" {products} from that and {'is' if follow == 1 else 'are'} not told one by one." if follow else ""
        yield from wrapped(one_line(f"{item.text}{more}"), columns, first=f"  {item.rule:<11}")
    if shared := _in_all([item for item, _ in broken]):
        has = "has" if len(shared) == 1 else "have"
        yield from wrapped(one_line(f"{and_list(shared)} {has} a part in every one."), columns)


def _in_all(broken: Sequence[Violation]) -> list[str]:
    """Return the links and other users that have a part in everything that is broken, where that is three or more."""
    if len(broken) < _MANY:
        return []
    return sorted(set.intersection(*({item.victim, *item.sources} for item in broken)))
