"""What to know and to do about one way of sound: mismatches, clipping, noise, polarity, cables, and common practice."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.audio import Feed, Gains, Output, Plug, Powering, SourceKind
from bandwright.core.kit import Emission
from bandwright.core.sound.facts import WayFacts
from bandwright.core.sound.levels import DBV_UNDER_DBU_DB
from bandwright.core.sound.lineup import LineUp, Setting
from bandwright.core.sound.matching import Match, Pairing

__all__ = ["Grade", "Remark", "remarks_on"]

_PRACTICE = "common practice"
# From where on something is told: common practice.
_LEAST_HEADROOM_DB = 3.0
_LEAST_OVER_NOISE_DB = 20.0
_LOW_DBFS = -12.0  # full deviation that reads less than this
_UNBALANCED_M = 5.0  # unbalanced cable
_AES3_M = 100.0  # AES3 over cable
_STRONG_US = 40.0  # pre-emphasis; between 25 and the 50 or 75 us of broadcasting


class Grade(StrEnum):
    """How bad it is: wrong must be changed, a caution may hurt, a note is good to know."""

    WRONG = "wrong"
    CAUTION = "caution"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One thing to know or to do; `basis` is "computed", or common practice where only that is the source."""

    code: str
    grade: Grade
    text: str
    basis: str = "computed"


def remarks_on(item: LineUp, pairing: Pairing) -> tuple[Remark, ...]:
    """Return everything to say about one way of sound, what is wrong first."""
    found = [
        *_companding(pairing),
        *_plugs(item.facts),
        *_settings(item),
        *_clipping(item),
        *_reading(item),
        *_noise(item),
        *_powering(item.facts),
        *_wires(item.facts),
        *_practice(item.facts),
    ]
    order = list(Grade)
    return tuple(sorted(found, key=lambda one: order.index(one.grade)))


def _companding(pairing: Pairing) -> Iterator[Remark]:
    for text in pairing.faults:
        fix = "" if pairing.fix is None else f"; {pairing.fix}"
        yield Remark(code="pairing", grade=Grade.WRONG, text=f"{_capital(text)}{fix}.")
    for text in pairing.losses if pairing.match is not Match.WRONG else ():
        yield Remark(code="pairing", grade=Grade.CAUTION, text=f"{_capital(text)}.")
    for text in pairing.notes:
        yield Remark(code="pairing", grade=Grade.NOTE, text=f"{_capital(text)}.")


def _plugs(facts: WayFacts) -> Iterator[Remark]:
    output, feed = facts.output, facts.feed
    if output is None or feed is None or feed.input is None or output.plug == feed.input:
        return
    one, two = output.plug, feed.input
    if one.digital or two.digital:
        text = f"{_A[one]} output does not go into {_a(two)} input"
        others = [each.name for each in (facts.hearing.outputs if facts.hearing else ()) if each.plug is two]
        instead = f"; use the output {others[0]}" if others else f"; it needs a converter, or {_a(two)} output"
        yield Remark(code="plug", grade=Grade.WRONG, text=f"{_capital(text)}{instead}.")
    elif (one, two) in ((Plug.MIC, Plug.LINE), (Plug.LINE, Plug.MIC)):
        hint = "turn the input's gain up as told" if one is Plug.MIC else "turn the output down, or put a pad ahead"
        text = f"{_capital(_A[one])} level output into {_a(two)} level input: set one of them to the other, or {hint}."
        yield Remark(code="mic-line", grade=Grade.CAUTION, text=text)


_A = {
    Plug.MIC: "a mic",
    Plug.LINE: "a line",
    Plug.AES3: "an AES3",
    Plug.NETWORK: "a network",
    Plug.PHONES: "a phones",
}


def _a(plug: Plug) -> str:
    return _A[plug]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


# ------------------------------------------------------------------------------------------------------- settings


def _settings(item: LineUp) -> Iterator[Remark]:
    for setting in item.settings:
        if setting.stated and setting.control is not None and not setting.control.has(setting.value_db):
            near = min(setting.control.settings_db, key=lambda one: abs(one - setting.value_db))
            text = (
                f"{_capital(setting.what)} is stated as {setting.value_db:+g} dB, which it cannot be set to; near is "
                f"{near:+g} dB ({_range(setting.control)})."
            )
            yield Remark(code="no-such-setting", grade=Grade.WRONG, text=text)
    gain = item.setting("transmitter gain")
    if gain is not None and gain.stated and gain.recommended_db is not None:
        yield from _other_gain(gain, gain.recommended_db)


def _range(control: Gains) -> str:
    return f"{control.low_db:+g} to {control.high_db:+g} dB in steps of {control.step_db:g}"


def _other_gain(gain: Setting, best_db: float) -> Iterator[Remark]:
    off_db = gain.value_db - best_db
    if off_db > 0:
        text = f"Transmitter gain is {off_db:g} dB above what leaves the headroom asked for; set it to {best_db:+g} dB."
        yield Remark(code="gain-high", grade=Grade.CAUTION, text=text)
    elif off_db < 0:
        text = f"Transmitter gain could be {-off_db:g} dB higher ({best_db:+g} dB) with the headroom asked for kept."
        yield Remark(code="gain-low", grade=Grade.NOTE, text=text)


def _clipping(item: LineUp) -> Iterator[Remark]:
    first, left_db = item.clips_first, item.headroom_db
    if first is None or left_db is None:
        return
    if left_db < 0:
        text = f"The loudest peak clips by {-left_db:.1f} dB, first at {first.name}; {_against(item)}."
        yield Remark(code="clips", grade=Grade.WRONG, text=text)
    elif left_db < _LEAST_HEADROOM_DB:
        text = f"Only {left_db:.1f} dB over the loudest peak are left, at {first.name}; {_against(item)}."
        yield Remark(code="headroom", grade=Grade.CAUTION, text=text)


def _against(item: LineUp) -> str:
    """Return what helps where a way clips."""
    first = item.clips_first
    where = first.where if first is not None else ""
    need_db = math.ceil(_LEAST_HEADROOM_DB - (item.headroom_db or 0.0))
    gain = item.setting("transmitter gain")
    lower = gain is not None and gain.control is not None and gain.value_db > gain.control.low_db
    if where == "microphone":
        return f"take a microphone that bears {need_db} dB more, or farther away"
    if where in ("input", "source"):
        return f"no gain helps ahead of that: a pad of {need_db} dB or more before it"
    if where == "transmitter" and lower:
        return "turn its gain down"
    if where == "transmitter" and (gain is None or gain.control is None):
        return f"turn its gain down if it has one (audio.gains), else a pad of {need_db} dB or more before it"
    if where == "transmitter":
        return f"its gain is at the lowest already: a pad of {need_db} dB or more before it"
    return _cooler(item)


def _reading(item: LineUp) -> Iterator[Remark]:
    point, feed = item.point("reading"), item.facts.feed
    if point is None or point.full is None or feed is None:
        return
    if point.full > 0.05:
        text = f"Full deviation reads {point.full:+.1f} dBFS: {point.full:.0f} dB hot for {feed.name}; {_cooler(item)}."
        yield Remark(code="hot", grade=Grade.WRONG, text=text)
    elif point.full < _LOW_DBFS:
        text = f"Full deviation reads {point.full:+.1f} dBFS only; {_warmer(item)}."
        yield Remark(code="low", grade=Grade.CAUTION, text=text)
    at_input = item.point("feed")
    if at_input is not None and at_input.full is not None and at_input.clip is not None:
        over_db = at_input.full - at_input.clip
        if over_db > 0.05:
            text = (
                f"Full deviation is {over_db:.0f} dB above what the input of {feed.name} takes ahead of its trim; "
                f"{_cooler(item)}."
            )
            yield Remark(code="hot", grade=Grade.WRONG, text=text)
    transmitter = item.point("transmitter")
    if transmitter is not None and transmitter.tone is not None and transmitter.tone > 0:
        text = f"The alignment tone would need {transmitter.tone:.1f} dB more than full deviation; trim the input up."
        yield Remark(code="tone", grade=Grade.CAUTION, text=text)


def _cooler(item: LineUp) -> str:
    better = [
        f"set the {one.what} to {one.recommended_db:+g} dB"
        for one in item.settings
        if one.what != "transmitter gain" and one.recommended_db is not None and one.recommended_db != one.value_db
    ]
    if better:
        return " and ".join(better)
    over_db = max(
        (max(point.full, point.peak or point.full) - point.clip)
        for point in item.points
        if point.where in ("receiver", "feed", "reading") and point.full is not None and point.clip is not None
    )
    return f"no setting is low enough: a pad of {max(math.ceil(over_db), 1)} dB or more ahead of it"


def _warmer(item: LineUp) -> str:
    better = [
        f"set the {one.what} to {one.recommended_db:+g} dB"
        for one in item.settings
        if one.what != "transmitter gain" and one.recommended_db is not None and one.recommended_db > one.value_db
    ]
    return " and ".join(better) or "no setting brings it higher: a line output, or a more sensitive input"


def _noise(item: LineUp) -> Iterator[Remark]:
    over_db = item.over_noise_db
    if over_db is not None and over_db < _LEAST_OVER_NOISE_DB:
        text = f"The quietest stands only {over_db:.0f} dB over the noise; nearer to the source helps most."
        yield Remark(code="noise", grade=Grade.CAUTION, text=text, basis=_PRACTICE)


# ------------------------------------------------------------------------------------------ powering, wires, polarity


def _powering(facts: WayFacts) -> Iterator[Remark]:
    needs = facts.microphone.needs if facts.microphone is not None else None
    gives = facts.sending.gives if facts.sending is not None else None
    if facts.acoustic and needs not in (None, Powering.NOTHING) and gives is not None and needs is not gives:
        text = f"The microphone needs {needs.value}, and the transmitter gives {gives.value}: it stays silent."
        yield Remark(code="powering", grade=Grade.WRONG, text=text)
    output, feed = facts.output, facts.feed
    if output is None or feed is None or not feed.phantom or output.plug.digital:
        return
    if output.bears_phantom is False:
        text = f"Phantom power is on at {feed.name}, and the output {output.name} does not bear it: switch it off."
        yield Remark(code="phantom", grade=Grade.WRONG, text=text)
    elif output.bears_phantom is None:
        text = f"Phantom power is on at {feed.name}: switch it off; nobody says that the output bears it."
        yield Remark(code="phantom", grade=Grade.CAUTION, text=text)


def _wires(facts: WayFacts) -> Iterator[Remark]:
    if facts.inverts:
        text = "Polarity is turned on the way: switch it back at the desk, or swap hot and cold in one cable."
        yield Remark(code="polarity", grade=Grade.CAUTION, text=text)
    elif facts.inverts is None and sum(one is True for one in facts.turns) % 2:
        text = (
            "Polarity is turned as far as anybody says (inverts); the rest of the way is not stated: listen or measure."
        )
        yield Remark(code="polarity", grade=Grade.CAUTION, text=text)
    output, feed = facts.output, facts.feed
    if output is None or feed is None:
        return
    if output.plug is Plug.AES3:
        far = feed.cable_m is not None and feed.cable_m > _AES3_M
        text = "AES3 wants 110 ohm cable, 2 to 7 V peak to peak; microphone cable only for short ways"
        grade, after = (Grade.CAUTION, f", and {feed.cable_m:g} m are far.") if far else (Grade.NOTE, ".")
        yield Remark(code="cable", grade=grade, text=text + after, basis=_PRACTICE)
    elif not output.plug.digital and output.plug is not Plug.PHONES:
        yield from _analogue_cable(output, feed)


def _analogue_cable(output: Output, feed: Feed) -> Iterator[Remark]:
    if output.balanced is None or feed.balanced is None or (output.balanced and feed.balanced):
        return
    if output.balanced and not feed.balanced:
        text = (
            "A balanced output into an unbalanced input: hot to the tip, cold and shield to the sleeve where the "
            f"output bears that; from +4 dBu to -10 dBV it is {14 - DBV_UNDER_DBU_DB:.1f} dB."
        )
        yield Remark(code="balance", grade=Grade.NOTE, text=text, basis=_PRACTICE)
    if feed.cable_m is not None and feed.cable_m > _UNBALANCED_M:
        text = f"{feed.cable_m:g} m of unbalanced cable pick up hum: a transformer or a balanced way."
        yield Remark(code="balance", grade=Grade.CAUTION, text=text, basis=_PRACTICE)


def _practice(facts: WayFacts) -> Iterator[Remark]:
    """Yield what practice says of a kind of companding for a kind of source."""
    sender, kind = facts.ends[0], facts.ends[0].kind
    if sender.radio.emission is Emission.DIGITAL or kind is None or kind.ratio is None:
        return
    if kind.ratio == 1:
        text = "No companding: normal for talkback and timecode; the noise of the link is heard as it is."
        yield Remark(code="companding", grade=Grade.NOTE, text=text, basis=_PRACTICE)
        return
    emphasis, bright = sender.preemphasis_us, _bright(facts)
    if emphasis is not None and emphasis >= _STRONG_US and bright:
        text = (
            f"Strong pre-emphasis ({emphasis:g} us) turns brittle on cymbals, metal and sibilants: listen, or take a "
            "kind with less of it."
        )
        yield Remark(code="companding", grade=Grade.CAUTION, text=text, basis=_PRACTICE)
    if emphasis is not None and emphasis < _STRONG_US and not bright:
        text = "Little pre-emphasis: transients stay clean, but noise pumps near the limit of the range."
        yield Remark(code="companding", grade=Grade.NOTE, text=text, basis=_PRACTICE)
    if kind.ultrasonic_filter_hz is None:
        text = (
            "No ultrasonic low-pass is stated (about 17 kHz, in the transmitter): without one, jangling keys can push "
            "the compressor down."
        )
        yield Remark(code="companding", grade=Grade.NOTE, text=text, basis=_PRACTICE)


def _bright(facts: WayFacts) -> bool:
    return facts.source is not None and facts.source.kind in (SourceKind.INSTRUMENT, SourceKind.SINGING)
