"""The steps of a way of sound: what each does to a level in dB, the noise it adds, and where it clips."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from bandwright.core.audio import Earpiece, Feed, Microphone, Output, Plug, Powering
from bandwright.core.reach.facts import Gap
from bandwright.core.sound.facts import WayFacts
from bandwright.core.sound.levels import (
    dbv_from_dbu,
    level_at_db_spl,
    microphone_db_spl,
    microphone_dbu,
    thermal_noise_dbu,
    volts,
)
from bandwright.core.sound.matching import level_slope

__all__ = ["Settings", "Step", "ear_db_spl", "steps_of"]

_NO_LIMIT = "it is taken not to clip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What the controls are set to; None where it is not known."""

    gain_db: float | None
    output_db: float | None
    trim_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A level in dB becomes `slope` times it plus `shift`; a shift of None is not known.

    `noise` is what it adds, at its own end; without `noise_told` nobody knows how much that is, and the noise from
    there on is not known either.
    """

    where: str
    name: str
    unit: str
    shift: float | None
    slope: float = 1.0
    noise: float | None = None
    noise_told: bool = True
    clip: float | None = None

    def out(self, level: float | None) -> float | None:
        """Return the level behind it."""
        return None if level is None or self.shift is None else self.slope * level + self.shift

    def back(self, level: float | None) -> float | None:
        """Return the level before it."""
        return None if level is None or self.shift is None else (level - self.shift) / self.slope


def steps_of(facts: WayFacts, settings: Settings) -> tuple[tuple[Step, ...], tuple[Gap, ...]]:
    """Return every step of a way from the source on, and what is missing along it."""
    gaps: list[Gap] = []
    steps = [*_before(facts, gaps), _transmitter(facts, settings, gaps)]
    steps += _behind(facts, settings, gaps)
    return tuple(steps), tuple(gaps)


# ------------------------------------------------------------------------------------------ up to the transmitter


def _before(facts: WayFacts, gaps: list[Gap]) -> Iterator[Step]:
    name = facts.source.name if facts.source is not None else "source"
    audio = facts.sending
    most_dbu = audio.input_most_dbu if audio is not None else None
    own_dbu = audio.input_noise_dbu if audio is not None else None
    if not facts.acoustic:
        yield Step(where="source", name=name, unit="dBu", shift=0.0, noise=own_dbu, clip=most_dbu)
        return
    if audio is not None and own_dbu is None:
        until = "no noise of that input is counted"
        gaps.append(Gap(table="radio", id=facts.ends[0].radio.id, key="audio.input_noise_dbu", meanwhile=until))
    if audio is not None and most_dbu is None:
        gaps.append(Gap(table="radio", id=facts.ends[0].radio.id, key="audio.input_most_dbu", meanwhile=_NO_LIMIT))
    microphone = facts.microphone
    if microphone is not None and microphone.most_db_spl is None:
        gaps.append(Gap(table="microphone", id=microphone.id, key="most_db_spl", meanwhile=_NO_LIMIT))
    needs = microphone.needs if microphone is not None else None
    if audio is not None and audio.gives is None and needs not in (None, Powering.NOTHING):
        until = "it is taken to feed its microphone"
        gaps.append(Gap(table="radio", id=facts.ends[0].radio.id, key="audio.gives", meanwhile=until))
    called = microphone.name if microphone is not None else "microphone"
    yield Step(where="source", name=name, unit="dB SPL", shift=0.0)
    noise = None if microphone is None else _self_noise_db_spl(microphone, gaps)
    yield Step(
        where="microphone",
        name=called,
        unit="dB SPL",
        shift=_distance_db(facts),
        noise=noise,
        noise_told=noise is not None,
        clip=microphone.most_db_spl if microphone is not None else None,
    )
    yield Step(
        where="input",
        name="transmitter input",
        unit="dBu",
        shift=None if microphone is None else _microphone_shift(microphone, gaps),
        noise=own_dbu,
        clip=most_dbu,
    )


def _distance_db(facts: WayFacts) -> float | None:
    if facts.near_m is None:
        return None
    stated_m = facts.source.at_m if facts.source is not None and facts.source.at_m is not None else 1.0
    return level_at_db_spl(0.0, stated_at_m=stated_m, at_m=facts.near_m)


def _self_noise_db_spl(microphone: Microphone, gaps: list[Gap]) -> float | None:
    """Return the noise of a microphone as a level of sound; the thermal noise of one that states nothing else."""
    if microphone.self_noise_db is not None:
        return microphone.self_noise_db
    sensitivity = microphone.sensitivity_mv_per_pa
    if microphone.output_ohm is None or sensitivity is None:
        gaps.append(Gap(table="microphone", id=microphone.id, key="self_noise_db"))
        return None
    return microphone_db_spl(thermal_noise_dbu(resistance_ohm=microphone.output_ohm), sensitivity_mv_per_pa=sensitivity)


def _microphone_shift(microphone: Microphone, gaps: list[Gap]) -> float | None:
    if microphone.sensitivity_mv_per_pa is None:
        gaps.append(Gap(table="microphone", id=microphone.id, key="sensitivity_mv_per_pa"))
        return None
    return microphone_dbu(0.0, sensitivity_mv_per_pa=microphone.sensitivity_mv_per_pa) - microphone.pad_db


# -------------------------------------------------------------------------------------------------------- the link


def _transmitter(facts: WayFacts, settings: Settings, gaps: list[Gap]) -> Step:
    """Return the step to deviation: 0 dB is full deviation, or full scale of a digital radio."""
    audio, radio = facts.sending, facts.ends[0].radio
    shift = None
    if audio is not None:
        if audio.input_full_dbu is None:
            gaps.append(Gap(table="radio", id=radio.id, key="audio.input_full_dbu"))
        elif settings.gain_db is not None:
            shift = settings.gain_db - audio.input_full_dbu
        if audio.gains is None:
            gaps.append(Gap(table="radio", id=radio.id, key="audio.gains", meanwhile="a gain of 0 dB that is fixed"))
        if audio.noise_db is None:
            gaps.append(Gap(table="radio", id=radio.id, key="audio.noise_db"))
    noise = -audio.noise_db if audio is not None and audio.noise_db is not None else None
    return Step(
        where="transmitter",
        name=radio.name,
        unit="dB",
        shift=shift,
        noise=noise,
        noise_told=noise is not None,
        clip=0.0,
    )


def _behind(facts: WayFacts, settings: Settings, gaps: list[Gap]) -> Iterator[Step]:
    output, feed = facts.output, facts.feed
    if output is None:
        return
    digital = output.plug.digital
    yield _receiver(facts, output, settings, gaps)
    if feed is None:
        return
    if output.plug is Plug.PHONES:
        yield _ear(feed, gaps)
    elif digital:
        yield Step(where="reading", name=feed.name, unit="dBFS", shift=0.0, clip=0.0)
    elif feed.input is None or not feed.input.digital:
        yield from _analogue_input(feed, settings, gaps)


def _receiver(facts: WayFacts, output: Output, settings: Settings, gaps: list[Gap]) -> Step:
    key, full = ("full_dbfs", output.full_dbfs) if output.plug.digital else ("full_dbu", output.full_dbu)
    slope = level_slope(*facts.ends)
    kind = facts.ends[0].kind
    unity_db = kind.unity_db if kind is not None and kind.unity_db is not None else 0.0
    shift = None
    if full is None:
        gaps.append(Gap(table="radio", id=facts.ends[1].radio.id, key=f"audio.outputs: {key} of {output.name}"))
    elif settings.output_db is not None:
        shift = full + settings.output_db + unity_db * (1 - (slope or 1.0))
    return Step(
        where="receiver",
        name=f"receiver output {output.name}",
        unit="dBFS" if output.plug.digital else "dBu",
        shift=shift,
        slope=slope or 1.0,
        clip=0.0 if output.plug.digital else output.most_dbu,
    )


def _analogue_input(feed: Feed, settings: Settings, gaps: list[Gap]) -> Iterator[Step]:
    yield Step(
        where="feed",
        name=f"input of {feed.name}",
        unit="dBu",
        shift=-feed.pad_db,
        noise=feed.noise_dbu,
        clip=feed.most_dbu,
    )
    if feed.full_scale_dbu is None:
        gaps.append(Gap(table="feed", id=feed.id, key="full_scale_dbu"))
    if feed.reference is None:
        gaps.append(Gap(table="feed", id=feed.id, key="reference"))
    shift = None
    if feed.full_scale_dbu is not None and settings.trim_db is not None:
        shift = settings.trim_db - feed.full_scale_dbu
    yield Step(
        where="reading",
        name=feed.name,
        unit="dBFS",
        shift=shift,
        clip=0.0,
    )


def _ear(feed: Feed, gaps: list[Gap]) -> Step:
    shift = None
    if feed.earpiece is None:
        gaps.append(Gap(table="feed", id=feed.id, key="earpiece"))
    else:
        shift = ear_db_spl(0.0, feed.earpiece)
    return Step(where="ear", name=feed.name, unit="dB SPL", shift=shift)


def ear_db_spl(level_dbu: float, earpiece: Earpiece) -> float:
    """Return the level at the ear for a level at the phones output.

    ::

        L = S_V + 20 log10(V / 1 V),   S_V = S_mW + 10 log10(1000 / Z)
    """
    if earpiece.db_spl_per_v is not None:
        return earpiece.db_spl_per_v + dbv_from_dbu(level_dbu)
    assert earpiece.db_spl_per_mw is not None
    assert earpiece.ohm is not None
    milliwatts = volts(level_dbu) ** 2 / earpiece.ohm * 1000
    return earpiece.db_spl_per_mw + 10 * math.log10(milliwatts)
