"""What a brief says of a receiver's front end and of gain over frequency, as pydantic models."""

from __future__ import annotations

import itertools
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from bandwright.documents.brief import types as t
from bandwright.documents.brief.base import Table

__all__ = ["FrequencyList", "GainPointTable", "GainPoints", "Selectivity", "SelectivityTable"]


class SelectivityTable(Table):
    """One point of what an input filter does: by how much it lowers what lies so far from the carrier."""

    offset_hz: t.Khz = Field(alias="offset_khz", description="how far from the carrier", examples=[4000])
    db: t.RatioDb = Field(description="by how much it is lowered there", examples=[12])


class GainPointTable(Table):
    """One point of gain over frequency; a loss is negative. Between points it follows straight lines in dB."""

    mhz: t.Mhz = Field(description="the frequency", examples=[606])
    db: t.Decibels = Field(description="the gain there: in dBi for an antenna, in dB for a part", examples=[-1.5])


def _rising(points: list[SelectivityTable] | None) -> list[SelectivityTable] | None:
    if not _rises([point.offset_hz for point in points or ()]):
        raise t.wrong("not-rising", "must list offsets upwards, each once", allowed="offset_khz rising")
    return points


def _points_rising(points: list[GainPointTable] | None) -> list[GainPointTable] | None:
    if not _rises([point.mhz for point in points or ()]):
        raise t.wrong("not-rising", "must list frequencies upwards, each once", allowed="mhz rising")
    return points


def _rises(values: list[int]) -> bool:
    return all(one < two for one, two in itertools.pairwise(values))


def _as_list(value: object) -> object:
    return value if value is None or isinstance(value, list) else [value]


Selectivity = Annotated[list[SelectivityTable] | None, AfterValidator(_rising)]
GainPoints = Annotated[
    Annotated[list[GainPointTable], Field(min_length=1, max_length=1000)] | None, AfterValidator(_points_rising)
]
FrequencyList = Annotated[Annotated[list[t.Mhz], Field(min_length=1, max_length=4)] | None, BeforeValidator(_as_list)]
