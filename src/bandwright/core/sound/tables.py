"""What the line-up looks up in shipped tables, as one frozen value that the caller brings."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.core.audio import SourceKind
from bandwright.core.kit import Worn

__all__ = ["Alignment", "Effort", "ExposureLimit", "Nearness", "Peaks", "SoundTables"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """A vocal effort and the overall level of speech 1 m in front of the mouth."""

    name: str
    level_db_spl: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Peaks:
    """By how much the peaks of a kind of source stand over its level."""

    kind: SourceKind
    over_db: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearness:
    """How far a microphone is from the mouth, by how its transmitter is worn."""

    worn: Worn
    metres: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """Where the alignment tone reads on a digital meter, and what line level usually goes with it."""

    name: str
    level_dbfs: float
    line_dbu: float | None
    about: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureLimit:
    """A daily noise exposure level over 8 h, A-weighted, and the peak, C-weighted, of a published rule."""

    name: str
    over_8h_db: float
    peak_db: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundTables:
    """Efforts of speech, peaks, distances, alignments and exposure limits."""

    efforts: tuple[Effort, ...] = ()
    peaks: tuple[Peaks, ...] = ()
    nearness: tuple[Nearness, ...] = ()
    alignments: tuple[Alignment, ...] = ()
    exposure: tuple[ExposureLimit, ...] = ()

    def effort(self, name: str) -> Effort:
        """Return an effort by its name; raises KeyError when there is none."""
        return {one.name: one for one in self.efforts}[name]

    def alignment(self, name: str) -> Alignment:
        """Return an alignment by its name; raises KeyError when there is none."""
        return {one.name: one for one in self.alignments}[name]

    def peaks_over(self, kind: SourceKind) -> Peaks:
        """Return the peaks of a kind of source; raises KeyError when the tables have none."""
        return {one.kind: one for one in self.peaks}[kind]

    def near(self, worn: Worn) -> Nearness | None:
        """Return how near a microphone usually is, or None where nothing is usual."""
        return {one.worn: one for one in self.nearness}.get(worn)
