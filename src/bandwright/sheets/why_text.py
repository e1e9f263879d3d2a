"""Why a carrier may or may not be used, as text for a terminal: the verdict, what would open it, then rule by rule."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bandwright.core.planning.explain import Explanation, Finding, Opening
from bandwright.core.planning.plan import CarrierToInterference
from bandwright.core.words import and_list, one_line, ratio_words
from bandwright.sheets.terminal import wrapped
from bandwright.units import mhz_text

__all__ = ["why_text"]

_MOST_LINES = 12
_BESIDE = {
    "plan": "beside the plan",
    "held links": "beside the links that the brief holds (no plan was given)",
    "nothing": "by itself (no plan was given)",
}


def why_text(found: Explanation, ratio: CarrierToInterference | None = None, *, columns: int = 100) -> str:
    """Return an explanation for a terminal of so many columns, with the predicted levels there where they are known."""
    return "\n".join(_lines(found, ratio, max(columns, 50))) + "\n"


def _lines(found: Explanation, ratio: CarrierToInterference | None, columns: int) -> Iterator[str]:
    name = one_line(found.name)
    whom = found.link if found.link.startswith("any ") or name == found.link else f"{found.link} ({name})"
    verdict = "may be used" if found.allowed else "is stopped"
    yield from wrapped(f"{mhz_text(found.carrier_hz)} MHz for {whom} {verdict} {_BESIDE[found.beside]}.", columns)
    if found.opening is not None:
        yield from wrapped(_opening(found.opening), columns)
    if ratio is not None:
        yield from wrapped(one_line(f"Predicted there: {ratio_words(ratio)}{_level(ratio)}."), columns)
    stops = [finding for finding in found.findings if finding.stops and not finding.restates]
    yield from _findings("Stops it", stops, columns)
    follow = sum(finding.restates for finding in found.findings)
    if follow:
        products = "1 IM product follows" if follow == 1 else f"{follow} IM products follow"
        yield from wrapped(
            f"{products} from carriers this near; --json lists {'it' if follow == 1 else 'them'}", columns, first="  "
        )
    yield from _findings("Allows it", [finding for finding in found.findings if not finding.stops], columns)
    if found.unasked:
        yield ""
        yield "Not asked"
        for item in found.unasked:
            yield from wrapped(f"{item.text}; not asked: {item.reason.text}.", columns, first="  ")


def _level(ratio: CarrierToInterference) -> str:
    if ratio.culprit is None:
        return ""
    return f", which comes in at {ratio.culprit.level_dbm:.0f} dBm where its own carrier has {ratio.wanted_dbm:.0f} dBm"


def _opening(opening: Opening) -> str:
    stays = and_list(opening.stays) if opening.stays else ""
    if not opening.links:
        whose = f" ({and_list(opening.immovable)}, held or never moved)" if opening.immovable else ""
        return f"Nothing of ours that moves opens it: {stays}{whose} would still stop it."
    sure = "no fewer will do" if opening.proven else "perhaps fewer will do"
    moves = f"{and_list(opening.links)} would have to move ({sure})"
    return f"To open it, {moves}, and {stays} give way." if stays else f"To open it, {moves}."


def _findings(title: str, findings: Sequence[Finding], columns: int) -> Iterator[str]:
    if not findings:
        return
    yield ""
    yield title
    for finding in findings[:_MOST_LINES]:
        yield from wrapped(finding.text, columns, first=f"  {finding.rule:<11}")
        more = [f"asked by {finding.asked_by}"] if finding.asked_by and finding.family is None else []
        more += [f"it takes {finding.remedy}"] if finding.remedy else []
        if more:
            yield from wrapped("; ".join(more), columns, first=" " * 13)
    if len(findings) > _MOST_LINES:
        yield f"  and {len(findings) - _MOST_LINES} more; --json lists them all"
