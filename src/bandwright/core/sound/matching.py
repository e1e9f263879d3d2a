"""Whether the two ends of a link go together: companding, emission, deviation, tone squelch, encryption, mode.

Kinds of companding are compared axis by axis, never by anybody's name for them. A level law that differs is judged by
what it does 20 dB under the level that both leave as it is, emphasis by what it does at 10 kHz. Where compatible ends
and wrong begins is common practice, and said so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from bandwright.core.job import Job
from bandwright.core.kit import Companding, Emission, Link, RadioType

__all__ = ["NOT_COMPARED", "End", "Match", "Pairing", "ends_of", "level_slope", "matrix", "pairing"]

NOT_COMPARED = "Empty: not compared, as emission (analogue, digital) or use (microphone, in-ear, talkback) differ."
"""What is said beside a matrix with gaps."""

# What a bridged link may do to levels or to treble before it is wrong and no longer a loss; common practice.
_MOST_LEVEL_DB = 4.0
_MOST_TREBLE_DB = 4.0
_MOST_DEVIATION_DB = 6.0
_TIMES_APART = 2.0  # attack or release, from which on they are told to differ
_UNDER_UNITY_DB = 20.0  # where levels are told, under the one that is left as it is
_TREBLE_HZ = 10_000.0  # where treble is told


class Match(StrEnum):
    """How two ends go together; open: too little is stated to tell."""

    SAME = "same"
    COMPATIBLE = "compatible"
    WRONG = "wrong"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of a link: a radio type, and the kind of companding it is set to (None: nobody described any)."""

    radio: RadioType
    kind: Companding | None

    @property
    def label(self) -> str:
        """The radio type and, where it has a name, the kind."""
        named = self.kind is not None and self.kind.name is not None
        return f"{self.radio.id}: {self.kind.name}" if named and self.kind is not None else self.radio.id

    @property
    def ratio(self) -> float | None:
        """The ratio of its compressor, or what its expander undoes."""
        return self.kind.ratio if self.kind is not None else None

    @property
    def expansion(self) -> float | None:
        """The ratio of its expander."""
        if self.kind is None:
            return None
        return self.kind.expansion if self.kind.expansion is not None else self.kind.ratio

    @property
    def preemphasis_us(self) -> float | None:
        """Its time constant of emphasis, 0 for none; that of the radio type where the kind states none."""
        stated = self.kind.preemphasis_us if self.kind is not None else None
        return stated if stated is not None else self.radio.preemphasis_us

    @property
    def words(self) -> str:
        """What it does, in words."""
        return companding_words(self.kind, self.preemphasis_us)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """How a transmitter and a receiver go together.

    `faults` make it wrong, `losses` make it compatible, `not_stated` names the axes that only one end states or none,
    `fix` is what to do about it.
    """

    transmitter: End
    receiver: End
    match: Match
    faults: tuple[str, ...] = ()
    losses: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    not_stated: tuple[str, ...] = ()
    fix: str | None = None


def companding_words(kind: Companding | None, preemphasis_us: float | None) -> str:
    """Return what a kind does, in words: "2:1 rms, 50 us, 17 kHz filter"."""
    if kind is None or kind.ratio is None:
        found = ["companding not stated"]
    elif kind.ratio == 1:
        found = ["no companding"]
    else:
        expansion = "" if kind.expansion in (None, kind.ratio) else f" (expands 1:{kind.expansion:g})"
        detector = "" if kind.detector is None else f" {kind.detector.value}"
        found = [f"{kind.ratio:g}:1{detector}{expansion}"]
    if kind is not None and kind.bands is not None and kind.bands > 1:
        found.append(f"{kind.bands} bands")
    if preemphasis_us is not None:
        found.append("no emphasis" if preemphasis_us == 0 else f"{preemphasis_us:g} us")
    if kind is not None and kind.ultrasonic_filter_hz is not None:
        found.append(f"{kind.ultrasonic_filter_hz / 1000:g} kHz filter")
    return ", ".join(found)


def ends_of(job: Job, link: Link) -> tuple[End, End]:
    """Return what a link is set to at its transmitter and at its receiver.

    What is not chosen is the first kind of its type; a receiver of the same type is set as the transmitter is.
    """
    sound = link.sound
    receiver = link.radio if sound.receiver_radio is None else job.radio(sound.receiver_radio)
    kind = _chosen(link.radio, sound.companding)
    same = receiver.id == link.radio.id and sound.receiver_companding is None
    heard = kind if same else _chosen(receiver, sound.receiver_companding)
    return End(radio=link.radio, kind=kind), End(radio=receiver, kind=heard)


def _chosen(radio: RadioType, name: str | None) -> Companding | None:
    named = next((kind for kind in radio.companding if kind.name == name), None) if name is not None else None
    return named if named is not None else next(iter(radio.companding), None)


def level_slope(transmitter: End, receiver: End) -> float | None:
    """Return dB out for each dB in, through compressor and expander; 1 is as it was, None where it is not known."""
    if transmitter == receiver and transmitter.kind is None:
        return 1.0
    ratio, expansion = transmitter.ratio, receiver.expansion
    return None if ratio is None or expansion is None else expansion / ratio


def matrix(job: Job) -> tuple[Pairing, ...]:
    """Return how every transmitter goes with every receiver of the kit that could be meant for it.

    Those are of the same kind of emission (analogue or digital) and of the same use (from people, to them, both ways):
    that a talkback set is not heard by a digital hand-held's receiver is nothing to find wrong.
    """
    kinds = [End(radio=radio, kind=kind) for radio in job.radios for kind in radio.companding or (None,)]
    return tuple(pairing(one, two) for one in kinds for two in kinds if _comparable(one.radio, two.radio))


def _comparable(one: RadioType, two: RadioType) -> bool:
    digital = [radio.emission is Emission.DIGITAL for radio in (one, two)]
    return one.direction == two.direction and digital[0] == digital[1]


def pairing(transmitter: End, receiver: End) -> Pairing:
    """Return how two ends go together, and what to do where they do not."""
    found = _judged(transmitter, receiver)
    if found.match is not Match.WRONG:
        return found
    return replace(found, fix=_fix(transmitter, receiver))


def _judged(transmitter: End, receiver: End) -> Pairing:
    faults = tuple(_faults(transmitter, receiver))
    losses = tuple(_losses(transmitter, receiver))
    not_stated = tuple(_not_stated(transmitter, receiver))
    if faults:
        match = Match.WRONG
    elif not_stated:
        match = Match.OPEN
    else:
        match = Match.COMPATIBLE if losses else Match.SAME
    return Pairing(
        transmitter=transmitter,
        receiver=receiver,
        match=match,
        faults=faults,
        losses=losses,
        notes=tuple(_notes(transmitter, receiver)),
        not_stated=not_stated,
    )


def _faults(one: End, two: End) -> Iterator[str]:
    digital = [end.radio.emission is Emission.DIGITAL for end in (one, two)]
    if digital[0] != digital[1]:
        yield "one end is digital and the other is not: nothing is heard"
        return
    yield from _pairing_faults(one, two)
    if one.ratio is not None and two.ratio is not None:
        if (one.ratio == 1) != (two.ratio == 1):
            yield _uncompressed(one)
        elif abs(_level_error_db(one, two)) > _MOST_LEVEL_DB:
            yield _level_words(one, two)
    treble_db = _treble_error_db(one, two)
    if treble_db is not None and abs(treble_db) > _MOST_TREBLE_DB:
        yield _treble_words(treble_db)
    offset_db = _deviation_offset_db(one.radio, two.radio)
    if offset_db is not None and abs(offset_db) > _MOST_DEVIATION_DB:
        yield _deviation_words(offset_db, two)


def _pairing_faults(one: End, two: End) -> Iterator[str]:
    first, second = one.radio.audio, two.radio.audio
    if first is None or second is None:
        return
    if second.tone_squelch_hz is not None and first.tone_squelch_hz != second.tone_squelch_hz:
        yield (
            f"the receiver opens on a tone of {second.tone_squelch_hz / 1000:g} kHz that the transmitter does not send"
        )
    if first.encrypted is not None and second.encrypted is not None and first.encrypted != second.encrypted:
        yield "only one end is encrypted: nothing is heard"
    if None not in (first.digital_mode, second.digital_mode) and first.digital_mode != second.digital_mode:
        yield f"the transmitter is in mode {first.digital_mode}, the receiver in {second.digital_mode}"


def _uncompressed(one: End) -> str:
    if one.ratio == 1:
        return "an expander without a compressor before it: quiet sounds vanish, loud ones jump"
    return "a compressor without an expander behind it: noise and room come up, dynamics are gone"


def _losses(one: End, two: End) -> Iterator[str]:
    if _both_compress(one, two) and one.ratio != two.ratio and abs(_level_error_db(one, two)) <= _MOST_LEVEL_DB:
        yield _level_words(one, two)
    treble_db = _treble_error_db(one, two)
    if treble_db is not None and 0.05 < abs(treble_db) <= _MOST_TREBLE_DB:
        yield _treble_words(treble_db)
    offset_db = _deviation_offset_db(one.radio, two.radio)
    if offset_db is not None and 0.05 < abs(offset_db) <= _MOST_DEVIATION_DB:
        yield _deviation_words(offset_db, two)
    yield from _dynamic_losses(one.kind, two.kind)
    stereo = [end.radio.emission is Emission.FM_STEREO for end in (one, two)]
    if stereo[0] and not stereo[1]:
        yield "the receiver is mono: it gives left and right together, and the side signal is lost"
    if one.radio.id.split("/", maxsplit=1)[0] != two.radio.id.split("/", maxsplit=1)[0]:
        yield "two radio types are bridged: battery, mute and other telemetry of the transmitter is not to be expected"


def _both_compress(one: End, two: End) -> bool:
    return all(end.ratio is not None and end.ratio > 1 for end in (one, two))


def _dynamic_losses(one: Companding | None, two: Companding | None) -> Iterator[str]:
    if one is None or two is None or one.ratio == 1 or two.ratio == 1:
        return
    if None not in (one.detector, two.detector) and one.detector != two.detector:
        yield "one end follows mean power, the other peaks: transients come out at another level"
    for word, first, second in (
        ("attack", one.attack_ms, two.attack_ms),
        ("release", one.release_ms, two.release_ms),
    ):
        if first is not None and second is not None and max(first, second) > _TIMES_APART * min(first, second):
            yield f"{word} times of {first:g} and {second:g} ms: levels breathe behind each change"
    if None not in (one.bands, two.bands) and one.bands != two.bands:
        yield f"{one.bands} and {two.bands} bands: the balance of low and high moves with the level"


def _notes(one: End, two: End) -> Iterator[str]:
    kind = two.kind
    if kind is not None and kind.expansion is not None and kind.ratio is not None and kind.expansion < kind.ratio:
        share = kind.expansion / kind.ratio
        yield f"the receiver hands on dynamics reduced to {share:.0%} of the dB, as it is meant to"
    if one.radio.emission is not Emission.FM_STEREO and two.radio.emission is Emission.FM_STEREO:
        yield "a mono transmitter on a stereo receiver: the same sound left and right"


def _not_stated(one: End, two: End) -> Iterator[str]:
    if one == two:
        return
    if one.ratio is None or two.ratio is None:
        yield "ratio"
    analogue = Emission.DIGITAL not in (one.radio.emission, two.radio.emission)
    if analogue and None in (one.preemphasis_us, two.preemphasis_us):
        yield "preemphasis_us"


# ---------------------------------------------------------------------------------------------- what differs, in dB


def _level_error_db(one: End, two: End) -> float:
    """Return how far off a level comes out that was 20 dB under unity, against what the receiver is made for."""
    assert one.ratio is not None
    assert two.ratio is not None
    assert two.expansion is not None
    return -_UNDER_UNITY_DB * (two.expansion / one.ratio - two.expansion / two.ratio)


def _level_words(one: End, two: End) -> str:
    return (
        f"ratios {one.ratio:g}:1 and 1:{two.ratio:g}: what is {_UNDER_UNITY_DB:g} dB under the level that is left as "
        f"it is comes out {_more(_level_error_db(one, two))}"
    )


def _treble_error_db(one: End, two: End) -> float | None:
    first, second = one.preemphasis_us, two.preemphasis_us
    if first is None or second is None or Emission.DIGITAL in (one.radio.emission, two.radio.emission):
        return None
    return _emphasis_db(first) - _emphasis_db(second)


def _emphasis_db(time_constant_us: float) -> float:
    """Return what emphasis of a time constant adds at 10 kHz: 10 log10(1 + (2 pi f t)^2)."""
    return 10 * math.log10(1 + (2 * math.pi * _TREBLE_HZ * time_constant_us * 1e-6) ** 2)


def _treble_words(treble_db: float) -> str:
    return f"emphasis differs: 10 kHz reaches the expander {_more(treble_db)}"


def _deviation_offset_db(one: RadioType, two: RadioType) -> float | None:
    if one.peak_deviation_hz is None or two.peak_deviation_hz is None:
        return None
    return 20 * math.log10(one.peak_deviation_hz / two.peak_deviation_hz)


def _deviation_words(offset_db: float, two: End) -> str:
    factor = two.expansion or 1.0
    return f"deviation differs: everything comes out {_more(offset_db * factor)}"


def _more(value_db: float) -> str:
    return f"{abs(value_db):.1f} dB {'higher' if value_db > 0 else 'lower'}"


# ---------------------------------------------------------------------------------------------------------- the fix


def _fix(one: End, two: End) -> str:
    """Return what makes a wrong pair right: another kind at the receiver, at the transmitter, or another receiver."""
    for words, ends in (
        ("set the receiver to {}", [(one, End(radio=two.radio, kind=kind)) for kind in two.radio.companding]),
        ("set the transmitter to {}", [(End(radio=one.radio, kind=kind), two) for kind in one.radio.companding]),
    ):
        ranked = [(_judged(*pair).match, pair) for pair in ends]
        for match in (Match.SAME, Match.COMPATIBLE):
            for rank, pair in ranked:
                if rank is match:
                    changed = pair[1] if pair[1] != two else pair[0]
                    name = changed.kind.name if changed.kind is not None else None
                    return words.format(f'"{name}" ({changed.words})' if name is not None else changed.words)
    return f"receive it with a {one.radio.id}"
