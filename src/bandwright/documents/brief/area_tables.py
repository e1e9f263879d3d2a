"""The plan of a place in a brief as pydantic models: outline, walls, zones, walks, and where antennas may stand."""

from __future__ import annotations

from pydantic import Field, model_validator

from bandwright.core.kit import PowerKind
from bandwright.documents.brief import types as t
from bandwright.documents.brief.area_types import Degrees, Path, Polygon
from bandwright.documents.brief.base import Table
from bandwright.documents.brief.rig_tables import WallTable

__all__ = ["AreaTable"]

_MOST = 100


class AreaWallTable(WallTable):
    """A straight wall of the plan: what it costs, which goes first, or else its material and thickness."""

    from_m: t.Position = Field(description="where it begins", examples=[[8, 0]])
    to_m: t.Position = Field(description="where it ends", examples=[[8, 6]])
    name: t.Text | None = Field(None, description="its name, where there is one", examples=["Back wall of the set"])

    @model_validator(mode="after")
    def _is_long(self) -> AreaWallTable:
        if self.from_m == self.to_m:
            raise t.wrong("no-length", "begins where it ends", allowed="from_m and to_m apart")
        return self


class ZoneTable(Table):
    """A part of the area in which links are worn or held; a link names it as its `zone`."""

    id: t.Id = Field(description="its id, once among zones", examples=["stage"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Stage"])
    corners_m: Polygon = Field(description="its corners in order", examples=[[[2, 2], [14, 2], [14, 9], [2, 9]]])


class WalkwayTable(Table):
    """A way that people walk."""

    id: t.Id = Field(description="its id, once among walks", examples=["entrance"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Entrance of the chorus"])
    along_m: Path = Field(description="the points that it goes through", examples=[[[0, 3], [6, 3], [6, 8]]])
    links: t.IdList = Field((), description="who walks there; everybody when left out", examples=[["L01"]])


class CandidateTable(Table):
    """Where an antenna may be put up, with what lies behind the first antenna of each link."""

    id: t.Id = Field(description="its id, once among candidates", examples=["pole-1"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Left pole"])
    at_m: t.Position = Field(description="where it would stand", examples=[[1, 0]])
    height_m: t.Metres | None = Field(None, description="its height above the ground", examples=[3])
    facing_deg: Degrees | None = Field(
        None, description="where it would look: 0 up the plan, 90 to the right; the middle when left out", examples=[45]
    )


class FixedTransmitterTable(Table):
    """A transmitter that stands in one spot, for what it does to antennas near it."""

    name: t.Text | None = Field(
        None, description="what it is; where it stands when left out", examples=["In-ear transmitter"]
    )
    at_m: t.Position = Field(description="where its antenna stands", examples=[[3, 1]])
    carrier_hz: t.Mhz = Field(alias="carrier_mhz", description="its carrier", examples=[823.4])
    power_mw: t.Milliwatts = Field(description="its power", examples=[50])
    power_kind: t.PowerKindWord = Field(PowerKind.ERP, description="what that refers to", examples=["erp"])


class AreaTable(Table):
    """The plan of a place, for `bandwright reach`: a map of margins, the worst point, and where antennas do best.

    Metres, x to the right and y up the plan. The outline is a rectangle of `width_m` by `depth_m` with a corner at
    [0, 0], or a polygon. The map counts the walls of the plan in place of `walls` and `distance_m` of links.
    """

    place: t.Id | None = Field(None, description="its place; the first one when left out", examples=["quay"])
    width_m: t.Metres | None = Field(None, description="a rectangle: how wide it is, along x", examples=[24])
    depth_m: t.Metres | None = Field(None, description="a rectangle: how deep it is, along y", examples=[16])
    outline_m: Polygon | None = Field(
        None,
        description="a polygon, in place of a rectangle",
        examples=[[[0, 0], [24, 0], [24, 10], [12, 16], [0, 16]]],
    )
    walls: list[AreaWallTable] = Field(
        [],
        max_length=_MOST,
        description="walls and sets",
        examples=[[{"from_m": [8, 0], "to_m": [8, 6], "loss_db": 6}]],
    )
    zones: list[ZoneTable] = Field(
        [],
        max_length=_MOST,
        description="parts of it",
        examples=[[{"id": "hall", "corners_m": [[0, 0], [9, 0], [9, 9]]}]],
    )
    walks: list[WalkwayTable] = Field(
        [],
        max_length=_MOST,
        description="ways that people walk",
        examples=[[{"id": "in", "along_m": [[0, 3], [6, 3]]}]],
    )
    candidates: list[CandidateTable] = Field(
        [], max_length=_MOST, description="where antennas may stand", examples=[[{"id": "pole-1", "at_m": [1, 0]}]]
    )
    transmitters: list[FixedTransmitterTable] = Field(
        [],
        max_length=_MOST,
        description="transmitters that stay put",
        examples=[[{"at_m": [3, 1], "carrier_mhz": 823.4, "power_mw": 50}]],
    )
