"""Strong signals that a run lets through to what can clip: other users with a known level, phones, near packs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from bandwright.core.bands import Span, joined
from bandwright.core.kit import Other
from bandwright.core.reach.budget import Branch
from bandwright.core.reach.receiver_front import FrontEnd, FrontStage
from bandwright.core.reach.tables import ReachTables

__all__ = ["BACK_OFF_DB", "Blocker", "Phones", "blockers_of", "phones_in"]

BACK_OFF_DB = 10.0
"""How far under its 1 dB point a stage is to be kept, as several strong signals add up; common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocker:
    """A signal that comes too near to the 1 dB point of a stage: its level at the antenna, less what filters take.

    `below_db` is how far it stays below the 1 dB point, negative where it lies above.
    """

    id: str
    name: str
    level_dbm: float
    lowered_db: float
    stage: str
    below_db: float


def blockers_of(front: FrontEnd, others: Sequence[Other]) -> Iterator[Blocker]:
    """Yield signals that come within 10 dB of the 1 dB point of a stage, filters ahead counted.

    Where none does alone, all with a known level together may: their powers add up.
    """
    levels = [(other, other.level_dbm) for other in others if other.level_dbm is not None]
    alone = [worst for other, dbm in levels if (worst := _worst(front, other, dbm)).below_db < BACK_OFF_DB]
    yield from alone
    if not alone and len(levels) > 1:
        together = min((_together(front, stage, levels) for stage in _clipping(front)), key=_below, default=None)
        if together is not None and together.below_db < BACK_OFF_DB:
            yield together


def _clipping(front: FrontEnd) -> list[FrontStage]:
    return [stage for stage in front.stages if stage.clips_dbm is not None and math.isfinite(stage.clips_dbm)]


def _below(blocker: Blocker) -> float:
    return blocker.below_db


def _together(front: FrontEnd, stage: FrontStage, levels: Sequence[tuple[Other, float]]) -> Blocker:
    each = [_blocker(front, stage, other, dbm) for other, dbm in levels]
    before_dbm = _sum_dbm(one.level_dbm for one in each)
    behind_dbm = _sum_dbm(one.level_dbm - one.lowered_db for one in each)
    return Blocker(
        id=", ".join(one.id for one in each),
        name=f"{len(each)} signals together",
        level_dbm=before_dbm,
        lowered_db=before_dbm - behind_dbm,
        stage=stage.name,
        below_db=(stage.clips_dbm or 0.0) - behind_dbm,
    )


def _sum_dbm(levels_dbm: Iterable[float]) -> float:
    return 10 * math.log10(sum(10 ** (dbm / 10) for dbm in levels_dbm))


def _worst(front: FrontEnd, other: Other, level_dbm: float) -> Blocker:
    """Return another user at the stage whose 1 dB point it comes nearest to."""
    found = [_blocker(front, stage, other, level_dbm) for stage in _clipping(front)]
    nowhere = Blocker(id=other.id, name=other.name, level_dbm=level_dbm, lowered_db=0.0, stage="", below_db=math.inf)
    return min(found, key=_below, default=nowhere)


def _blocker(front: FrontEnd, stage: FrontStage, other: Other, level_dbm: float) -> Blocker:
    lowered_db = float(stage.weakened_db(other.carrier_hz, carrier_hz=front.carrier_hz))
    return Blocker(
        id=other.id,
        name=other.name,
        level_dbm=level_dbm,
        lowered_db=lowered_db,
        stage=stage.name,
        below_db=(stage.clips_dbm or 0.0) - (level_dbm - lowered_db),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Phones:
    """What a run's passband lets through of phones and base stations; `clips_at_m` is None where nobody can tell."""

    phones: tuple[Span, ...]
    bases: tuple[Span, ...]
    clips_at_m: float | None
    source: str


def phones_in(branch: Branch, front: FrontEnd, tables: ReachTables) -> Phones | None:
    """Return which bands of phones and base stations the passband of a run lets through; None where none, or unknown.

    A phone sends up to 23 dBm; how near it brings a stage to its 1 dB point is told in free space.
    """
    if front.passband_hz is None:
        return None
    passband = Span(*front.passband_hz)
    phones = _inside(passband, [band.phones for band in tables.phones.bands])
    bases = _inside(passband, [band.bases for band in tables.phones.bands])
    if not phones and not bases:
        return None
    near = [found for span in phones if (found := _near_m(branch, front, span, tables.phones.phone_dbm)) is not None]
    return Phones(phones=phones, bases=bases, clips_at_m=max(near, default=None), source=tables.phones.source)


def _near_m(branch: Branch, front: FrontEnd, span: Span, phone_dbm: float) -> float | None:
    middle_hz = (span.low_hz + span.high_hz) / 2
    return front.clips_at_m(eirp_dbm=phone_dbm, antenna_gain_dbi=branch.chain.antenna_gain_dbi, frequency_hz=middle_hz)


def _inside(passband: Span, bands: Sequence[Span]) -> tuple[Span, ...]:
    """Return the parts of bands that a passband holds, joined."""
    found = [
        Span(max(passband.low_hz, band.low_hz), min(passband.high_hz, band.high_hz))
        for band in bands
        if band.overlaps(passband)
    ]
    return joined(found)
