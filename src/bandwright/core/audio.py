"""What sound passes on its way: microphones, sources, the inputs and outputs of radios, and what comes after them.

Frozen values; None is what nobody stated. Levels are dBu (0 dBu is 0.7746 V), sound pressure levels dB re 20 uPa.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = [
    "Audio",
    "Earpiece",
    "Feed",
    "Gains",
    "Microphone",
    "Output",
    "Plug",
    "Powering",
    "Source",
    "SourceKind",
]


class SourceKind(StrEnum):
    """What makes the sound; a programme comes by cable."""

    SPEECH = "speech"
    SINGING = "singing"
    INSTRUMENT = "instrument"
    PROGRAMME = "programme"


class Plug(StrEnum):
    """What kind of signal an output gives or an input takes; `phones` drives earpieces."""

    MIC = "mic"
    LINE = "line"
    AES3 = "aes3"
    NETWORK = "network"
    PHONES = "phones"

    @property
    def digital(self) -> bool:
        """Whether it carries numbers."""
        return self in (Plug.AES3, Plug.NETWORK)


class Powering(StrEnum):
    """What a microphone needs to work, or what an input gives it."""

    NOTHING = "nothing"
    BIAS = "bias"
    PHANTOM = "phantom"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gains:
    """The settings of a gain control: low, low + step, ... up to high, in dB."""

    low_db: float
    high_db: float
    step_db: float

    def __post_init__(self) -> None:
        if self.step_db <= 0 or self.high_db < self.low_db:
            raise ValueError(f"settings run upwards in steps above 0 dB; given {self}")

    @property
    def settings_db(self) -> tuple[float, ...]:
        """Every setting from the lowest on."""
        count = int((self.high_db - self.low_db) / self.step_db + 1e-9) + 1
        return tuple(round(self.low_db + number * self.step_db, 6) for number in range(count))

    def has(self, setting_db: float) -> bool:
        """Whether this is one of the settings."""
        return any(abs(setting_db - one) < 1e-6 for one in self.settings_db)


@dataclass(frozen=True, slots=True, kw_only=True)
class Microphone:
    """A microphone with what stands between it and the transmitter.

    `self_noise_db` is A-weighted, as a level of sound; `output_ohm` tells the thermal noise of one that states none.
    """

    id: str
    name: str
    sensitivity_mv_per_pa: float | None = None
    self_noise_db: float | None = None
    most_db_spl: float | None = None
    output_ohm: float | None = None
    needs: Powering | None = None
    pad_db: float = 0.0
    inverts: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What links carry. Acoustic levels are stated at `at_m` metres; a programme's are dBu.

    `quietest` and `loudest` name published efforts of speech, the levels go before them. `peaks_db` is by how much
    peaks stand over the loudest level. `one` says that all its links hear one and the same thing at the same time.
    `latency_ms` is what a programme has behind it already.
    """

    id: str
    name: str
    kind: SourceKind
    quietest: str | None = None
    loudest: str | None = None
    quietest_db_spl: float | None = None
    loudest_db_spl: float | None = None
    at_m: float | None = None
    quietest_dbu: float | None = None
    loudest_dbu: float | None = None
    peaks_db: float | None = None
    headroom_db: float | None = None
    one: bool = False
    latency_ms: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One output of a receiver.

    `full_dbu` or `full_dbfs` is what it gives at full deviation (or full scale of the radio) with its control at 0 dB;
    `most_dbu` is where it clips by itself; `own_clock` tells whether a digital one keeps its own time.
    """

    name: str
    plug: Plug
    full_dbu: float | None = None
    full_dbfs: float | None = None
    most_dbu: float | None = None
    gains: Gains | None = None
    balanced: bool | None = None
    bears_phantom: bool | None = None
    own_clock: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Audio:
    """The sound of a radio type.

    `input_full_dbu` at the transmitter's input reaches full deviation (or full scale) with its gain at 0 dB;
    `input_most_dbu` is what that input takes whatever the gain, `input_noise_dbu` its own noise referred to it.
    `noise_db` is how far the link's own noise lies under full deviation, `latency_ms` what it takes from end to end.
    """

    input_full_dbu: float | None = None
    input_most_dbu: float | None = None
    input_noise_dbu: float | None = None
    gains: Gains | None = None
    gives: Powering | None = None
    outputs: tuple[Output, ...] = ()
    noise_db: float | None = None
    latency_ms: float | None = None
    inverts: bool | None = None
    tone_squelch_hz: float | None = None
    encrypted: bool | None = None
    digital_mode: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Earpiece:
    """What hangs on a phones output: the level at the ear for 1 V, or for 1 mW with its impedance."""

    db_spl_per_v: float | None = None
    db_spl_per_mw: float | None = None
    ohm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """Where the output of receivers goes. `links` holds what it names, with boxes and racks still by name.

    `full_scale_dbu` reads 0 dBFS with the trim at 0 dB; `most_dbu` is what the input takes ahead of its trim,
    `noise_dbu` its own noise referred to it. `reference` names a published alignment. `output_db` and `trim_db` are
    settings that somebody has made. `limiter_db` is where a limiter holds, against full deviation. `clock` names what
    the receiver takes its time from; an input that `converts_rate` does not mind.
    """

    id: str
    name: str
    links: tuple[str, ...] = ()
    output: str | None = None
    output_db: float | None = None
    input: Plug | None = None
    reference: str | None = None
    full_scale_dbu: float | None = None
    most_dbu: float | None = None
    noise_dbu: float | None = None
    trims: Gains | None = None
    trim_db: float | None = None
    pad_db: float = 0.0
    phantom: bool | None = None
    balanced: bool | None = None
    inverts: bool | None = None
    cable_m: float | None = None
    latency_ms: float | None = None
    sample_rate_hz: int | None = None
    device: str | None = None
    clock: str | None = None
    converts_rate: bool | None = None
    earpiece: Earpiece | None = None
    limiter_db: float | None = None
    hours: float | None = None
