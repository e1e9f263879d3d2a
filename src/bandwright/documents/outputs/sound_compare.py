"""The `sound-compare` document: kinds of companding at several RF levels with one sound, and which was found best."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.plan import Warn
from bandwright.core.sound.comparing import CAUTIONS, Compared, Kind
from bandwright.core.sound.judging import Case, Recommendation
from bandwright.core.sound.recording import PEAK_DB
from bandwright.documents.outputs.common import Document, Input, Level, Model, Number, level, plain, warned

__all__ = ["SoundCompareDocument", "sound_compare_document"]


class HeardModel(Model):
    """What everything was tried with: speech, sung, keys or clapper, or a file; its peak against full modulation."""

    what: str
    file: str | None
    seconds: Number
    of_seconds: Number
    channels: int
    peak_db: Level = PEAK_DB


class KindModel(Model):
    """A kind of companding with every axis; `assumed` names those that nobody stated."""

    name: str
    words: str
    ratio: Number
    expansion: Number
    detector: Literal["rms", "peak"]
    attack_ms: Number
    release_ms: Number
    bands: int
    preemphasis_us: Number
    ultrasonic_filter_khz: Number | None
    deviation_khz: Number
    bandwidth_khz: Number
    audio_khz: Number
    assumed: tuple[str, ...]


class NoiseModel(Model):
    """Noise against full modulation: at rest, and behind a 200 Hz tone; `tail_s` null: longer than a second."""

    rest_db: Level
    rest_468_db: Level
    rest_a_db: Level
    behind_468_db: Level
    rise_db: Level
    tail_s: Number | None


class BurstModel(Model):
    """A burst of 8 kHz: its peak before the limiter, for how long it is cut off, and what is lost of it."""

    peak_db: Level
    limited_ms: Number
    error_db: Level


class StaticModel(Model):
    """A steady 1 kHz tone: in, on the air, out."""

    in_db: Level
    air_db: Level
    out_db: Level


class CaseModel(Model):
    """A kind at an RF level. Errors are against the sound sent, in dB: lower is better.

    `tracking_468_db` is what is left without noise and fading. `cn_db` null: without noise.
    """

    kind: str
    level: str
    cn_db: Level | None
    doppler_hz: Level | None
    error_db: Level
    error_468_db: Level
    error_a_db: Level
    tracking_468_db: Level
    limited_percent: Number
    noise: NoiseModel
    burst: BurstModel
    static: tuple[StaticModel, ...]


class RankModel(Model):
    """A kind and its worst error."""

    kind: str
    error_468_db: Level


class FoundModel(Model):
    """What was found best among the kinds compared, by which number, and by how much."""

    kind: str
    level: str
    decided_by: Literal["error_468_db", "rest_468_db"]
    value_db: Level
    next: str | None
    next_db: Level | None
    margin_db: Level | None
    alike: tuple[str, ...]
    ranked: tuple[RankModel, ...]


class TrackModel(Model):
    """A file that was written, and by how much it was lowered so as not to be louder than the sound sent."""

    file: str
    lowered_db: Level


class SoundCompareDocument(Document):
    """How the kinds of companding of a radio type carry a sound; `found` null: stopped before the end."""

    schema_: Literal["bandwright.sound-compare/1"] = Field("bandwright.sound-compare/1", alias="schema")
    radio: str
    link: str | None
    sound: HeardModel
    seed: int
    stopped: Literal["done", "cancelled"]
    kinds: tuple[KindModel, ...]
    cases: tuple[CaseModel, ...]
    found: FoundModel | None
    files: tuple[TrackModel, ...]
    cautions: tuple[str, ...]


def sound_compare_document(
    compared: Compared, *, inputs: Sequence[Input], warnings: Sequence[Warn]
) -> SoundCompareDocument:
    """Return a comparison as a document."""
    ready = compared.ready
    return SoundCompareDocument(
        inputs=tuple(inputs),
        warnings=warned(warnings),
        radio=compared.radio,
        link=compared.link,
        sound=HeardModel(
            what=compared.sound,
            file=compared.file,
            seconds=round(ready.seconds, 3),
            of_seconds=round(ready.of_seconds, 3),
            channels=ready.channels,
        ),
        seed=compared.seed,
        stopped="cancelled" if compared.stopped == "cancelled" else "done",
        kinds=tuple(_kind(kind) for kind in compared.kinds),
        cases=tuple(_case(case) for case in compared.cases),
        found=None if compared.found is None else _found(compared.found),
        files=tuple(TrackModel(file=f"{item.name}.wav", lowered_db=_db(item.lowered_db)) for item in compared.tracks),
        cautions=CAUTIONS,
    )


def _db(value: float) -> float:
    return round(value, 2)


def _kind(kind: Kind) -> KindModel:
    sent, link = kind.chain.sent, kind.chain.link
    ultrasonic = sent.ultrasonic_filter_hz
    return KindModel(
        name=kind.name,
        words=kind.words,
        ratio=sent.ratio,
        expansion=sent.expansion,
        detector=sent.detector.value,
        attack_ms=_number(sent.attack_s * 1e3),
        release_ms=_number(sent.release_s * 1e3),
        bands=sent.bands,
        preemphasis_us=_number(sent.preemphasis_s * 1e6),
        ultrasonic_filter_khz=None if ultrasonic is None else _number(ultrasonic / 1e3),
        deviation_khz=_number(link.deviation_hz / 1e3),
        bandwidth_khz=_number(link.bandwidth_hz / 1e3),
        audio_khz=_number(link.audio_hz / 1e3),
        assumed=kind.chain.assumed,
    )


def _number(value: float) -> int | float:
    return plain(round(value, 4)) or 0


def _case(case: Case) -> CaseModel:
    noise, burst = case.noise, case.burst
    return CaseModel(
        kind=case.chain,
        level=case.level,
        cn_db=level(case.cn_db),
        doppler_hz=level(case.doppler_hz),
        error_db=_db(case.error_db),
        error_468_db=_db(case.error_468_db),
        error_a_db=_db(case.error_a_db),
        tracking_468_db=_db(case.tracking_468_db),
        limited_percent=round(100 * case.limited_share, 4),
        noise=NoiseModel(
            rest_db=_db(noise.rest_db),
            rest_468_db=_db(noise.rest_468_db),
            rest_a_db=_db(noise.rest_a_db),
            behind_468_db=_db(noise.behind_468_db),
            rise_db=_db(noise.rise_db),
            tail_s=None if noise.tail_s is None else round(noise.tail_s, 3),
        ),
        burst=BurstModel(
            peak_db=_db(burst.peak_db), limited_ms=round(burst.limited_s * 1e3, 2), error_db=_db(burst.error_db)
        ),
        static=tuple(
            StaticModel(in_db=point.in_db, air_db=_db(point.air_db), out_db=_db(point.out_db)) for point in case.static
        ),
    )


def _found(found: Recommendation) -> FoundModel:
    return FoundModel(
        kind=found.chain,
        level=found.level,
        decided_by="rest_468_db" if found.decided_by == "rest_468_db" else "error_468_db",
        value_db=_db(found.value_db),
        next=found.next_chain,
        next_db=level(found.next_db),
        margin_db=level(found.margin_db),
        alike=found.alike,
        ranked=tuple(RankModel(kind=name, error_468_db=_db(worst)) for name, worst in found.ranked),
    )
