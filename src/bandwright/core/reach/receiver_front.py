"""A receiver with the run before it, seen from the antenna: intercept point with selectivity, 1 dB point, passband.

Filters ahead of what makes products lower tones outside their passbands; a product is then lower than the intercept
point in the passband says. Tones are input-referred: all levels are at the antenna's terminals.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import Span
from bandwright.core.kit import RadioType
from bandwright.core.reach.cascade import Stage
from bandwright.core.reach.chain import Chain
from bandwright.core.reach.path import wavelength_m
from bandwright.core.rig import Part, PartKind

__all__ = ["FrontEnd", "FrontStage", "front_end"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontStage:
    """One stage that makes products: its intercept and 1 dB points as levels at the antenna, and the filters ahead.

    None is what nobody stated; `filters` pairs passbands with what they take away beyond them.
    """

    name: str
    iip3_dbm: float | None
    clips_dbm: float | None
    clips_stated: bool
    filters: tuple[tuple[Span, float], ...]
    selectivity: tuple[tuple[int, float], ...] = ()

    def weakened_db(self, frequencies_hz: npt.ArrayLike, *, carrier_hz: int) -> Floats:
        """Return by how much the filters ahead lower each frequency against the carrier, in dB; same shape."""
        found = np.asarray(frequencies_hz, np.float64)
        lost = np.zeros(found.shape)
        for band, stopped_db in self.filters:
            lost += np.where((found < band.low_hz) | (found > band.high_hz), stopped_db, 0.0)
        if self.selectivity:
            offsets = [0.0, *(float(hz) for hz, _ in self.selectivity)]
            lost += np.interp(np.abs(found - carrier_hz), offsets, [0.0, *(db for _, db in self.selectivity)])
        return lost


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontEnd:
    """What strong signals meet behind an antenna, with levels at the antenna's terminals.

    `iip3_dbm` is the intercept point for tones that nothing ahead lowers, `p1db_dbm` the level at which the first of
    the stages has lost 1 dB of gain (`clips_first` names it). None where a figure is missing, infinite where nothing
    makes products. `passband_hz` is what all filters of the run let through, None without any; `selectivity` is that
    of the receiver: (offset in Hz, dB).
    """

    carrier_hz: int
    iip3_dbm: float | None
    p1db_dbm: float | None
    passband_hz: tuple[int, int] | None
    selectivity: tuple[tuple[int, float], ...]
    clips_first: str | None
    stages: tuple[FrontStage, ...]

    def iip3_for(self, one_hz: npt.ArrayLike, two_hz: npt.ArrayLike, three_hz: npt.ArrayLike) -> Floats | None:
        """Return the intercept point that tones at three frequencies meet, in dBm; None where a figure is missing.

        ::

            10^(-P/10) = sum over stages of 10^(-P_k/10) 10^(-(s_k(f1) + s_k(f2) + s_k(f3)) / 20)

        with s_k(f) what the filters ahead of stage k take away at f (dB against the carrier) and P_k its intercept
        point as a level at the antenna; products of the stages add in voltage, the worst case. For 2A-B give A twice.
        With S dB of selectivity on all three tones a stage's intercept point rises by 1.5 S.

        References
        ----------
        "Use selectivity to improve receiver intercept point", equations 13 and 14, from an analog semiconductor
        maker's application notes; D. M. Pozar, Microwave Engineering, 4th ed., section 10.3.
        """
        inverse = np.zeros(np.broadcast_shapes(*(np.shape(item) for item in (one_hz, two_hz, three_hz))))
        for stage in self.stages:
            if stage.iip3_dbm is None:
                return None
            lost = sum(stage.weakened_db(item, carrier_hz=self.carrier_hz) for item in (one_hz, two_hz, three_hz))
            inverse = inverse + 10 ** (-stage.iip3_dbm / 10 - lost / 20)
        with np.errstate(divide="ignore"):
            return np.asarray(-10 * np.log10(inverse))

    def clips_at_m(self, *, eirp_dbm: float, antenna_gain_dbi: float, frequency_hz: float) -> float | None:
        """Return how near a transmitter in sight brings the first stage to its 1 dB point, in m; None if unknown.

        ::

            d = lambda / (4 pi) 10^((e.i.r.p. + G - P1dB) / 20)

        Free space in front of the antenna, nobody in between; nearer than a wavelength it is only a hint. What filters
        ahead take away at the frequency counts.

        References
        ----------
        Rec. ITU-R P.525, free-space basic transmission loss, solved for the distance.
        """
        if self.p1db_dbm is None:
            return None
        spare_db = max(
            (
                eirp_dbm
                + antenna_gain_dbi
                - (stage.clips_dbm or 0.0)
                - float(stage.weakened_db(frequency_hz, carrier_hz=self.carrier_hz))
            )
            for stage in self.stages
        )
        return float(wavelength_m(frequency_hz) / (4 * math.pi) * 10 ** (min(spare_db, 200.0) / 20))


def front_end(chain: Chain, radio: RadioType) -> FrontEnd:
    """Return a chain's front end for a receiver of a radio type, at the frequency of the chain.

    What a run's cables do to far-off frequencies is left out; passbands and the receiver's selectivity count.
    """
    stages = tuple(_stages(chain, radio))
    clipping = [stage for stage in stages if stage.clips_dbm is not None]
    first = min(clipping, key=lambda stage: stage.clips_dbm or 0.0, default=None)
    whole = first is not None and len(clipping) == len(stages)
    passband = _passband(chain.parts)
    return FrontEnd(
        carrier_hz=chain.frequency_hz,
        iip3_dbm=chain.iip3_dbm(),
        p1db_dbm=first.clips_dbm if first is not None and whole else None,
        passband_hz=passband,
        selectivity=radio.selectivity,
        clips_first=first.name if first is not None and whole else None,
        stages=stages,
    )


def _stages(chain: Chain, radio: RadioType) -> Iterator[FrontStage]:
    """Yield what may make products, with the filters ahead of it; the receiver comes last."""
    ahead_db, filters = 0.0, []
    for part, stage in zip(chain.parts, chain.stages, strict=True):
        if part.passband is not None and part.stopband_db is not None and _filters_first(part):
            filters.append((part.passband, part.stopband_db))
        if stage.iip3_dbm is None or math.isfinite(stage.iip3_dbm):
            yield _front_stage(stage, ahead_db, tuple(filters))
        if part.passband is not None and part.stopband_db is not None and not _filters_first(part):
            filters.append((part.passband, part.stopband_db))
        ahead_db += stage.gain_db
    yield _front_stage(chain.receiver, ahead_db, tuple(filters), radio.selectivity)


def _filters_first(part: Part) -> bool:
    """Whether a part's filter lies ahead of what makes products in it; of an amplifier nobody says, so it does not."""
    return part.what is PartKind.FILTER


def _front_stage(
    stage: Stage,
    ahead_db: float,
    filters: tuple[tuple[Span, float], ...],
    selectivity: tuple[tuple[int, float], ...] = (),
) -> FrontStage:
    clips_dbm = stage.clips_dbm
    return FrontStage(
        name=stage.name,
        iip3_dbm=None if stage.iip3_dbm is None else stage.iip3_dbm - ahead_db,
        clips_dbm=None if clips_dbm is None else clips_dbm - ahead_db,
        clips_stated=stage.p1db_dbm is not None,
        filters=filters,
        selectivity=selectivity,
    )


def _passband(parts: Iterable[Part]) -> tuple[int, int] | None:
    bands = [part.passband for part in parts if part.passband is not None]
    if not bands:
        return None
    low, high = max(band.low_hz for band in bands), min(band.high_hz for band in bands)
    return (low, high) if low <= high else None
