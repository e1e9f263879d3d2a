"""Stages one after the other: gain, noise and the third-order intercept point of the whole."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "CUBIC_P1DB_BELOW_IIP3_DB",
    "T0_K",
    "Stage",
    "cascade_iip3_dbm",
    "cascade_noise_figure_db",
    "noise_dbm",
    "splitter_loss_db",
]

T0_K = 290.0
CUBIC_P1DB_BELOW_IIP3_DB = 9.6357
"""How far below its intercept point one tone compresses a cubic stage by 1 dB: -10 log10(1 - 10^(-1/20)) dB."""

_BOLTZMANN_J_PER_K = 1.380649e-23
_MOST_DB = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage: gain (negative for a loss), noise figure, input third-order intercept point (None: nobody knows).

    What only loses is at 290 K, so its noise figure is its loss, and it makes no products. `p1db_dbm` is the level at
    its input where its gain has fallen by 1 dB, where that is stated.
    """

    what: str
    name: str
    gain_db: float
    noise_figure_db: float | None
    iip3_dbm: float | None = math.inf
    p1db_dbm: float | None = None

    @property
    def clips_dbm(self) -> float | None:
        """Level at its input where its gain has fallen by 1 dB: as stated, else that of a cubic with its intercept.

        None where neither is known, infinite for what only loses.

        >>> round(Stage(what="a", name="a", gain_db=10, noise_figure_db=3, iip3_dbm=20).clips_dbm, 2)
        10.36
        """
        if self.p1db_dbm is not None or self.iip3_dbm is None:
            return self.p1db_dbm
        return self.iip3_dbm - CUBIC_P1DB_BELOW_IIP3_DB

    @classmethod
    def passive(cls, *, what: str, name: str, loss_db: float) -> Stage:
        """Return a stage that only loses.

        >>> Stage.passive(what="pad", name="pad", loss_db=3).noise_figure_db
        3
        """
        return cls(what=what, name=name, gain_db=-loss_db, noise_figure_db=loss_db)


def cascade_noise_figure_db(stages: Sequence[Stage]) -> float | None:
    """Return the noise figure of stages in a row, referred to the input of the first one; None where one is unknown.

    ::

        F = F1 + (F2 - 1) / G1 + (F3 - 1) / (G1 G2) + ...

    References
    ----------
    H. T. Friis, "Noise Figures of Radio Receivers", Proc. IRE 32(7), 1944; D. M. Pozar, Microwave Engineering, 4th ed.,
    section 10.2.

    Examples
    --------
    >>> chain = [Stage(what="amplifier", name="a", gain_db=10, noise_figure_db=2),
    ...          Stage.passive(what="filter", name="f", loss_db=1),
    ...          Stage(what="receiver", name="m", gain_db=-3, noise_figure_db=4)]
    >>> round(10 ** (cascade_noise_figure_db(chain) / 10), 2)
    1.8
    """
    factor, gain_db = 1.0, 0.0
    for stage in stages:
        if stage.noise_figure_db is None:
            return None
        factor += (_ratio(stage.noise_figure_db) - 1) * _ratio(-gain_db)
        gain_db += stage.gain_db
    return 10 * math.log10(factor)


def cascade_iip3_dbm(stages: Sequence[Stage]) -> float | None:
    """Return the input third-order intercept point of stages in a row in dBm; infinite where none makes products.

    ::

        1 / P = 1 / P1 + G1 / P2 + G1 G2 / P3 + ...     (P in mW)

    Products of all stages are taken to add up in voltage, which is the worst case. None where one is unknown.

    References
    ----------
    D. M. Pozar, Microwave Engineering, 4th ed., section 10.3 (intercept point of a cascaded system).

    Examples
    --------
    >>> chain = [Stage(what="a", name="a", gain_db=11, noise_figure_db=25, iip3_dbm=19),
    ...          Stage.passive(what="b", name="b", loss_db=3),
    ...          Stage(what="c", name="c", gain_db=7, noise_figure_db=5, iip3_dbm=3)]
    >>> round(cascade_iip3_dbm(chain), 4)
    -5.0173
    """
    inverse, gain_db = 0.0, 0.0
    for stage in stages:
        if stage.iip3_dbm is None:
            return None
        inverse += _ratio(gain_db - stage.iip3_dbm) if math.isfinite(stage.iip3_dbm) else 0.0
        gain_db += stage.gain_db
    return -10 * math.log10(inverse) if inverse > 0 else math.inf


def noise_dbm(*, noise_figure_db: float, bandwidth_hz: float, antenna_k: float = T0_K) -> float:
    """Return the noise of a chain in dBm, referred to its input: k B (TA + (F - 1) T0).

    Parameters
    ----------
    noise_figure_db
        Noise figure of the whole chain.
    bandwidth_hz
        Noise bandwidth in Hz.
    antenna_k
        What the antenna itself brings, as a temperature; 290 K is thermal noise and nothing more.

    References
    ----------
    D. M. Pozar, Microwave Engineering, 4th ed., section 10.2; Rec. ITU-R P.372 for the noise of a site.

    Examples
    --------
    >>> round(noise_dbm(noise_figure_db=2.55, bandwidth_hz=10e6, antenna_k=150) + 6, 1)
    -96.8
    """
    whole_k = antenna_k + (_ratio(noise_figure_db) - 1) * T0_K
    return 10 * math.log10(_BOLTZMANN_J_PER_K * whole_k * bandwidth_hz * 1000)


def splitter_loss_db(ways: int) -> float:
    """Return what dividing power into equal parts costs each of them, in dB: 10 log10 N; real ones lose more.

    >>> [round(splitter_loss_db(ways), 2) for ways in (2, 3, 4, 8)]
    [3.01, 4.77, 6.02, 9.03]
    """
    return 10 * math.log10(ways)


def _ratio(db: float) -> float:
    """Return dB as a ratio of powers; beyond 1000 dB, which is nonsense but may be typed, it stays a number."""
    return float(10 ** (min(max(db, -_MOST_DB), _MOST_DB) / 10))
