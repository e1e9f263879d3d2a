"""Where a link wastes decibels, what an amplifier would bring and cost, and what a second antenna does: in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from bandwright.core.kit import Diversity
from bandwright.core.reach.audible import margin_needed_db
from bandwright.core.reach.budget import Branch
from bandwright.core.reach.cascade import Stage
from bandwright.core.reach.chain import Chain
from bandwright.core.reach.fading import Fading
from bandwright.core.reach.link import WALKING_M_PER_S, LinkReach, State, Walk
from bandwright.core.reach.path import wavelength_m
from bandwright.core.reach.strong import strong_words
from bandwright.core.words import and_list
from bandwright.units import ERP_TO_EIRP_DB, mw_from_dbm

__all__ = ["CAUTIONS", "Advice", "advice_on"]

CAUTIONS = (
    "Antennas: keep masts so far from power lines that a falling one cannot reach them, none up in a storm, and secure "
    "all that hangs. Masts, work at height and mains are for licensed and competent people under local codes.",
    "RF exposure: limits depend on power, frequency and distance, and no power is exempt everywhere; local rules and "
    "what makers state decide, also for packs worn on the skin. In-ear levels can harm hearing: start low.",
)

_WORTH_DB = 3.0
_NOISE_OF_AMPLIFIER_DB = 4.0
_IN_SIGHT_DB = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One thing to know or to do: a short stable word, and the sentence."""

    code: str
    text: str


def advice_on(reach: LinkReach) -> tuple[Advice, ...]:
    """Return what there is to say about a link, the largest loss first."""
    found = [advice for kind in _KINDS for advice in kind(reach)]
    return tuple(dict.fromkeys(found))


def _losses(reach: LinkReach) -> Iterator[Advice]:
    """Yield the parts of each run that take the most, where that is worth a word."""
    for branch in reach.branches:
        passive = [step for step in branch.steps if step.what in _PASSIVE and step.gain_db <= -_WORTH_DB]
        for step in sorted(passive, key=lambda step: step.gain_db)[:2]:
            less, more = step.spread_db
            spread = f" ({-step.gain_db - less:.1f} to {-step.gain_db + more:.1f})" if more else ""
            yield Advice(code="loss", text=f"{_run(branch)}{step.name} costs {-step.gain_db:.1f} dB{spread}.")


_PASSIVE = ("cable", "filter", "splitter", "pad")


def _amplifier_to_add(reach: LinkReach) -> Iterator[Advice]:
    """Yield what an amplifier at the antenna would bring and cost, where a run loses much and has none."""
    for branch in reach.branches:
        chain = branch.chain
        lost_db = -chain.gain_db
        if not reach.facts.inward or lost_db < _WORTH_DB or any(stage.gain_db > 0 for stage in chain.stages):
            continue
        added = Stage(what="amplifier", name="amplifier", gain_db=lost_db, noise_figure_db=_NOISE_OF_AMPLIFIER_DB)
        noise, with_it = chain.noise_dbm(), chain.noise_dbm(stages=(added, *chain.stages))
        if noise is None or with_it is None:
            continue
        brings_db = noise - with_it
        text = (
            f"{_run(branch)}an amplifier of {lost_db:.0f} dB at the antenna (noise figure "
            f"{_NOISE_OF_AMPLIFIER_DB:g} dB) would bring {brings_db:.1f} dB of carrier over noise and cost "
            f"{lost_db:.0f} dB of headroom against strong signals"
        )
        enough = "; the margin is enough without it." if reach.state is State.ENOUGH else "."
        yield Advice(code="amplifier", text=text + enough)


def _amplifiers_there(reach: LinkReach) -> Iterator[Advice]:
    """Yield too much gain, the usual fault, and an amplifier at the wrong end of a cable."""
    for branch in reach.branches:
        chain = branch.chain
        active = [stage for stage in chain.stages if stage.gain_db > 0]
        if not active:
            continue
        if not reach.facts.inward:
            text = f"{_run(branch)}its amplifier is one to receive with; a transmitter cannot send through it."
            yield Advice(code="amplifier-backwards", text=text)
            continue
        yield from _too_much(branch, chain)
        yield from _wrong_end(branch, chain, active)


def _too_much(branch: Branch, chain: Chain) -> Iterator[Advice]:
    if chain.gain_db < _WORTH_DB:
        return
    pad_db = round(chain.gain_db)  # pads come in whole decibels
    pad = Stage.passive(what="pad", name="pad", loss_db=pad_db)
    padded = (*chain.stages, pad)
    costs = _difference(chain.noise_dbm(stages=padded), chain.noise_dbm())
    gains = _difference(chain.iip3_dbm(stages=padded), chain.iip3_dbm())
    text = f"{_run(branch)}{chain.gain_db:.1f} dB more gain than loss: strong signals arrive stronger."
    if costs is not None:
        text += f" A pad of {pad_db} dB before the receiver costs {costs:.1f} dB of carrier over noise"
        text += f", and moves the intercept point up by {gains:.1f} dB." if gains is not None else "."
    yield Advice(code="too-much-gain", text=text)


def _wrong_end(branch: Branch, chain: Chain, active: Sequence[Stage]) -> Iterator[Advice]:
    ahead = chain.stages[: chain.stages.index(active[0])]
    cables_db = sum(-stage.gain_db for stage in ahead if stage.what in ("cable", "splitter"))
    if cables_db < 1:
        return
    kept = [stage for stage in ahead if stage.what not in ("cable", "splitter")]
    moved = [stage for stage in ahead if stage.what in ("cable", "splitter")]
    behind = chain.stages[len(ahead) + 1 :]
    brings = _difference(chain.noise_dbm(), chain.noise_dbm(stages=(*kept, active[0], *moved, *behind)))
    if brings is not None and brings >= 1:
        text = (
            f"{_run(branch)}the amplifier stands behind {cables_db:.1f} dB of cable; at the antenna it would bring "
            f"{brings:.1f} dB of carrier over noise."
        )
        yield Advice(code="amplifier-late", text=text)


def _second_antenna(reach: LinkReach) -> Iterator[Advice]:
    walk = reach.walk
    if walk is None or not reach.facts.inward:
        return
    if 0 < len(walk.counted) < len(reach.branches):
        useless = [branch for number, branch in enumerate(reach.branches) if number not in walk.counted]
        names = and_list([branch.run.name for branch in useless if branch.run is not None])
        text = f"By {names} too little arrives to help the other {'ones' if len(walk.counted) > 1 else 'one'}."
        yield Advice(code="useless-antenna", text=text)
    saved_db = walk.needed_alone_db - walk.needed_db
    lam = wavelength_m(reach.facts.carrier_hz)
    if not walk.fading.alone:
        near = ""
        if walk.spacing_m is not None and walk.spacing_m < lam / 2:
            near = f", and they stand {walk.spacing_m:.2f} m apart: less than half a wavelength ({lam / 2:.2f} m)"
        text = f"Its {walk.fading.branches} antennas save {saved_db:.0f} dB of margin against one{near}."
        yield Advice(code="diversity", text=text)
    elif reach.link.radio.diversity not in (None, Diversity.NONE) and len(reach.branches) < 2:
        two = replace(walk.fading, branches=2, diversity=reach.link.radio.diversity or Diversity.SELECTION)
        text = "Its receiver can use two antennas and only one run feeds it"
        needed = _needed_db(walk, two)
        text += (
            f"; a second one some wavelengths away would lower the margin it needs from {walk.needed_db:.0f} to "
            f"{needed:.0f} dB."
        )
        yield Advice(code="second-antenna", text=text)
    elif reach.state is State.SHORT and len(reach.branches) < 2:
        two = replace(walk.fading, branches=2, diversity=Diversity.SELECTION)
        needed = _needed_db(walk, two)
        text = "A receiver that takes the better of two antennas needs "
        text += f"{needed:.0f} dB in place of {walk.needed_db:.0f} dB"
        stated = "" if reach.link.radio.diversity is not None else "; nobody says whether its own does (diversity)"
        yield Advice(code="second-antenna", text=f"{text}{stated}.")


def _needed_db(walk: Walk, fading: Fading) -> float:
    """Return the margin that would be asked for if the link faded like this."""
    return margin_needed_db(fading, doppler_hz=walk.doppler_hz, audible_s=walk.audible.s, at_most_every_s=walk.every_s)


def _one_antenna_twice(reach: LinkReach) -> Iterator[Advice]:
    if reach.facts.inward and reach.walk is not None and reach.walk.spacing_m == 0 and not reach.walk.fading.alone:
        yield Advice(
            code="one-antenna-twice",
            text="Two of its runs begin at one antenna: both fade together.",
        )


def _radiated(reach: LinkReach) -> Iterator[Advice]:
    """Yield what an in-ear transmitter radiates from another antenna than its own."""
    for branch in reach.branches:
        if reach.facts.inward or branch.run is None or branch.radiated_dbm is None:
            continue
        erp_mw = mw_from_dbm(branch.radiated_dbm - ERP_TO_EIRP_DB)
        text = f"{_run(branch)}it radiates {_figure(erp_mw)} mW ERP towards the area; hold that against the permit."
        yield Advice(code="radiated", text=text)


def _outside(reach: LinkReach) -> Iterator[Advice]:
    for branch in reach.branches:
        outside = (*(branch.path.outside if branch.path is not None else ()), *branch.chain.outside)
        for words in outside:
            yield Advice(code="outside-range", text=f"Outside a published range, so less sure: {words}.")


def _strong(reach: LinkReach) -> Iterator[Advice]:
    """Yield what clips first and who comes near that, and what is wrong with the supply of a line."""
    for strong in reach.strong:
        for code, text in strong_words(strong):
            yield Advice(code=code, text=text if strong.run is None else f"{strong.run.name}: {text}")


def _doubts(reach: LinkReach) -> Iterator[Advice]:
    for branch in reach.branches:
        for words in branch.chain.doubts:
            yield Advice(code="doubtful-part", text=f"{_run(branch)}{words}.")


def _short(reach: LinkReach) -> Iterator[Advice]:
    walk = reach.walk
    if walk is None or reach.state is not State.SHORT:
        return
    short_db = walk.needed_db - walk.margin_db
    text = (
        f"{short_db:.{1 if short_db < 1 else 0}f} dB short of what keeps audible dropouts to one in "
        f"{walk.every_s / 60:g} min of walking ({WALKING_M_PER_S:g} m/s) at {reach.link.distance_m:g} m: come closer, "
        "clear the way or lose less."
    )
    yield Advice(code="short", text=text)
    if reach.facts.place.rice_k_db is None:
        in_sight = replace(walk.fading, rice_k=float(10 ** (_IN_SIGHT_DB / 10)))
        needed_db = _needed_db(walk, in_sight)
        text = (
            "This counts as if no direct wave arrived, the worst there is; in sight of the antenna state rice_k_db of "
            f"the place (at {_IN_SIGHT_DB:g} dB it needs {needed_db:.0f} dB)."
        )
        yield Advice(code="no-direct-wave", text=text)


def _at_worst(reach: LinkReach) -> Iterator[Advice]:
    """Yield what is lacking when body and cables take their most, where it is enough otherwise."""
    if reach.walk is None or reach.state is not State.ENOUGH:
        return
    counted = [reach.branches[number].lowest_margin_db for number in reach.walk.counted]
    lowest = [margin_db for margin_db in counted if margin_db is not None]
    if len(lowest) < len(counted):
        return
    lacking_db = reach.walk.needed_db - sum(lowest) / len(lowest)
    if lacking_db > 0:
        text = f"Enough as the body usually is; with body and cables at their most {lacking_db:.0f} dB are lacking."
        yield Advice(code="short-at-worst", text=text)


_KINDS: tuple[Callable[[LinkReach], Iterator[Advice]], ...] = (
    _short,
    _at_worst,
    _losses,
    _amplifiers_there,
    _amplifier_to_add,
    _one_antenna_twice,
    _second_antenna,
    _strong,
    _radiated,
    _outside,
    _doubts,
)


def _run(branch: Branch) -> str:
    return "" if branch.run is None else f"{branch.run.name}: "


def _difference(one: float | None, two: float | None) -> float | None:
    return None if one is None or two is None else one - two


def _figure(value: float) -> str:
    """Return a number in whole ones, or in two digits where that would leave nothing of it."""
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}"
