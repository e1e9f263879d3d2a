"""What lies between an antenna and a receiver as stages, and the levels along them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bandwright.core.kit import RadioType
from bandwright.core.reach.cascade import (
    T0_K,
    Stage,
    cascade_iip3_dbm,
    cascade_noise_figure_db,
    noise_dbm,
)
from bandwright.core.reach.parts import (
    antenna_gain_dbi,
    antenna_unknown,
    doubts_of,
    outside_of,
    spread_of,
    stage_of,
    unknown_of,
)
from bandwright.core.reach.tables import ReachTables
from bandwright.core.receiver import thermal_dbm
from bandwright.core.rig import Antenna, Part, Run

__all__ = ["Chain", "Step", "receiver_noise_figure_db"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One point along a link: what comes before it, by how much it changes the level, and the level and noise after it.

    `spread_db` is by how much more (or less) of a loss there may be; None for noise is: not counted here or not known.
    """

    what: str
    name: str
    gain_db: float
    level_dbm: float
    noise_dbm: float | None = None
    spread_db: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """The stages of a run from the antenna on, with the receiver's own figures at their end.

    `spreads` tells for each stage by how much its loss may be less and more; `outside` in words which tables were left;
    `unknown` what is lacking at this frequency, without which nothing is told of the run, and `doubts` what cannot be
    right.
    """

    antenna: Antenna | None
    frequency_hz: int
    parts: tuple[Part, ...]
    stages: tuple[Stage, ...]
    spreads: tuple[tuple[float, float], ...]
    outside: tuple[str, ...]
    unknown: tuple[str, ...]
    doubts: tuple[str, ...]
    receiver: Stage
    bandwidth_hz: int

    @classmethod
    def of(cls, run: Run | None, radio: RadioType, *, frequency_hz: int, tables: ReachTables) -> Chain:
        """Return the chain of a run into a receiver; without a run the receiver's own antenna sits on it."""
        parts = run.parts if run is not None else ()
        stages = tuple(stage_of(part, frequency_hz=frequency_hz, tables=tables) for part in parts)
        receiver = Stage(
            what="receiver",
            name=radio.name,
            gain_db=0.0,
            noise_figure_db=receiver_noise_figure_db(radio),
            iip3_dbm=radio.iip3_dbm,
            p1db_dbm=radio.p1db_dbm,
        )
        antenna = run.antenna if run is not None else None
        return cls(
            antenna=antenna,
            frequency_hz=frequency_hz,
            parts=parts,
            stages=stages,
            spreads=tuple(spread_of(part, stage, tables) for part, stage in zip(parts, stages, strict=True)),
            outside=tuple(outside_of(parts, frequency_hz, tables)),
            unknown=(*(antenna_unknown(antenna, frequency_hz) if antenna else ()), *unknown_of(parts, frequency_hz)),
            doubts=tuple(doubts_of(parts, frequency_hz)),
            receiver=receiver,
            bandwidth_hz=radio.bandwidth_hz,
        )

    @property
    def gain_db(self) -> float:
        """What the run adds (or, negative, takes away) between antenna and receiver."""
        return sum(stage.gain_db for stage in self.stages)

    @property
    def antenna_gain_dbi(self) -> float:
        """The antenna's gain less what polarisation and reflection cost; 0 dBi where nobody stated one."""
        return 0.0 if self.antenna is None else antenna_gain_dbi(self.antenna, self.frequency_hz)

    @property
    def antenna_k(self) -> float:
        """What the antenna hears of noise, as a temperature: thermal, and what the site adds."""
        site_db = self.antenna.site_noise_db if self.antenna is not None else None
        return T0_K * float(10 ** ((site_db or 0.0) / 10))

    def noise_figure_db(self, *, stages: Sequence[Stage] | None = None) -> float | None:
        """Return the noise figure of run and receiver at the antenna; None where a figure is missing."""
        return cascade_noise_figure_db((*(self.stages if stages is None else stages), self.receiver))

    def iip3_dbm(self, *, stages: Sequence[Stage] | None = None) -> float | None:
        """Return the intercept point of run and receiver at the antenna; None where a figure is missing."""
        return cascade_iip3_dbm((*(self.stages if stages is None else stages), self.receiver))

    def noise_dbm(self, *, stages: Sequence[Stage] | None = None) -> float | None:
        """Return the noise of everything, referred to the antenna, in the bandwidth of the link."""
        figure_db = self.noise_figure_db(stages=stages)
        if figure_db is None:
            return None
        return noise_dbm(noise_figure_db=figure_db, bandwidth_hz=self.bandwidth_hz, antenna_k=self.antenna_k)

    def steps(self, at_antenna_dbm: float) -> tuple[Step, ...]:
        """Return level and noise after every stage for a level at the antenna's terminals."""
        found, level_dbm = [], at_antenna_dbm
        for number, stage in enumerate(self.stages):
            level_dbm += stage.gain_db
            passed = self.stages[: number + 1]
            figure_db = cascade_noise_figure_db(passed)
            noise = None
            if figure_db is not None:
                noise = noise_dbm(
                    noise_figure_db=figure_db, bandwidth_hz=self.bandwidth_hz, antenna_k=self.antenna_k
                ) + sum(one.gain_db for one in passed)
            found.append(
                Step(
                    what=stage.what,
                    name=stage.name,
                    gain_db=stage.gain_db,
                    level_dbm=level_dbm,
                    noise_dbm=noise,
                    spread_db=self.spreads[number],
                )
            )
        return tuple(found)


def receiver_noise_figure_db(radio: RadioType) -> float | None:
    """Return a receiver's noise figure: what sensitivity and C/N there come to, else the stated one; None if unknown.

    Sensitivity (dBm) less C/N (dB) is the noise that the receiver makes itself; held against k T0 B it is a noise
    figure. Where that would be less than none (the sensitivity is of a narrower bandwidth), the stated figure counts.
    """
    if radio.sensitivity_dbm is not None and radio.needs_cn_db is not None:
        figure_db = radio.sensitivity_dbm - radio.needs_cn_db - thermal_dbm(bandwidth_hz=radio.bandwidth_hz)
        if figure_db >= 0:
            return figure_db
    return radio.noise_figure_db
