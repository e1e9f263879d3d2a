"""What goes on the air: radio types, units, links and other users' carriers.

Frozen values in whole Hz and milliwatts. A fact that nobody stated is None; nothing here invents one. Facts taken
from a generic class are named in `RadioType.assumed`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.audio import Audio
from bandwright.core.rig import Wall
from bandwright.core.when import TimeSpan

__all__ = [
    "Companding",
    "Detector",
    "Direction",
    "Diversity",
    "Emission",
    "Link",
    "LinkSound",
    "LoSide",
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


class Diversity(StrEnum):
    """What a receiver does with two antennas: nothing, leave the weaker one, take the better one, add both up."""

    NONE = "none"
    SWITCHING = "switching"
    SELECTION = "selection"
    COMBINING = "combining"


class Detector(StrEnum):
    """What of a signal a compander follows: its mean power, or its peaks."""

    RMS = "rms"
    PEAK = "peak"


class LoSide(StrEnum):
    """On which side of the carrier a receiver's first local oscillator lies; either: the maker does not say."""

    ABOVE = "above"
    BELOW = "below"
    EITHER = "either"


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
class Companding:
    """How a radio compresses sound before the air and expands it after, by axes; None is what nobody stated.

    `ratio` 1 is none. `preemphasis_us` 0 is none; None leaves it to the radio type. `expansion` is the ratio of the
    expander at the receiver, the ratio of the compressor when None; less than it hands on reduced dynamics. `unity_db`
    is the level, against full deviation, that the compressor leaves as it is. `ultrasonic_filter_hz` is the corner of
    the low-pass before the compressor.
    """

    name: str | None = None
    ratio: float | None = None
    detector: Detector | None = None
    attack_ms: float | None = None
    release_ms: float | None = None
    bands: int | None = None
    preemphasis_us: float | None = None
    expansion: float | None = None
    unity_db: float | None = None
    ultrasonic_filter_hz: int | None = None


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
    listed is off. `assumed` names the fields that came from the generic class `defaults`. `front_end_shared` tells
    whether all receiver channels of one unit look through one front-end window. `sensitivity_dbm` is the weakest
    carrier at its receiver's input that it works with, and `needs_cn_db` the carrier-to-noise ratio that it then needs;
    `iip3_dbm` is its input third-order intercept point, and `diversity` what it does with two antennas;
    `transmit_im_loss_db` is the conversion loss of its transmitter's output stage. `audible_ms` is how long the signal
    must be gone for that to be heard. `companding` lists every kind that it can be set to, the first being the one it
    is set to when nobody says otherwise.

    `p1db_dbm` is the level at its input where gain has fallen by 1 dB. `selectivity` pairs an offset in Hz with the dB
    by which its input filter lowers what lies that far from its carrier, rising in offset. `if_hz` lists intermediate
    frequencies, the first one first. `antenna_supply` tells whether it feeds the antenna line with a direct voltage.
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
    front_end_shared: bool = True
    designator: str | None = None
    peak_deviation_hz: int | None = None
    preemphasis_us: float | None = None
    noise_figure_db: float | None = None
    sensitivity_dbm: float | None = None
    needs_cn_db: float | None = None
    iip3_dbm: float | None = None
    transmit_im_loss_db: float | None = None
    diversity: Diversity | None = None
    audible_ms: float | None = None
    companding: tuple[Companding, ...] = ()
    audio: Audio | None = None
    p1db_dbm: float | None = None
    selectivity: tuple[tuple[int, float], ...] = ()
    if_hz: tuple[int, ...] = ()
    lo_side: LoSide = LoSide.EITHER
    antenna_supply: bool | None = None
    channels_per_unit: int = 1
    invented: bool = False
    note: str | None = None

    @property
    def shared_window_hz(self) -> int | None:
        """Width of the front-end window that all receiver channels of one unit share, or None."""
        return self.front_end_window_hz if self.front_end_shared else None

    def selectivity_db(self, offset_hz: float) -> float:
        """Return by how much its input filter lowers what lies so far from its carrier; 0 where nobody stated any.

        Straight lines in dB from 0 dB at the carrier; beyond the last point it stays.
        """
        offset_hz, low_hz, low_db = abs(offset_hz), 0.0, 0.0
        for high_hz, high_db in self.selectivity:
            if offset_hz < high_hz:
                return low_db + (high_db - low_db) * (offset_hz - low_hz) / (high_hz - low_hz)
            low_hz, low_db = high_hz, high_db
        return low_db

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
class LinkSound:
    """What somebody stated of the sound of a link.

    `companding` names the kind that its transmitter is set to, `receiver_companding` that of its receiver where it is
    another one; `receiver_radio` is the radio type of its receiver where it is not that of its transmitter. `source`
    and `microphone` are ids, `from_source_m` the distance between the two, `gain_db` the setting of its transmitter.
    """

    companding: str | None = None
    receiver_companding: str | None = None
    receiver_radio: str | None = None
    source: str | None = None
    microphone: str | None = None
    from_source_m: float | None = None
    gain_db: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One carrier to be placed: what sends on it and what hears it.

    `earshots` empty means: hears and is heard by everything. `on_air` empty means: always. `spare_at` is for spare
    carriers alone: the ids of all places at which one must be usable; at one of them it stands for a link there.
    `distance_m` is the farthest point of its area from its antenna, `zone` the part of the plan in which it is.
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
    distance_m: float | None = None
    body_loss_db: float | None = None
    walls: tuple[Wall, ...] = ()
    zone: str | None = None
    spare_at: tuple[str, ...] = ()
    sound: LinkSound = LinkSound()


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
