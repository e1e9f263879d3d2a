"""What a plan document tells of levels, and the way back to values."""

from __future__ import annotations

from typing import Literal

from bandwright.core.planning.plan import (
    Beside,
    CarrierToInterference,
    Culprit,
    Gap,
    PlanLevels,
)
from bandwright.documents.outputs.common import Level, Model, Number, khz, level
from bandwright.units import hz_from_khz

__all__ = [
    "CarrierToInterferenceModel",
    "PlanLevelsModel",
    "carrier_to_interference_model",
    "carrier_to_interference_of",
    "plan_levels_model",
    "plan_levels_of",
]


class CulpritModel(Model):
    """What adds most to the interference; `family` is null for another carrier itself.

    `made` says where: sent as such, in the receiver, or in the transmitter of the first source. `level_dbm` is the part
    that falls into the receiver's bandwidth.
    """

    family: str | None
    made: Literal["sent", "receiver", "transmitter"]
    sources: tuple[str, ...]
    product_hz: int
    offset_khz: Number
    level_dbm: Level


class CarrierToInterferenceModel(Model):
    """Predicted carrier to interference in dB; null where nothing falls into the receiver's bandwidth.

    `worst_db` has every culprit at its nearest and the link at its farthest (levels in dBm at the antenna),
    `quantile_db` is what 95 of 100 stage pictures keep, `median_db` what half of them do, and `margin_db` the quantile
    over `needs_db`.
    """

    worst_db: Level | None
    quantile_db: Level | None
    median_db: Level | None
    needs_db: Level
    needs_stated: bool
    margin_db: Level | None
    wanted_dbm: Level
    interference_dbm: Level | None
    culprit: CulpritModel | None


class BesideModel(Model):
    """Interference at `victim` that is too strong only while two packs are side by side."""

    one: str
    two: str
    victim: str
    product_hz: int
    level_dbm: Level
    carrier_to_interference_db: Level
    needs_db: Level


class MissingModel(Model):
    """A fact to fill in, and what counts until then."""

    table: str
    id: str
    key: str
    meanwhile: str | None


class PlanLevelsModel(Model):
    """What levels stand on: how many pictures were drawn, links without any (`unknown`), and what to fill in."""

    pictures: int
    worst_db: Level | None
    side_by_side: tuple[BesideModel, ...]
    unknown: tuple[str, ...]
    missing: tuple[MissingModel, ...]


def carrier_to_interference_model(item: CarrierToInterference | None) -> CarrierToInterferenceModel | None:
    """Return a link's carrier to interference as part of a document."""
    if item is None:
        return None
    culprit = item.culprit
    return CarrierToInterferenceModel(
        worst_db=level(item.worst_db),
        quantile_db=level(item.quantile_db),
        median_db=level(item.median_db),
        needs_db=item.needs_db,
        needs_stated=item.needs_stated,
        margin_db=level(item.margin_db),
        wanted_dbm=round(item.wanted_dbm, 2),
        interference_dbm=level(item.interference_dbm),
        culprit=None
        if culprit is None
        else CulpritModel(
            family=culprit.family,
            made=culprit.made,
            sources=culprit.sources,
            product_hz=culprit.product_hz,
            offset_khz=khz(culprit.offset_hz),
            level_dbm=round(culprit.level_dbm, 2),
        ),
    )


def carrier_to_interference_of(item: CarrierToInterferenceModel | None) -> CarrierToInterference | None:
    """Return what a document tells of a link's carrier to interference."""
    if item is None:
        return None
    culprit = item.culprit
    return CarrierToInterference(
        worst_db=item.worst_db,
        quantile_db=item.quantile_db,
        median_db=item.median_db,
        needs_db=item.needs_db,
        needs_stated=item.needs_stated,
        wanted_dbm=item.wanted_dbm,
        interference_dbm=item.interference_dbm,
        culprit=None
        if culprit is None
        else Culprit(
            family=culprit.family,
            made=culprit.made,
            sources=culprit.sources,
            product_hz=culprit.product_hz,
            offset_hz=hz_from_khz(str(culprit.offset_khz)),
            level_dbm=culprit.level_dbm,
        ),
    )


def plan_levels_model(levels: PlanLevels | None) -> PlanLevelsModel | None:
    """Return what a plan's levels stand on as part of a document."""
    if levels is None:
        return None
    return PlanLevelsModel(
        pictures=levels.pictures,
        worst_db=level(levels.worst_db),
        side_by_side=tuple(
            BesideModel(
                one=item.one,
                two=item.two,
                victim=item.victim,
                product_hz=item.product_hz,
                level_dbm=round(item.level_dbm, 2),
                carrier_to_interference_db=round(item.ratio_db, 2),
                needs_db=item.needs_db,
            )
            for item in levels.side_by_side
        ),
        unknown=levels.unknown,
        missing=tuple(
            MissingModel(table=gap.table, id=gap.id, key=gap.key, meanwhile=gap.meanwhile) for gap in levels.missing
        ),
    )


def plan_levels_of(levels: PlanLevelsModel | None) -> PlanLevels | None:
    """Return what a document tells of a plan's levels."""
    if levels is None:
        return None
    return PlanLevels(
        pictures=levels.pictures,
        worst_db=levels.worst_db,
        side_by_side=tuple(
            Beside(
                one=item.one,
                two=item.two,
                victim=item.victim,
                product_hz=item.product_hz,
                level_dbm=item.level_dbm,
                ratio_db=item.carrier_to_interference_db,
                needs_db=item.needs_db,
            )
            for item in levels.side_by_side
        ),
        unknown=levels.unknown,
        missing=tuple(Gap(table=gap.table, id=gap.id, key=gap.key, meanwhile=gap.meanwhile) for gap in levels.missing),
    )
