"""The `sound` document: levels from mouth to recorder, settings, companding of the kit, times, ears and clocks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.kit import Direction
from bandwright.core.planning.plan import Warn
from bandwright.core.reach.facts import Gap
from bandwright.core.sound.clock import Clock
from bandwright.core.sound.hearing import AtEar, Judged
from bandwright.core.sound.lineup import Point, Setting
from bandwright.core.sound.matching import End, Match, Pairing
from bandwright.core.sound.remarks import Grade
from bandwright.core.sound.report import LinkReport, SoundReport, State, Way
from bandwright.core.sound.timing import Arrival, Loop, Together
from bandwright.documents.outputs.common import Document, Input, Level, Model, Number, level, plain, warned
from bandwright.documents.outputs.gaps import GapModel

__all__ = ["SoundDocument", "sound_document"]


class PointModel(Model):
    """One point of a way, in its own `unit` (dB SPL, dBu, dB against full deviation, dBFS); null is not known.

    `full` is what full deviation gives there, `clip` where it clips, `tone` what the 1 kHz alignment tone reads,
    `margin_db` by how much the source could rise before this point clips.
    """

    where: str
    name: str
    unit: str
    noise: Level | None
    quietest: Level | None
    loudest: Level | None
    peak: Level | None
    full: Level | None
    clip: Level | None
    tone: Level | None
    margin_db: Level | None


class SettingModel(Model):
    """One control: what it is set to, whether somebody set it, what suits best, and the settings that it has."""

    what: str
    value_db: Number
    stated: bool
    recommended_db: Number | None
    low_db: Number | None
    high_db: Number | None
    step_db: Number | None


class RemarkModel(Model):
    """One thing to know or to do; `basis` is computed or common practice."""

    code: str
    grade: Grade
    text: str
    basis: str


class ArrivalModel(Model):
    """How long the way takes, in ms: before the transmitter, in the air, over the link, behind it; null: not stated."""

    air_ms: Level | None
    before_ms: Level | None
    link_ms: Level | None
    behind_ms: Level | None
    total_ms: Level | None


class LimitModel(Model):
    """A published exposure limit, how long a level may last by it in a day, and whether the stated hours keep it."""

    name: str
    over_8h_db: Level
    peak_db: Level
    source: str
    hours: Number
    kept: bool | None


class EarModel(Model):
    """Levels at the ear in dB SPL: the loudest, the most that can come, and the daily exposure at the loudest."""

    loudest_db: Level | None
    most_db: Level
    limited: bool
    daily_db: Level | None
    by_loudest: tuple[LimitModel, ...]
    by_most: tuple[LimitModel, ...]


class WayModel(Model):
    """One way of the sound of a link, to one feed (null: nobody says where its output goes)."""

    feed: str | None
    output: str | None
    source: str | None
    microphone: str | None
    from_source_m: Number | None
    settings: tuple[SettingModel, ...]
    points: tuple[PointModel, ...]
    headroom_db: Level | None
    clips_first: str | None
    over_noise_db: Level | None
    tone_dbfs: Level | None
    inverts: bool | None
    arrival: ArrivalModel
    ear: EarModel | None
    remarks: tuple[RemarkModel, ...]


class EndModel(Model):
    """One end of a link or one column of the matrix: a radio type, its kind of companding, and what that does."""

    radio: str
    kind: str | None
    about: str


class PairingModel(Model):
    """How a transmitter and a receiver go together."""

    transmitter: EndModel
    receiver: EndModel
    match: Match
    faults: tuple[str, ...]
    losses: tuple[str, ...]
    notes: tuple[str, ...]
    not_stated: tuple[str, ...]
    fix: str | None


class LinkSoundModel(Model):
    """One link. `state` is fits, caution, wrong, or open where facts are missing; `missing` says what to fill in."""

    id: str
    name: str
    radio: str
    direction: Direction
    state: State
    pairing: PairingModel
    ways: tuple[WayModel, ...]
    missing: tuple[GapModel, ...]


class MemberModel(Model):
    """One way among those that hear the same: how early it is, and the delay that evens that out."""

    link: str
    total_ms: Level
    early_ms: Level
    delay_samples: int
    delay_m: Level
    notches_hz: tuple[Level, ...]


class TogetherModel(Model):
    """Ways that carry one and the same sound to one device."""

    source: str
    device: str | None
    sample_rate_hz: int
    members: tuple[MemberModel, ...]
    inverted: tuple[str, ...]


class LoopModel(Model):
    """From somebody's mouth over the own microphone and in-ear back to the ear."""

    wearer: str
    microphone: str
    ear: str
    total_ms: Level | None


class MasterModel(Model):
    """A clock (null: nobody says which) and the links that run on it."""

    clock: str | None
    links: tuple[str, ...]


class ClockModel(Model):
    """The clocks that meet in one device; `one` is null where they are not all stated."""

    device: str
    one: bool | None
    masters: tuple[MasterModel, ...]
    missing: tuple[GapModel, ...]


class SoundDocument(Document):
    """What `bandwright sound --json` prints: how each link sounds, and what the kit allows."""

    schema_: Literal["bandwright.sound/1"] = Field(default="bandwright.sound/1", alias="schema")
    ok: bool
    links: tuple[LinkSoundModel, ...]
    matrix: tuple[PairingModel, ...]
    together: tuple[TogetherModel, ...]
    own_voice: tuple[LoopModel, ...]
    clocks: tuple[ClockModel, ...]
    cautions: tuple[str, ...]


def sound_document(report: SoundReport, *, inputs: Sequence[Input], warnings: Sequence[Warn]) -> SoundDocument:
    """Return how the sound of a job stands, as a document."""
    return SoundDocument(
        ok=report.fine,
        links=tuple(map(_link, report.links)),
        matrix=tuple(map(_pairing, report.matrix)),
        together=tuple(map(_together, report.together)),
        own_voice=tuple(map(_loop, report.loops)),
        clocks=tuple(map(_clock, report.clocks)),
        cautions=report.cautions,
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _link(item: LinkReport) -> LinkSoundModel:
    return LinkSoundModel(
        id=item.link.id,
        name=item.link.name,
        radio=item.link.radio.id,
        direction=item.link.radio.direction,
        state=item.state,
        pairing=_pairing(item.pairing),
        ways=tuple(map(_way, item.ways)),
        missing=_gaps(item.gaps),
    )


def _gaps(gaps: Iterable[Gap]) -> tuple[GapModel, ...]:
    return tuple(GapModel(table=one.table, id=one.id, key=one.key, meanwhile=one.meanwhile) for one in gaps)


def _pairing(item: Pairing) -> PairingModel:
    return PairingModel(
        transmitter=_end(item.transmitter),
        receiver=_end(item.receiver),
        match=item.match,
        faults=item.faults,
        losses=item.losses,
        notes=item.notes,
        not_stated=item.not_stated,
        fix=item.fix,
    )


def _end(item: End) -> EndModel:
    return EndModel(radio=item.radio.id, kind=item.kind.name if item.kind is not None else None, about=item.words)


def _way(item: Way) -> WayModel:
    lined, facts = item.line_up, item.line_up.facts
    return WayModel(
        feed=None if facts.feed is None else facts.feed.id,
        output=None if facts.output is None else facts.output.name,
        source=None if facts.source is None else facts.source.id,
        microphone=None if facts.microphone is None else facts.microphone.id,
        from_source_m=plain(facts.near_m),
        settings=tuple(map(_setting, lined.settings)),
        points=tuple(map(_point, lined.points)),
        headroom_db=level(lined.headroom_db),
        clips_first=None if lined.clips_first is None else lined.clips_first.where,
        over_noise_db=level(lined.over_noise_db),
        tone_dbfs=level(lined.tone_dbfs),
        inverts=facts.inverts,
        arrival=_arrival(item.arrival),
        ear=None if item.ear is None else _ear(item.ear),
        remarks=tuple(
            RemarkModel(code=one.code, grade=one.grade, text=one.text, basis=one.basis) for one in item.remarks
        ),
    )


def _setting(item: Setting) -> SettingModel:
    control = item.control
    return SettingModel(
        what=item.what,
        value_db=plain(item.value_db) or 0,
        stated=item.stated,
        recommended_db=plain(item.recommended_db),
        low_db=None if control is None else plain(control.low_db),
        high_db=None if control is None else plain(control.high_db),
        step_db=None if control is None else plain(control.step_db),
    )


def _point(item: Point) -> PointModel:
    return PointModel(
        where=item.where,
        name=item.name,
        unit=item.unit,
        noise=level(item.noise),
        quietest=level(item.quietest),
        loudest=level(item.loudest),
        peak=level(item.peak),
        full=level(item.full),
        clip=level(item.clip),
        tone=level(item.tone),
        margin_db=level(item.margin_db),
    )


def _arrival(item: Arrival) -> ArrivalModel:
    return ArrivalModel(
        air_ms=_ms(item.air_ms),
        before_ms=_ms(item.before_ms),
        link_ms=_ms(item.link_ms),
        behind_ms=_ms(item.behind_ms),
        total_ms=_ms(item.total_ms),
    )


def _ms(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _ear(item: AtEar) -> EarModel:
    return EarModel(
        loudest_db=level(item.loudest_db),
        most_db=round(item.most_db, 2),
        limited=item.limited,
        daily_db=level(item.daily_db),
        by_loudest=tuple(map(_limit, item.by_loudest)),
        by_most=tuple(map(_limit, item.by_most)),
    )


def _limit(item: Judged) -> LimitModel:
    return LimitModel(
        name=item.limit.name,
        over_8h_db=item.limit.over_8h_db,
        peak_db=item.limit.peak_db,
        source=item.limit.source,
        hours=float(f"{item.hours:.3g}"),
        kept=item.kept,
    )


def _together(item: Together) -> TogetherModel:
    return TogetherModel(
        source=item.source,
        device=item.device,
        sample_rate_hz=item.sample_rate_hz,
        members=tuple(
            MemberModel(
                link=one.arrival.facts.link.id,
                total_ms=round(one.arrival.total_ms or 0.0, 3),
                early_ms=round(one.early_ms, 3),
                delay_samples=one.samples,
                delay_m=round(one.metres, 3),
                notches_hz=tuple(round(notch, 1) for notch in one.notches_hz),
            )
            for one in item.members
        ),
        inverted=item.inverted,
    )


def _loop(item: Loop) -> LoopModel:
    return LoopModel(
        wearer=item.wearer,
        microphone=item.microphone.facts.link.id,
        ear=item.ear.facts.link.id,
        total_ms=_ms(item.total_ms),
    )


def _clock(item: Clock) -> ClockModel:
    return ClockModel(
        device=item.device,
        one=item.one,
        masters=tuple(MasterModel(clock=name, links=links) for name, links in item.masters),
        missing=_gaps(item.gaps),
    )
