"""The `rises` document: what devices bring into the air, switched on one at a time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from bandwright.core.planning.plan import Warn
from bandwright.core.rises import BEYOND_CHANCE_DB, OVER_HZ, Peak, Rise, Rises
from bandwright.documents.outputs.common import UNITS, Document, Input, Level, Model, Number, Unit, warned
from bandwright.units import HZ_PER_KHZ, mhz_text

__all__ = ["RisesDocument", "rises_document"]


class PeakModel(Model):
    """The greatest rise over the band, and where."""

    rise_db: Level
    at_mhz: str


class RiseModel(Model):
    """How levels rose: the median over the band, the greatest of the mean, the greatest of the highest level.

    Null where no place was measured both times.
    """

    sweeps: int
    median_db: Level | None
    mean: PeakModel | None
    highest: PeakModel | None


class DeviceModel(RiseModel):
    """One device: `seen` says that it rose at least `seen_beyond_chance_db` more than chance does."""

    name: str
    seen: bool


class RisesDocument(Document):
    """What `bandwright sweep --live SOURCE --one-at-a-time --json` prints.

    `chance` is how a second look at the same air differs from the first, with nothing switched on.
    """

    schema_: Literal["bandwright.rises/1"] = Field(default="bandwright.rises/1", alias="schema")
    unit: Unit
    over_khz: Number
    seen_beyond_chance_db: Level
    chance: RiseModel
    devices: tuple[DeviceModel, ...]


def rises_document(rises: Rises, *, inputs: Sequence[Input], warnings: Sequence[Warn]) -> RisesDocument:
    """Return what devices bring as a document."""
    return RisesDocument(
        unit=UNITS[rises.unit],
        over_khz=OVER_HZ / HZ_PER_KHZ,
        seen_beyond_chance_db=BEYOND_CHANCE_DB,
        chance=_model(rises.chance),
        devices=tuple(_device(one, seen=rises.seen(one)) for one in rises.devices),
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _model(rise: Rise) -> RiseModel:
    median = None if rise.median_db is None else round(rise.median_db, 2)
    return RiseModel(sweeps=rise.sweeps, median_db=median, mean=_peak(rise.mean), highest=_peak(rise.highest))


def _device(rise: Rise, *, seen: bool) -> DeviceModel:
    alike = _model(rise)
    return DeviceModel(
        name=rise.name,
        seen=seen,
        sweeps=alike.sweeps,
        median_db=alike.median_db,
        mean=alike.mean,
        highest=alike.highest,
    )


def _peak(peak: Peak | None) -> PeakModel | None:
    return None if peak is None else PeakModel(rise_db=round(peak.rise_db, 2), at_mhz=mhz_text(peak.at_hz))
