"""Audio line-up: levels from the mouth to what is written down, the settings that fit, and where it clips first.

A way of sound is a row of steps, each of which turns a level into the next one, adds noise and clips somewhere. Gain is
set so that the loudest expected peak stays `headroom_db` under full deviation (6 dB, common practice); output and trim
so that full deviation reads at most 0 dBFS, with as few controls touched as keeps it within 6 dB of that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bandwright.core.audio import Audio, Gains
from bandwright.core.reach.facts import Gap
from bandwright.core.sound.facts import WayFacts
from bandwright.core.sound.levels import power_sum_db
from bandwright.core.sound.steps import Settings, Step, steps_of
from bandwright.core.sound.tables import SoundTables

__all__ = ["HEADROOM_DB", "READING_ROOM_DB", "LineUp", "Point", "Setting", "gain_setting", "line_up"]

HEADROOM_DB = 6.0
"""What stays free above the loudest expected peak when nobody says otherwise; common practice."""
_ROUNDING_DB = 1e-6  # what sums of decibels may be off
READING_ROOM_DB = 6.0
"""Full deviation may read so far under 0 dBFS before a control is touched for it; common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """The levels at one point of the way, in its own unit; None is not known.

    `full` is what full deviation gives there, `clip` where it clips, `tone` what the 1 kHz alignment tone reads.
    """

    where: str
    name: str
    unit: str
    noise: float | None
    quietest: float | None
    loudest: float | None
    peak: float | None
    full: float | None
    clip: float | None
    tone: float | None
    slope: float | None

    @property
    def margin_db(self) -> float | None:
        """By how many dB the source could still rise before this point clips."""
        if self.clip is None or self.peak is None or self.slope is None:
            return None
        return (self.clip - self.peak) / self.slope


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One control: what it is set to, whether somebody has set it, and what suits best (None: cannot be told).

    `control` holds its settings, None where it is fixed.
    """

    what: str
    value_db: float
    stated: bool
    recommended_db: float | None
    control: Gains | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineUp:
    """One way of sound with its settings and the levels along it.

    `headroom_db` is what is left over the loudest peak before `clips_first`; `over_noise_db` is how far the quietest
    stands over the noise where it arrives; None where a part of that noise is not known.
    """

    facts: WayFacts
    settings: tuple[Setting, ...]
    points: tuple[Point, ...]
    tone_dbfs: float | None
    gaps: tuple[Gap, ...]

    @property
    def told(self) -> bool:
        """Whether a level can be told anywhere along the way; where things clip is none."""
        return any(
            value is not None
            for point in self.points
            for value in (point.noise, point.quietest, point.loudest, point.peak, point.tone)
        )

    @property
    def clips_first(self) -> Point | None:
        """The point with the least left before it clips."""
        known = [point for point in self.points if point.margin_db is not None]
        return min(known, key=lambda point: point.margin_db or 0.0, default=None)

    @property
    def headroom_db(self) -> float | None:
        """What is left over the loudest peak."""
        return None if self.clips_first is None else self.clips_first.margin_db

    @property
    def over_noise_db(self) -> float | None:
        """How far the quietest stands over the noise where it arrives."""
        arrives = next((point for point in reversed(self.points) if point.quietest is not None), None)
        if arrives is None or arrives.quietest is None or arrives.noise is None:
            return None
        return arrives.quietest - arrives.noise

    def setting(self, what: str) -> Setting | None:
        """Return one of the settings."""
        return next((one for one in self.settings if one.what == what), None)

    def point(self, where: str) -> Point | None:
        """Return one of the points."""
        return next((one for one in self.points if one.where == where), None)


def line_up(facts: WayFacts, tables: SoundTables) -> LineUp:
    """Return one way of sound lined up: settings as somebody made them, else as recommended, and every level."""
    gain = gain_setting(facts)
    output, trim = _behind(facts)
    settings = Settings(gain_db=_value(gain), output_db=_value(output), trim_db=_value(trim))
    steps, gaps = steps_of(facts, settings)
    tone_dbfs = _tone_dbfs(facts, tables)
    return LineUp(
        facts=facts,
        settings=tuple(one for one in (gain, output, trim) if one is not None),
        points=_points(facts, steps, tone_dbfs),
        tone_dbfs=tone_dbfs,
        gaps=tuple(dict.fromkeys((*facts.gaps, *gaps))),
    )


def _value(setting: Setting | None) -> float | None:
    return None if setting is None else setting.value_db


# ------------------------------------------------------------------------------------------------------- settings


def gain_setting(facts: WayFacts) -> Setting | None:
    """Return the transmitter's gain: the highest setting that leaves the headroom asked for, else the lowest one."""
    audio = facts.sending
    if audio is None:
        return None
    best_db = _recommended_gain_db(facts, audio)
    stated_db = facts.link.sound.gain_db
    value_db = stated_db if stated_db is not None else best_db
    if value_db is None:
        return None
    return Setting(
        what="transmitter gain",
        value_db=value_db,
        stated=stated_db is not None,
        recommended_db=best_db,
        control=audio.gains,
    )


def _recommended_gain_db(facts: WayFacts, audio: Audio) -> float | None:
    if audio.gains is None:
        return 0.0
    peak = _peak_at_input(facts)
    if peak is None or audio.input_full_dbu is None:
        return None
    wanted_db = facts.source.headroom_db if facts.source is not None else None
    most_db = audio.input_full_dbu - peak - (HEADROOM_DB if wanted_db is None else wanted_db)
    fitting = [one for one in audio.gains.settings_db if one <= most_db + _ROUNDING_DB]
    return max(fitting, default=audio.gains.settings_db[0])


def _peak_at_input(facts: WayFacts) -> float | None:
    """Return the loudest peak at the transmitter's input, in dBu."""
    level = facts.levels.peak if facts.levels is not None else None
    steps, _ = steps_of(facts, Settings(gain_db=None, output_db=None, trim_db=None))
    for step in steps:
        if step.where in ("transmitter", "receiver"):
            return level
        level = step.out(level)
    return level


def _behind(facts: WayFacts) -> tuple[Setting | None, Setting | None]:
    """Return the receiver's output level and the next device's trim."""
    feed, output = facts.feed, facts.output
    if output is None:
        return None, None
    trims = feed.trims if feed is not None else None
    stated = (None, None) if feed is None else (feed.output_db, feed.trim_db)
    free = _best(facts, _choices(None, output.gains), _choices(None, trims))
    used = _best(facts, _choices(stated[0], output.gains), _choices(stated[1], trims))
    level, trim = (
        Setting(what=what, value_db=value, stated=given is not None, recommended_db=best, control=control)
        for what, value, given, best, control in zip(
            ("receiver output", "input trim"), used, stated, free, (output.gains, trims), strict=True
        )
    )
    return level, trim if feed is not None and feed.full_scale_dbu is not None else None


def _choices(stated: float | None, control: Gains | None) -> Sequence[float]:
    if stated is not None:
        return (stated,)
    return (0.0,) if control is None else control.settings_db


def _best(facts: WayFacts, outs: Sequence[float], trims: Sequence[float]) -> tuple[float, float]:
    """Return the pair of settings that suits best; those nearest to 0 dB where nothing can be told."""
    out_fixed, trim_fixed = min(outs, key=abs), min(trims, key=abs)
    reading = _reading(facts, out_fixed, trim_fixed)
    if reading is None:
        return out_fixed, trim_fixed
    found = [(out, trim, reading + out - out_fixed + trim - trim_fixed) for out in outs for trim in trims]
    out_db, trim_db, _ = min(found, key=lambda one: _rank(facts, *one))
    return out_db, trim_db


def _rank(facts: WayFacts, out_db: float, trim_db: float, reading_dbfs: float) -> tuple[float, ...]:
    """Order settings: nothing clips; within 6 dB under 0 dBFS, or else near it; then few and small changes."""
    over = max(0.0, reading_dbfs, _input_over_db(facts, out_db))
    short = max(0.0, -READING_ROOM_DB - reading_dbfs)
    touched = (out_db != 0) + (trim_db != 0)
    return (round(over, 6), round(short, 6), touched, abs(out_db) + abs(trim_db), -reading_dbfs)


def _input_over_db(facts: WayFacts, out_db: float) -> float:
    """Return by how much full deviation exceeds what the next input takes ahead of its trim."""
    feed, output = facts.feed, facts.output
    if feed is None or output is None or feed.most_dbu is None or output.full_dbu is None:
        return 0.0
    return output.full_dbu + out_db - feed.pad_db - feed.most_dbu


def _reading(facts: WayFacts, out_db: float, trim_db: float) -> float | None:
    """Return what full deviation reads, in dBFS."""
    steps, _ = steps_of(facts, Settings(gain_db=0.0, output_db=out_db, trim_db=trim_db))
    level: float | None = None
    for step in steps:
        level = 0.0 if step.where == "transmitter" else step.out(level)
    return level if steps and steps[-1].unit == "dBFS" else None


def _tone_dbfs(facts: WayFacts, tables: SoundTables) -> float | None:
    if facts.feed is None or facts.feed.reference is None:
        return None
    return tables.alignment(facts.feed.reference).level_dbfs


# --------------------------------------------------------------------------------------------------------- points


def _points(facts: WayFacts, steps: Sequence[Step], tone_dbfs: float | None) -> tuple[Point, ...]:
    tones = _tones(steps, tone_dbfs)
    levels = facts.levels
    quietest, loudest, peak = (None, None, None) if levels is None else (levels.quietest, levels.loudest, levels.peak)
    noise: float | None = None
    told = True
    full: float | None = None
    slope: float | None = 1.0
    found = []
    for step, tone in zip(steps, tones, strict=True):
        quietest, loudest, peak = (step.out(level) for level in (quietest, loudest, peak))
        noise = power_sum_db((step.out(noise), step.noise))
        told = told and step.noise_told
        full = 0.0 if step.where == "transmitter" else step.out(full)
        slope = None if slope is None or step.shift is None else slope * step.slope
        found.append(
            Point(
                where=step.where,
                name=step.name,
                unit=step.unit,
                noise=noise if told else None,
                quietest=quietest,
                loudest=loudest,
                peak=peak,
                full=full,
                clip=step.clip,
                tone=tone,
                slope=slope,
            )
        )
    return tuple(found)


def _tones(steps: Iterable[Step], tone_dbfs: float | None) -> list[float | None]:
    """Return what the tone reads at every point, from the last one back."""
    row = list(steps)
    level = tone_dbfs if row and row[-1].unit == "dBFS" else None
    found = []
    for step in reversed(row):
        found.append(level)
        level = step.back(level)
    return found[::-1]
