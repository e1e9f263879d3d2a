"""The tables of a brief about antennas, what lies behind them, and walls on the way, as pydantic models."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from bandwright.core.rig import PartKind
from bandwright.documents.brief import types as t
from bandwright.documents.brief.area_types import BeamWidth, Degrees, Pattern
from bandwright.documents.brief.base import Table, number
from bandwright.documents.brief.front_tables import GainPoints

__all__ = ["AntennaTable", "PartTable", "RunTable", "WallTable"]

_WAYS, _WAYS_SCHEMA = number(2, 64)

Ways = Annotated[int, _WAYS, _WAYS_SCHEMA]


class AntennaTable(Table):
    """An antenna at the rack's end of links, for `bandwright reach`. Keep masts well away from power lines."""

    id: t.Id = Field(description="its id", examples=["quay-east"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Quay east"])
    gain_dbi: t.Decibels | None = Field(
        None, description="its gain towards the area; 2.15 dBi is a half-wave dipole", examples=[6]
    )
    height_m: t.Metres | None = Field(None, description="its height above the ground", examples=[3])
    at_m: t.Position | None = Field(None, description="where it stands on the plan of the place", examples=[[4.5, 0]])
    pattern: Pattern | None = Field(
        None,
        description="how it receives by direction: omni, directional, or [degrees, dB] against gain_dbi, up to 180 "
        "(both sides alike) or to less than 360; omni when left out",
        examples=["directional"],
    )
    beamwidth_deg: BeamWidth | None = Field(
        None, description="directional: between the directions where it is 3 dB down; 100 when left out", examples=[90]
    )
    front_to_back_db: t.RatioDb | None = Field(
        None, description="directional: how much less it receives from behind; 14 when left out", examples=[18]
    )
    facing_deg: Degrees | None = Field(
        None,
        description="where it looks on the plan: 0 up the plan, 90 to the right; the middle of the area when left out",
        examples=[45],
    )
    polarisation_loss_db: t.RatioDb = Field(
        0.0, description="what turning a pack costs beside the loss at the body, such as 3 if circular", examples=[3]
    )
    site_noise_db: t.RatioDb | None = Field(
        None, description="by how much the noise of the site exceeds thermal noise", examples=[6]
    )
    points: GainPoints = Field(
        None, description="its gain over frequency, which goes before gain_dbi", examples=[[{"mhz": 606, "db": 5.5}]]
    )
    touchstone: t.Text | None = Field(
        None,
        description="a .s1p file of its reflection, beside this brief; what it reflects counts as lost",
        examples=["east.s1p"],
    )
    supply: t.SupplyWord | None = Field(
        None, description='"needs" for an active antenna that is fed through its cable', examples=["needs"]
    )
    place: t.Id | None = Field(None, description="its place; the first one when left out", examples=["quay"])

    @model_validator(mode="after")
    def _has_a_pattern(self) -> AntennaTable:
        if self.pattern != "directional" and (self.beamwidth_deg is not None or self.front_to_back_db is not None):
            allowed = 'pattern = "directional" with these'
            problem = "must say pattern with beamwidth_deg or front_to_back_db"
            raise t.wrong("no-pattern", problem, allowed=allowed)
        return self


class PartTable(Table):
    """One cable or device of a run.

    A cable has `length_m` with a `type` of the list below or `db_per_100m`; a splitter has `ways`; a filter or pad has
    `loss_db`; an amplifier has `gain_db`. `loss_db` as measured or stated goes before what a cable's type or the number
    of ways says. An active splitter states `gain_db` (from input to each output) in place of a loss.

    `points`, or a `touchstone` file of two ports (port 1 towards the antenna), give its gain over frequency and go
    before all of these. Outside their frequencies nothing is told of the run.
    """

    what: t.PartWord = Field(description="what it is", examples=["cable"])
    name: t.Text | None = Field(None, description="its name, where there is one", examples=["Drum 4"])
    type: t.Text | None = Field(None, description="a cable: its type (list below)", examples=["rg-58"])
    length_m: t.Metres | None = Field(None, description="a cable: its length", examples=[8])
    db_per_100m: t.RatioDb | None = Field(
        None, description="a cable: what its data sheet says near your frequency, in place of a type", examples=[22]
    )
    ways: Ways | None = Field(None, description="a splitter: into how many outputs", examples=[4])
    loss_db: t.RatioDb | None = Field(None, description="what it takes away", examples=[1.5])
    gain_db: t.Decibels | None = Field(None, description="an amplifier or active splitter: its gain", examples=[10])
    noise_figure_db: t.RatioDb | None = Field(
        None, description="an amplifier or active splitter: its noise figure", examples=[4]
    )
    iip3_dbm: t.Decibels | None = Field(
        None, description="the same: third-order intercept point at its input", examples=[12]
    )
    p1db_dbm: t.Decibels | None = Field(
        None, description="the same: level at its input where gain has fallen by 1 dB", examples=[0]
    )
    passband: t.Window | None = Field(
        None, alias="passband_mhz", description="what it lets through; all when left out", examples=[[470, 698]]
    )
    stopband_db: t.RatioDb | None = Field(
        None, description="with `passband_mhz`: what it takes away beyond that, on top", examples=[35]
    )
    points: GainPoints = Field(
        None, description="its gain over frequency; a loss is negative", examples=[[{"mhz": 606, "db": -1.5}]]
    )
    touchstone: t.Text | None = Field(None, description="a .s2p file of it, beside this brief", examples=["drum-4.s2p"])
    supply: t.SupplyWord | None = Field(
        None,
        description="what it does with a direct voltage on the antenna line; a cable passes it",
        examples=["blocks"],
    )

    @model_validator(mode="after")
    def _fits_what_it_is(self) -> PartTable:
        may, needs = _PART_KEYS[self.what]
        stated = {key for key in self.model_fields_set if getattr(self, key) is not None} - {"what", "name"}
        if stray := sorted(stated - may):
            allowed = ", ".join(sorted(map(_key, may)))
            raise t.wrong("stray-key", f"{_PART_WORDS[self.what]} has no {_key(stray[0])}", allowed=allowed)
        if not any(choice <= stated for choice in needs):
            allowed = ", or ".join(" with ".join(sorted(choice)) for choice in needs)
            raise t.wrong("no-loss", f"{_PART_WORDS[self.what]} must say what it does to a signal", allowed=allowed)
        if {"points", "touchstone"} <= stated:
            raise t.wrong("two-sources", "must have points or touchstone, not both", allowed="points, or touchstone")
        if self.stopband_db is not None and self.passband is None:
            raise t.wrong("no-passband", "must state passband_mhz with stopband_db", allowed="passband_mhz")
        return self


def _key(name: str) -> str:
    """Return what a brief calls a field."""
    return PartTable.model_fields[name].alias or name


_PART_WORDS = {kind: f"{'an' if kind is PartKind.AMPLIFIER else 'a'} {kind.value}" for kind in PartKind}
_ACTIVE = {"gain_db", "noise_figure_db", "iip3_dbm", "p1db_dbm"}
_SHAPE = {"points", "touchstone", "supply"}
_BAND = {"passband", "stopband_db"}
_FILES: tuple[set[str], ...] = ({"points"}, {"touchstone"})
# What it is -> the keys it may have, and sets of keys of which it needs one.
_PART_KEYS: dict[PartKind, tuple[set[str], tuple[set[str], ...]]] = {
    PartKind.CABLE: (
        {"type", "length_m", "db_per_100m", "loss_db", *_SHAPE},
        ({"type", "length_m"}, {"db_per_100m", "length_m"}, {"loss_db"}, *_FILES),
    ),
    PartKind.FILTER: ({"loss_db", *_BAND, *_SHAPE}, ({"loss_db"}, *_FILES)),
    PartKind.SPLITTER: (
        {"ways", "loss_db", *_ACTIVE, *_BAND, *_SHAPE},
        ({"ways"}, {"loss_db"}, {"gain_db"}, *_FILES),
    ),
    PartKind.AMPLIFIER: ({*_ACTIVE, *_BAND, *_SHAPE}, ({"gain_db"}, *_FILES)),
    PartKind.PAD: ({"loss_db", *_SHAPE}, ({"loss_db"}, *_FILES)),
}


class RunTable(Table):
    """What lies between an antenna and the receivers (or the in-ear transmitter) at its other end, in order."""

    id: t.Id = Field(description="its id", examples=["east"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["East, red cable"])
    antenna: t.Id = Field(description="the antenna that it begins at", examples=["quay-east"])
    feeds: t.TextList = Field(
        (),
        description="units or links, or what these give as their rack, receiver or antenna; left out, every link of "
        "the place that no other run names",
        examples=[["R1", "R2"]],
    )
    parts: list[PartTable] = Field(
        [],
        max_length=24,
        description="cables and devices from the antenna on; none when left out",
        examples=[[{"what": "cable", "type": "rg-58", "length_m": 8}]],
    )


class WallTable(Table):
    """A wall on the way: what it costs, which goes first, or else its material and thickness."""

    loss_db: t.RatioDb | None = Field(None, description="what it takes away, measured or stated", examples=[6])
    material: t.Text | None = Field(None, description="what it is made of (list below)", examples=["brick"])
    thickness_mm: t.Millimetres | None = Field(None, description="how thick it is", examples=[120])

    @model_validator(mode="after")
    def _says_what_it_costs(self) -> WallTable:
        if self.loss_db is None and (self.material is None or self.thickness_mm is None):
            allowed = "loss_db, or material with thickness_mm"
            raise t.wrong("no-loss", "must say what the wall costs", allowed=allowed)
        return self
