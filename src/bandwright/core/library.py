"""What is shipped or kept beside a brief: generic classes, kit, TV rasters, rule and reach tables, as one frozen value.

Nothing in here is law or a data sheet: each table says where it came from and how sure that is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from bandwright.core.bands import Span, TvRaster
from bandwright.core.kit import Direction, Emission, RadioType
from bandwright.core.permits import PowerLimit
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Response
from bandwright.core.sound.tables import SoundTables

__all__ = ["Confidence", "GenericClass", "Library", "RuleTable", "RuleWindow"]


class Confidence(StrEnum):
    """How a figure of a shipped table was obtained."""

    READ = "read"
    MEMORY = "memory"


@dataclass(frozen=True, slots=True, kw_only=True)
class GenericClass:
    """Common practice for a class of radios, opted into by name; None where the class says nothing."""

    name: str
    about: str
    source: str
    direction: Direction | None = None
    emission: Emission | None = None
    bandwidth_hz: int | None = None
    spacing_hz: int | None = None
    clearance_hz: tuple[tuple[str, int], ...] | None = None
    noise_figure_db: float | None = None
    needs_cn_db: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleWindow:
    """One window of a rule table with its terms; `confidence` is that of the weakest figure in it."""

    span: Span
    confidence: Confidence
    max_power: PowerLimit | None = None
    max_bandwidth_hz: int | None = None
    grid_hz: int | None = None
    grid_anchor_hz: int = 0
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleTable:
    """A dated copy of published rules, to start from; the regulator's current text decides.

    `edition` names the text the figures are from; `sources` tells figure by figure how each was obtained.
    """

    id: str
    name: str
    where: str
    edition: str
    licence: str
    windows: tuple[RuleWindow, ...]
    sources: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def confidence(self) -> Confidence:
        """The confidence of the weakest window."""
        read = all(window.confidence is Confidence.READ for window in self.windows)
        return Confidence.READ if read else Confidence.MEMORY


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """Everything a brief may call on by name.

    `touchstone` reads a file beside the brief for a device of so many ports, or raises InputError; it is None where a
    brief has no folder to look in.
    """

    classes: tuple[GenericClass, ...] = ()
    kit: tuple[RadioType, ...] = ()
    rasters: tuple[TvRaster, ...] = ()
    rules: tuple[RuleTable, ...] = ()
    reach: ReachTables = field(default_factory=ReachTables)
    sound: SoundTables = field(default_factory=SoundTables)
    touchstone: Callable[[str, int], Response] | None = None
