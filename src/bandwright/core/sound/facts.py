"""What a line-up stands on: source, microphone, the two ends of the link, and where its output goes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from bandwright.core.audio import Audio, Feed, Microphone, Output, Plug, Source, SourceKind
from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link
from bandwright.core.reach.facts import Gap
from bandwright.core.sound.matching import End, ends_of
from bandwright.core.sound.tables import SoundTables

__all__ = ["SourceLevels", "WayFacts", "feeds_of", "source_levels", "ways_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceLevels:
    """A source where it is stated: its unit, the quietest that counts, the loudest, its peaks (None: not known)."""

    unit: str
    quietest: float | None
    loudest: float | None
    peak: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WayFacts:
    """One way of sound: a link with one of its feeds; None is what the brief does not say.

    `near_m` is the distance from source to microphone, `gaps` is what is missing so far.
    """

    link: Link
    ends: tuple[End, End]
    source: Source | None
    levels: SourceLevels | None
    microphone: Microphone | None
    near_m: float | None
    feed: Feed | None
    output: Output | None
    to_person: bool
    temperature_c: float | None
    gaps: tuple[Gap, ...] = field(default=())

    @property
    def sending(self) -> Audio | None:
        """The sound of the transmitter's type."""
        return self.ends[0].radio.audio

    @property
    def hearing(self) -> Audio | None:
        """The sound of the receiver's type."""
        return self.ends[1].radio.audio

    @property
    def acoustic(self) -> bool:
        """Whether a microphone stands in front of it."""
        return self.source is None or self.source.kind is not SourceKind.PROGRAMME

    @property
    def turns(self) -> tuple[bool | None, ...]:
        """Whether each part of the way turns polarity; None for one that does not say."""
        parts = [self.sending.inverts if self.sending is not None else None]
        parts += [self.microphone.inverts if self.microphone is not None else None] if self.acoustic else []
        parts += [self.feed.inverts] if self.feed is not None else []
        return tuple(parts)

    @property
    def inverts(self) -> bool | None:
        """Whether polarity is turned from source to end; None where a part of the way does not say."""
        return None if None in self.turns else sum(one is True for one in self.turns) % 2 == 1


def ways_of(job: Job, link: Link, tables: SoundTables) -> tuple[WayFacts, ...]:
    """Return every way that the sound of a link takes: one for each feed, or one that ends at the receiver."""
    return tuple(_way(job, link, feed, tables) for feed in feeds_of(job, link) or (None,))


def feeds_of(job: Job, link: Link) -> tuple[Feed, ...]:
    """Return the feeds of a link: those that name it, its box, rack or receiver, else those that name nothing."""
    unit = next((unit for unit in job.units if unit.id == link.unit), None)
    names = {link.id, link.unit, link.rack, link.receiver, unit.rack if unit is not None else None}
    named = tuple(feed for feed in job.feeds if names.intersection(feed.links))
    return named or tuple(feed for feed in job.feeds if not feed.links and _may_take(feed, link))


def _may_take(feed: Feed, link: Link) -> bool:
    """Whether a feed that names nothing goes with a link: earpieces with links to people, anything else with others."""
    return (feed.input is Plug.PHONES) == (link.radio.direction is Direction.TO_PERSON)


def _way(job: Job, link: Link, feed: Feed | None, tables: SoundTables) -> WayFacts:
    gaps: list[Gap] = []
    ends = ends_of(job, link)
    source = next((one for one in job.sources if one.id == link.sound.source), None)
    microphone = next((one for one in job.microphones if one.id == link.sound.microphone), None)
    acoustic = source is None or source.kind is not SourceKind.PROGRAMME
    if source is None:
        gaps.append(Gap(table="link", id=link.id, key="source"))
    if acoustic and microphone is None:
        gaps.append(Gap(table="link", id=link.id, key="microphone"))
    if feed is None:
        gaps.append(Gap(table="feed", id=link.id, key="for"))
    levels = None
    if source is not None:
        levels, missing = source_levels(source, tables)
        gaps += missing
    near_m = _near_m(link, tables, gaps) if acoustic else None
    gaps += [Gap(table="radio", id=end.radio.id, key="audio") for end in ends if end.radio.audio is None]
    return WayFacts(
        link=link,
        ends=ends,
        source=source,
        levels=levels,
        microphone=microphone,
        near_m=near_m,
        feed=feed,
        output=_output(ends[1].radio.audio, feed, ends[1].radio.id, gaps),
        to_person=link.radio.direction is Direction.TO_PERSON,
        temperature_c=job.place_of(link).temperature_c,
        gaps=tuple(dict.fromkeys(gaps)),
    )


def _near_m(link: Link, tables: SoundTables, gaps: list[Gap]) -> float | None:
    if link.sound.from_source_m is not None:
        return link.sound.from_source_m
    usual = tables.near(link.worn)
    until = None if usual is None else f"{usual.metres:g} m ({usual.source})"
    gaps.append(Gap(table="link", id=link.id, key="from_source_m", meanwhile=until))
    return None if usual is None else usual.metres


def _output(audio: Audio | None, feed: Feed | None, radio_id: str, gaps: list[Gap]) -> Output | None:
    if audio is None:
        return None
    if not audio.outputs:
        gaps.append(Gap(table="radio", id=radio_id, key="audio.outputs"))
        return None
    if feed is None or feed.output is None:
        return audio.outputs[0]
    named = next((one for one in audio.outputs if one.name == feed.output), None)
    if named is None:
        gaps.append(Gap(table="radio", id=radio_id, key=f'audio.outputs with the name "{feed.output}"'))
    return named


def source_levels(source: Source, tables: SoundTables) -> tuple[SourceLevels, list[Gap]]:
    """Return the levels of a source where it is stated, and what is missing of them."""
    gaps: list[Gap] = []
    if source.kind is SourceKind.PROGRAMME:
        unit, quietest, loudest = "dBu", source.quietest_dbu, source.loudest_dbu
        gaps += list(_levels_missing(source, "dbu", quietest, loudest))
    else:
        unit = "dB SPL"
        quietest = _acoustic(source, source.quietest_db_spl, source.quietest, "normal", tables)
        loudest = _acoustic(source, source.loudest_db_spl, source.loudest, "shout", tables)
        gaps += list(_acoustic_missing(source, quietest, loudest))
    peaks_db = source.peaks_db
    if peaks_db is None:
        usual = tables.peaks_over(source.kind)
        peaks_db = usual.over_db
        until = f"{peaks_db:g} dB over the loudest ({usual.source})"
        gaps.append(Gap(table="source", id=source.id, key="peaks_db", meanwhile=until))
    peak = None if loudest is None else loudest + peaks_db
    return SourceLevels(unit=unit, quietest=quietest, loudest=loudest, peak=peak), gaps


def _acoustic(
    source: Source, stated_db_spl: float | None, effort: str | None, usual: str, tables: SoundTables
) -> float | None:
    """Return a level as it is stated, else that of an effort; for speech of the usual one."""
    if stated_db_spl is not None:
        return stated_db_spl
    if source.kind is not SourceKind.SPEECH:
        return None
    return tables.effort(effort or usual).level_db_spl


def _acoustic_missing(source: Source, quietest: float | None, loudest: float | None) -> Iterator[Gap]:
    if source.kind is not SourceKind.SPEECH:
        yield from _levels_missing(source, "db_spl", quietest, loudest)
        return
    for key, stated, effort, usual in (
        ("quietest", source.quietest_db_spl, source.quietest, "normal"),
        ("loudest", source.loudest_db_spl, source.loudest, "shout"),
    ):
        if stated is None and effort is None:
            yield Gap(table="source", id=source.id, key=key, meanwhile=f'"{usual}"')


def _levels_missing(source: Source, unit: str, quietest: float | None, loudest: float | None) -> Iterator[Gap]:
    for key, value in ((f"quietest_{unit}", quietest), (f"loudest_{unit}", loudest)):
        if value is None:
            yield Gap(table="source", id=source.id, key=key)
