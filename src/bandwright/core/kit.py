"""What goes on the air: radio types, units, links and other users' carriers.

Frozen values in whole Hz and milliwatts. A fact that nobody stated is None; nothing here invents one. Facts taken
from a generic class are named in `RadioType.assumed`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.when import TimeSpan

__all__ = [
    "Direction",
    "Emission",
    "Link",
    "MakesProducts",
    "Other",
    "PowerKind",
    "Preset",
    "RadioType",
    "TuningRange",
    "Unit",
    "Worn",
]


class Direction(StrEnum):
    """Which way the sound goes."""

    FROM_PERSON = "from-person"
    TO_PERSON = "to-person"
    BOTH = "both"


class Emission(StrEnum):
    """How the carrier is modulated."""

    FM = "fm"
    FM_STEREO = "fm-stereo"
    DIGITAL = "digital"


class PowerKind(StrEnum):
    """What a power figure refers to."""

    ERP = "erp"
    EIRP = "eirp"
    CONDUCTED = "conducted"


class Worn(StrEnum):
    """Where the transmitter is."""

    BODY = "body"
    HAND = "hand"
    RACK = "rack"


class MakesProducts(StrEnum):
    """Whether another user's carrier takes part in intermodulation products."""

    YES = "true"
    NO = "false"
    AUTO = "auto"


@dataclass(frozen=True, slots=True, kw_only=True)
class TuningRange:
    """Carriers low, low + step, ... up to high."""

    low_hz: int
    high_hz: int
    step_hz: int

    def __post_init__(self) -> None:
        if self.step_hz <= 0:
            raise ValueError(f"a tuning step is more than 0 Hz; given {self.step_hz}")
        if self.high_hz < self.low_hz:
            raise ValueError(f"a tuning range runs upwards; given {self.low_hz} to {self.high_hz} Hz")

    def reaches(self, carrier_hz: int) -> bool:
        """Whether the carrier is one of this range's steps."""
        return self.low_hz <= carrier_hz <= self.high_hz and (carrier_hz - self.low_hz) % self.step_hz == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Preset:
    """A fixed carrier and the label the maker prints on it."""

    label: str
    carrier_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RadioType:
    """The facts of one transmitter/receiver family.

    `clearance_hz` pairs an IM family with the offset that the *receiver* asks of its products; a family that is not
    listed is off. `assumed` names the fields that came from the generic class `defaults`.
    """

    id: str
    name: str
    direction: Direction
    emission: Emission
    bandwidth_hz: int
    spacing_hz: int
    clearance_hz: tuple[tuple[str, int], ...]
    tuning: tuple[TuningRange, ...] = ()
    presets: tuple[Preset, ...] = ()
    power_mw: tuple[float, ...] = ()
    power_kind: PowerKind | None = None
    defaults: str | None = None
    assumed: tuple[str, ...] = ()
    front_end_window_hz: int | None = None
    designator: str | None = None
    peak_deviation_hz: int | None = None
    channels_per_unit: int = 1
    invented: bool = False
    note: str | None = None

    def reaches(self, carrier_hz: int) -> bool:
        """Whether the type can be set to this carrier."""
        return any(r.reaches(carrier_hz) for r in self.tuning) or self.preset_at(carrier_hz) is not None

    def preset_at(self, carrier_hz: int) -> Preset | None:
        """Return the preset on this carrier, or None."""
        return next((preset for preset in self.presets if preset.carrier_hz == carrier_hz), None)

    def clearance_of(self, family: str) -> int | None:
        """Return the clearance asked of a family in Hz, or None when it is off."""
        return dict(self.clearance_hz).get(family)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One physical box."""

    id: str
    name: str
    radio: str
    serial: str | None = None
    rack: str | None = None
    antenna: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One carrier to be placed: what sends on it and what hears it.

    `earshots` empty means: hears and is heard by everything. `on_air` empty means: always.
    """

    id: str
    name: str
    radio: RadioType
    worn: Worn
    hold_hz: int | None = None
    priority: int = 0
    earshots: frozenset[str] = frozenset()
    on_air: tuple[TimeSpan, ...] = ()
    power_mw: float | None = None
    unit: str | None = None
    place: str | None = None
    role: str | None = None
    wearer: str | None = None
    rack: str | None = None
    apart_from: tuple[str, ...] = ()
    movable: str = "now"
    desk_input: str | None = None
    receiver: str | None = None
    antenna: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """A transmitter that is not ours and will not move for us.

    `level_dbm` is its level at our antenna where that is known. `clearance_hz` matters only with `protect`.
    """

    id: str
    name: str
    carrier_hz: int
    bandwidth_hz: int
    keep_away_hz: int | None = None
    makes_products: MakesProducts = MakesProducts.AUTO
    protect: bool = False
    clearance_hz: tuple[tuple[str, int], ...] = ()
    level_dbm: float | None = None
    earshots: frozenset[str] = frozenset()
    on_air: tuple[TimeSpan, ...] = ()
    place: str | None = None
