"""What the wall sheet says of sound: the gain to set, and the kind of companding."""

from __future__ import annotations

from collections.abc import Iterator

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.sheet import LineUp
from bandwright.core.sound.facts import ways_of
from bandwright.core.sound.lineup import gain_setting
from bandwright.core.sound.matching import End, ends_of
from bandwright.core.sound.tables import SoundTables

__all__ = ["sheet_lines"]


def sheet_lines(job: Job, tables: SoundTables) -> tuple[LineUp, ...]:
    """Return gain and companding of every link of which something is known."""
    return tuple(line for link in job.links for line in _line(job, link, tables))


def _line(job: Job, link: Link, tables: SoundTables) -> Iterator[LineUp]:
    gain, companding = _gain(job, link, tables), _companding(*ends_of(job, link))
    if gain is not None or companding is not None:
        yield LineUp(link=link.id, gain=gain, companding=companding)


def _gain(job: Job, link: Link, tables: SoundTables) -> str | None:
    """Return the gain that somebody set, else the recommended one where a control has it."""
    if link.radio.audio is None and link.sound.gain_db is None:
        return None
    setting = gain_setting(ways_of(job, link, tables)[0])
    if setting is None or (setting.control is None and not setting.stated):
        return f"{link.sound.gain_db:+g} dB" if link.sound.gain_db is not None else None
    return f"{setting.value_db:+g} dB"


def _companding(sender: End, receiver: End) -> str | None:
    """Return the kind at the transmitter, and that at the receiver where it is another one."""
    one, two = _kind(sender), _kind(receiver)
    return one if one == two or two is None else f"{one or '?'} / {two}"


def _kind(end: End) -> str | None:
    if end.kind is None or (end.kind.name is None and end.kind.ratio is None):
        return None
    if end.kind.name is not None:
        return end.kind.name
    return "none" if end.kind.ratio == 1 else f"{end.kind.ratio:g}:1"
