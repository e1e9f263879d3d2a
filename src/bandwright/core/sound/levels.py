"""Levels of sound and voltage: one definition or published equation a function. dB re 20 uPa, dBu, dBV, dBFS.

A level in dBFS is by how much a sine lies under one that just reaches full scale. What reads 0 dBFS at an input is its
full-scale level in dBu; alignment follows from it: 0 dBu at -18 dBFS is a full scale of +18 dBu.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

__all__ = [
    "DBU_VOLTS",
    "DBV_UNDER_DBU_DB",
    "dbu",
    "dbv_from_dbu",
    "level_at_db_spl",
    "microphone_db_spl",
    "microphone_dbu",
    "power_sum_db",
    "sound_speed_m_per_s",
    "thermal_noise_dbu",
    "volts",
]

DBU_VOLTS = math.sqrt(0.6)
"""0 dBu: the voltage that gives 1 mW in 600 ohm, 0.7746 V."""
DBV_UNDER_DBU_DB = -20 * math.log10(DBU_VOLTS)
"""By how much the number of dBV is smaller than that of dBu, 2.2185 dB."""
_PASCAL_DB_SPL = 20 * math.log10(1 / 20e-6)  # 0 dB SPL is 20 uPa
_BOLTZMANN_J_PER_K = 1.380649e-23  # exact in the SI


def dbu(voltage_v: float) -> float:
    """Return the level of a voltage in dBu.

    Examples
    --------
    >>> round(dbu(1.22765), 3)
    4.0
    """
    return 20 * math.log10(voltage_v / DBU_VOLTS)


def volts(level_dbu: float) -> float:
    """Return the voltage of a level in dBu.

    Examples
    --------
    >>> round(volts(18), 3), round(volts(24), 3)
    (6.153, 12.277)
    """
    return float(DBU_VOLTS * 10 ** (level_dbu / 20))


def dbv_from_dbu(level_dbu: float) -> float:
    """Return a level in dBV (0 dBV is 1 V).

    Examples
    --------
    >>> round(dbv_from_dbu(-7.78), 2)
    -10.0
    """
    return level_dbu - DBV_UNDER_DBU_DB


def microphone_dbu(level_db_spl: float, *, sensitivity_mv_per_pa: float) -> float:
    """Return what a microphone gives for a level of sound, in dBu.

    ::

        V = S p,   p = 20 uPa 10^(L / 20)

    Examples
    --------
    >>> round(microphone_dbu(120, sensitivity_mv_per_pa=20), 2)
    -5.74
    """
    return level_db_spl - _PASCAL_DB_SPL + dbu(sensitivity_mv_per_pa / 1000)


def microphone_db_spl(level_dbu: float, *, sensitivity_mv_per_pa: float) -> float:
    """Return the level of sound for which a microphone gives so much; the inverse of `microphone_dbu`.

    Examples
    --------
    >>> round(microphone_db_spl(microphone_dbu(94, sensitivity_mv_per_pa=20), sensitivity_mv_per_pa=20), 9)
    94.0
    """
    return level_dbu - dbu(sensitivity_mv_per_pa / 1000) + _PASCAL_DB_SPL


def level_at_db_spl(level_db_spl: float, *, stated_at_m: float, at_m: float) -> float:
    """Return a level at another distance from a source that is small and stands free.

    ::

        L(d) = L(d0) - 20 log10(d / d0)

    Rooms hold levels up far away, and bodies shade; close to a mouth it holds down to some centimetres.

    Examples
    --------
    >>> round(level_at_db_spl(82.30, stated_at_m=1, at_m=0.3), 2)
    92.76
    """
    return level_db_spl - 20 * math.log10(at_m / stated_at_m)


def thermal_noise_dbu(*, resistance_ohm: float, bandwidth_hz: float = 20_000, temperature_k: float = 290) -> float:
    """Return the thermal noise of a resistance in dBu.

    ::

        V = sqrt(4 k T B R)

    References
    ----------
    H. Nyquist, Thermal agitation of electric charge in conductors, Phys. Rev. 32 (1928).

    Examples
    --------
    >>> round(thermal_noise_dbu(resistance_ohm=150), 2), round(thermal_noise_dbu(resistance_ohm=200), 2)
    (-130.96, -129.72)
    """
    return dbu(math.sqrt(4 * _BOLTZMANN_J_PER_K * temperature_k * bandwidth_hz * resistance_ohm))


def power_sum_db(levels_db: Iterable[float | None]) -> float | None:
    """Return the level of several noises together, which add by power; what is None is not known and not counted.

    Examples
    --------
    >>> round(power_sum_db([-60, -60]), 2), power_sum_db([None])
    (-56.99, None)
    """
    known = [level for level in levels_db if level is not None]
    return 10 * math.log10(sum(10 ** (level / 10) for level in known)) if known else None


def sound_speed_m_per_s(temperature_c: float) -> float:
    """Return the speed of sound in air.

    ::

        c = 343.2 sqrt(T / 293.15)

    References
    ----------
    ISO 9613-1, 1993.

    Examples
    --------
    >>> [round(sound_speed_m_per_s(one), 2) for one in (0, 20, 30)]
    [331.29, 343.2, 349.0]
    """
    return float(343.2 * math.sqrt((temperature_c + 273.15) / 293.15))
