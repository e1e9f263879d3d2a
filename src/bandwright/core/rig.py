"""What stands between the air and a receiver: antennas, the devices and cables behind them, and walls on the way."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.bands import Span

__all__ = ["Antenna", "AntennaPattern", "Part", "PartKind", "Response", "Run", "Supply", "Wall"]


class PartKind(StrEnum):
    """What lies in a run."""

    CABLE = "cable"
    FILTER = "filter"
    SPLITTER = "splitter"
    AMPLIFIER = "amplifier"
    PAD = "pad"


class Supply(StrEnum):
    """What a part does with a direct voltage on the antenna line, which the receiver's end feeds."""

    GIVES = "gives"
    PASSES = "passes"
    BLOCKS = "blocks"
    NEEDS = "needs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """Gain over frequency, from a file or stated points: pairs of Hz and dB, rising in frequency.

    Between its points gain follows straight lines in dB; beyond them nothing is known.
    """

    source: str
    points: tuple[tuple[float, float], ...]

    def covers(self, frequency_hz: float) -> bool:
        """Whether a frequency lies within the points."""
        return self.points[0][0] <= frequency_hz <= self.points[-1][0]

    def gain_db(self, frequency_hz: float) -> float:
        """Return the gain at a frequency that the points cover, in dB.

        >>> Response(source="x", points=((470e6, -1.0), (570e6, -2.0))).gain_db(520e6)
        -1.5
        """
        if not self.covers(frequency_hz):
            raise ValueError(f"{self.source} says nothing at {frequency_hz} Hz")
        above = bisect_left(self.points, (frequency_hz, -math.inf))
        high_hz, high_db = self.points[above]
        if high_hz == frequency_hz:
            return high_db
        low_hz, low_db = self.points[above - 1]
        return low_db + (high_db - low_db) * (frequency_hz - low_hz) / (high_hz - low_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class AntennaPattern:
    """How an antenna receives by direction: "omni", "directional" by its two figures, or a table of degrees and dB.

    Figures that nobody stated are None. A table that ends at 180 degrees at most holds for both sides.
    """

    name: str
    beamwidth_deg: float | None = None
    front_to_back_db: float | None = None
    points: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Antenna:
    """An antenna at the rack's end of links; None is what nobody stated.

    `at_m` is where it stands on the plan of the place, in metres. `site_noise_db` is by how much the noise that it
    hears exceeds thermal noise. `response` is its gain in dBi over frequency, which goes before `gain_dbi`; `mismatch`
    is what reflection at its terminals takes away, in dB of gain.
    """

    id: str
    name: str
    gain_dbi: float | None = None
    height_m: float | None = None
    at_m: tuple[float, float] | None = None
    site_noise_db: float | None = None
    polarisation_loss_db: float = 0.0
    place: str | None = None
    pattern: AntennaPattern | None = None
    facing_deg: float | None = None
    response: Response | None = None
    mismatch: Response | None = None
    supply: Supply | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One cable or device. Which figures count depends on what it is; `type` names a cable of the tables.

    `passband` is what it lets through and `stopband_db` what it takes away beyond that on top; `response` is its gain
    over frequency, which goes before any single figure. `p1db_dbm` is the level at its input where its gain has fallen
    by 1 dB, `iip3_dbm` its third-order intercept point there.
    """

    what: PartKind
    name: str | None = None
    type: str | None = None
    length_m: float | None = None
    db_per_100m: float | None = None
    loss_db: float | None = None
    ways: int | None = None
    gain_db: float | None = None
    noise_figure_db: float | None = None
    iip3_dbm: float | None = None
    p1db_dbm: float | None = None
    passband: Span | None = None
    stopband_db: float | None = None
    response: Response | None = None
    supply: Supply | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """An antenna and what lies between it and what it feeds, from the antenna on.

    `feeds` holds ids of units and links, and names that they give as their rack, receiver or antenna; empty means:
    everything at the antenna's place that no other run feeds by name.
    """

    id: str
    name: str
    antenna: Antenna
    parts: tuple[Part, ...] = ()
    feeds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """A wall on the way: what it is stated to cost, or else its material and thickness."""

    loss_db: float | None = None
    material: str | None = None
    thickness_m: float | None = None
