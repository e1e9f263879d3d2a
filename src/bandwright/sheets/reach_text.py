"""Whether the signal will be there, as text for a terminal: one line a link, then the way of each kind of signal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from bandwright.core.kit import Diversity
from bandwright.core.planning.plan import CarrierToInterference
from bandwright.core.reach.advice import Advice
from bandwright.core.reach.alike import links_alike
from bandwright.core.reach.area_reach import AreaReach
from bandwright.core.reach.audible import counted_words, often_words
from bandwright.core.reach.budget import Branch
from bandwright.core.reach.chain import Step
from bandwright.core.reach.facts import Gap, gap_lines
from bandwright.core.reach.fading import MOSTLY_GONE
from bandwright.core.reach.link import LinkReach, Squelch, State, Walk
from bandwright.core.reach.standing import Standing, standings
from bandwright.core.words import one_line, ratio_words, share_words
from bandwright.sheets.area_text import area_lines
from bandwright.sheets.terminal import cut, padded, wrapped
from bandwright.units import mhz_text

__all__ = ["reach_text"]

_LEAST_WIDTH = 72
_TOLD = 8
_FIGURES = 33  # what the figures at the end of a step take
_STATES = {State.ENOUGH: "enough", State.SHORT: "short", State.OPEN: "open"}
_DIVERSITY = {
    Diversity.NONE: "one antenna",
    Diversity.SWITCHING: "switches between {} antennas",
    Diversity.SELECTION: "takes the better of {} antennas",
    Diversity.COMBINING: "adds up {} antennas",
}


def reach_text(
    links: Sequence[LinkReach],
    advice: Mapping[str, Sequence[Advice]],
    *,
    area: AreaReach | None = None,
    ratios: Mapping[str, CarrierToInterference] = MappingProxyType({}),
    cautions: Sequence[str],
    notes: Sequence[str],
    columns: int = 100,
) -> str:
    """Return how links stand, for a terminal of so many columns; links alike in everything share one diagram.

    Where there is a plan of the place, what was found on it follows the summary; then carrier to interference by link,
    where it is known.
    """
    width = max(columns, _LEAST_WIDTH)
    plan = () if area is None else area_lines(area, width=width)
    lacking = [gap for item in links for gap in item.gaps] + list(area.gaps if area is not None else ())
    stand = standings(links, area)
    parts = [
        _summary(links, stand, width),
        _short(links, stand, width),
        plan,
        _ratios(links, ratios, width),
        *(_group(group, advice, width) for group in links_alike(links)),
        _missing(lacking, width),
    ]
    parts.append([line for text in notes for line in wrapped(one_line(text), width, first="Note: ")])
    parts.append([line for text in cautions for line in wrapped(text, width)])
    return "\n\n".join("\n".join(lines) for part in parts if (lines := list(part))) + "\n"


def _short(links: Sequence[LinkReach], stand: Mapping[str, Standing], width: int) -> Iterator[str]:
    """Yield which links fall short, by how much and where, the worst first; and what they have where it is better."""
    short = [(one.lowest, one.besides, item) for item in links if (one := stand[item.link.id]).state is State.SHORT]
    ranked = sorted(short, key=lambda one: one[0].reserve_db if one[0] is not None else 0.0)
    for lowest, besides, item in ranked[:_TOLD]:
        assert lowest is not None
        who = item.link.id if item.link.name == item.link.id else f"{item.link.id} {item.link.name}"
        better = "" if besides is None else f" ({besides.words})"
        yield from wrapped(one_line(f"{who} falls short: {lowest.words}{better}."), width, first="  ")
    if len(ranked) > _TOLD:
        yield f"  {len(ranked) - _TOLD} more fall short; --json lists them."


def _summary(links: Sequence[LinkReach], stand: Mapping[str, Standing], width: int) -> Iterator[str]:
    label = max(5, *(len(item.link.id) for item in links))
    room = width - label - 51
    yield f"{'Label':<{label}}  {'Name':<{room}} {'MHz':>9} {'dBm':>7} {'C/N dB':>7} {'Margin':>7} {'Needs':>6}  State"
    for item in links:
        best, needs = item.best, item.walk.needed_db if item.walk is not None else None
        name = padded(cut(one_line(item.link.name), room), room)
        yield (
            f"{item.link.id:<{label}}  {name} {mhz_text(item.facts.carrier_hz):>9} {_figure(best.level_dbm):>7} "
            f"{_figure(best.cn_db):>7} {_figure(item.margin_db):>7} {_figure(needs):>6}  "
            f"{_STATES[stand[item.link.id].state]}"
        )
    walks = [item.walk for item in links if item.walk is not None]
    counted = counted_words(walk.audible for walk in walks)
    if walks:
        yield ""
        yield from wrapped(
            "Level and C/N at the receiver, at the farthest point, with the body as it usually is, of the stronger "
            "run; the margin is the mean of the runs that help. Needs: the margin in dB for no more than one audible "
            f"dropout in {walks[0].every_s / 60:g} min of walking there. {counted}",
            width,
        )


def _ratios(links: Sequence[LinkReach], ratios: Mapping[str, CarrierToInterference], width: int) -> Iterator[str]:
    told = [item for item in links if item.link.id in ratios]
    if not told:
        return
    yield "Carrier to interference on this plan, in 95 of 100 stage pictures and at worst:"
    for item in told:
        who = item.link.id if item.link.name == item.link.id else f"{item.link.id} {item.link.name}"
        text = one_line(f"{who}: {ratio_words(ratios[item.link.id])}")
        yield from wrapped(text, width, first="  ")


def _group(group: Sequence[LinkReach], advice: Mapping[str, Sequence[Advice]], width: int) -> Iterator[str]:
    item = group[0]
    ids = ", ".join(one.link.id for one in group)
    yield from wrapped(f"{ids}: {item.facts.words}", width)
    for branch in item.branches:
        yield from _diagram(branch, width)
        yield from wrapped(_at_receiver(branch), width, first="  ")
    for text in _told(item):
        yield from wrapped(text, width, first="  ")
    for one in advice[item.link.id]:
        yield from wrapped(one_line(one.text), width, first="  - ")


def _diagram(branch: Branch, width: int) -> Iterator[str]:
    if not branch.steps:
        return
    room = width - _FIGURES - 19
    title = "" if branch.run is None else f"by {branch.run.name}"
    yield f"  {padded(cut(one_line(title), room + 14), room + 14)} {'dB':>7}   {'level dBm':>9} {'noise dBm':>10}"
    for number, step in enumerate(branch.steps):
        mark = "o" if number in (0, len(branch.steps) - 1) else "|"
        name = padded(cut(one_line(step.name), room), room)
        yield (f"  {mark} {step.what:<12}{name} {_change(step):>7}   {step.level_dbm:9.1f} {_noise(step):>10}".rstrip())


def _noise(step: Step) -> str:
    return "" if step.noise_dbm is None else f"{step.noise_dbm:.1f}"


def _change(step: Step) -> str:
    return "" if step.what == "transmitter" else f"{step.gain_db:+.1f}"


def _at_receiver(branch: Branch) -> str:
    words = []
    if branch.level_dbm is not None and branch.lowest_dbm is not None:
        words.append(f"At the receiver {branch.level_dbm:.1f} dBm, {branch.lowest_dbm:.1f} dBm at worst (body, cable)")
    if branch.noise_dbm is not None:
        words.append(f"noise with its own {branch.noise_dbm:.1f} dBm")
    if branch.margin_db is not None and branch.lowest_margin_db is not None:
        words.append(f"{branch.margin_db:.1f} dB over {branch.margin_over}, {branch.lowest_margin_db:.1f} dB at worst")
    iip3_dbm = branch.chain.iip3_dbm()
    if iip3_dbm is not None and math.isfinite(iip3_dbm):
        words.append(f"third-order intercept point at the antenna {iip3_dbm:.1f} dBm")
    return "; ".join(words)


def _told(item: LinkReach) -> Iterator[str]:
    if item.walk is not None:
        yield from _walk(item.walk)
    if item.snr_db is not None:
        yield (
            f"Sound: {item.snr_db:.0f} dB signal to noise at full deviation, {_before(item)} companding, where nothing "
            "else limits it."
        )
    if item.squelch is not None:
        yield _squelch(item.squelch)


def _before(item: LinkReach) -> str:
    known = item.link.radio.preemphasis_us
    return "before de-emphasis and" if known is None else f"with de-emphasis of {known:g} us and before"


def _walk(walk: Walk) -> Iterator[str]:
    antennas = _DIVERSITY[walk.fading.diversity].format(walk.fading.branches)
    yield f"Walking there ({antennas}): {_dropouts(walk)}. {walk.needed_db:.0f} dB of margin are asked."
    if walk.places is not None:
        kept = f"{math.floor(walk.places * 100)} %"
        yield f"Of all points as far away {kept} keep that margin (scatter of the path model)."


def _ms(value: float) -> str:
    return f"{value:.0f}" if value >= 100 else f"{value:.2g}"


def _dropouts(walk: Walk) -> str:
    """Return how the signal drops out; where it is gone more often than there, dropouts are nothing to count."""
    if walk.outage > MOSTLY_GONE:
        return f"below what the receiver needs {share_words(walk.outage)} of the time"
    heard = f"{often_words(walk.dropouts_per_min, 'audible dropout')} ({walk.audible.words})"
    lasting = "" if walk.duration_s is None else f", {_ms(walk.duration_s * 1000)} ms in the mean"
    dips = often_words(walk.dips_per_min, "dip")
    return f"{heard}; of any length {dips}{lasting}; {share_words(walk.outage)} of the time"


def _squelch(squelch: Squelch) -> str:
    low, high = squelch.over_noise_dbm
    if squelch.level_dbm is None:
        return (
            f"Squelch: no setting is both 6 dB over the noise ({low:.0f} dBm) and 10 dB under the lowest level "
            f"({squelch.under_lowest_dbm:.0f} dBm)."
        )
    return (
        f"Squelch: {squelch.level_dbm:.0f} dBm (6 to 10 dB over the noise is {low:.0f} to {high:.0f} dBm; at most "
        f"{squelch.under_lowest_dbm:.0f} dBm). Never raise it to hide an interferer."
    )


def _missing(lacking: Sequence[Gap], width: int) -> Iterable[str]:
    lines = gap_lines(lacking)
    if lines:
        yield "To fill in:"
    for line in lines:
        yield from wrapped(line, width, first="  ")


def _figure(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"
