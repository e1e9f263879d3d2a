"""The tables of a brief as pydantic models: which keys there are and what each may hold."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema, model_validator

from bandwright.documents.brief import types as t

__all__ = [
    "Brief",
    "EarshotTable",
    "IsolationTable",
    "JobTable",
    "LinkTable",
    "OtherTable",
    "PairTable",
    "PermitTable",
    "PlaceTable",
    "PlanTable",
    "PowerTable",
    "PresetTable",
    "RadioTable",
    "Table",
    "TimesTable",
    "TuningTable",
    "UnitTable",
    "VariantTable",
]

MOST_LINKS = 500
MOST_CARRIERS = 1_000_000


def _number(low: int, high: int) -> tuple[PlainValidator, WithJsonSchema]:
    return (PlainValidator(t.whole(low, high)), WithJsonSchema({"type": "integer", "minimum": low, "maximum": high}))


_COUNT, _COUNT_SCHEMA = _number(1, MOST_LINKS)
_SPARES, _SPARES_SCHEMA = _number(0, MOST_LINKS)
_ANY, _ANY_SCHEMA = _number(-1_000_000, 1_000_000)
_SEED, _SEED_SCHEMA = _number(0, 2**53 - 1)

Count = Annotated[int, _COUNT, _COUNT_SCHEMA]
Spares = Annotated[int, _SPARES, _SPARES_SCHEMA]
AnyWhole = Annotated[int, _ANY, _ANY_SCHEMA]
Seed = Annotated[int, _SEED, _SEED_SCHEMA]
Clearances = dict[t.FamilyName, t.Clearance]


class Table(BaseModel):
    """What all tables share: unknown keys are errors, and nothing is guessed from another type."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class JobTable(Table):
    """`[job]`: the production."""

    title: t.Text = Field(examples=["Lantern Quay"])
    dates: list[t.Day] = []
    hours: t.Text | None = None
    note: t.Text | None = None
    invented: t.Flag = False


class PlaceTable(Table):
    """`[[place]]`: where it happens."""

    id: t.Id
    name: t.Text | None = None
    timezone: t.Text = "UTC"
    tv_raster: t.Id | None = None
    tv_closed: t.ChannelLabels = ()
    tv_guard_hz: t.KhzOrZero = Field(0, alias="tv_guard_khz")


class TimesTable(Table):
    """A time on air or of validity."""

    start: t.Moment
    end: t.Moment


class PowerTable(Table):
    """The most power a permit allows, and what the figure refers to."""

    kind: t.PowerKindWord = Field(examples=["erp"])
    any_mw: t.Milliwatts | None = None
    bodyworn_mw: t.Milliwatts | None = None
    handheld_mw: t.Milliwatts | None = None

    @model_validator(mode="after")
    def _says_a_figure(self) -> PowerTable:
        if self.any_mw is None and self.bodyworn_mw is None and self.handheld_mw is None:
            raise t.wrong("no-power", "states no power", allowed="any_mw, bodyworn_mw, handheld_mw")
        return self


class PermitTable(Table):
    """`[[permit]]`: what may be used."""

    id: t.Id
    reference: t.Text | None = None
    state: t.PermitStateWord = Field(examples=["granted"])
    rules: t.Id | None = None
    windows: list[t.Window] = Field([], alias="windows_mhz")
    closed: list[t.Window] = Field([], alias="closed_mhz")
    max_bandwidth_hz: t.Khz | None = Field(None, alias="max_bandwidth_khz")
    max_power: PowerTable | None = None
    place: t.Id | None = None
    valid: list[TimesTable] = []
    grid_hz: t.Khz | None = Field(None, alias="grid_khz")
    grid_anchor_hz: t.Mhz | None = Field(None, alias="grid_anchor_mhz")
    inside: t.InsideWord = "bandwidth"
    confirmed: t.Flag | None = None
    source: t.Text | None = None


class TuningTable(Table):
    """One tuning range of a radio type."""

    low_hz: t.Mhz = Field(alias="low_mhz")
    high_hz: t.Mhz = Field(alias="high_mhz")
    step_hz: t.Khz = Field(alias="step_khz")

    @model_validator(mode="after")
    def _runs_upwards(self) -> TuningTable:
        if self.high_hz < self.low_hz:
            raise t.wrong("reversed", "must run upwards", allowed="low_mhz at most high_mhz", hint="Swap the two.")
        if (self.high_hz - self.low_hz) // self.step_hz >= MOST_CARRIERS:
            raise t.wrong("too-many", f"holds more than {MOST_CARRIERS} carriers", allowed="a larger step")
        return self


class PresetTable(Table):
    """One fixed carrier of a radio type."""

    label: t.Text
    carrier_hz: t.Mhz = Field(alias="mhz")


class VariantTable(Table):
    """`[[radio.variant]]`: what differs from the radio type it belongs to."""

    id: t.Id
    name: t.Text | None = None
    defaults: t.Text | None = None
    direction: t.DirectionWord | None = None
    tuning: list[TuningTable] | None = None
    presets: list[PresetTable] | None = None
    emission: t.EmissionWord | None = None
    bandwidth_hz: t.Khz | None = Field(None, alias="bandwidth_khz")
    power_mw: t.PowerList | None = None
    power_kind: t.PowerKindWord | None = None
    spacing_hz: t.Khz | None = Field(None, alias="spacing_khz")
    clearance_hz: Clearances | None = Field(None, alias="clearance_khz")
    front_end_window_hz: t.Mhz | None = Field(None, alias="front_end_window_mhz")
    designator: t.Text | None = None
    peak_deviation_hz: t.Khz | None = Field(None, alias="peak_deviation_khz")
    channels_per_unit: Count | None = None
    invented: t.Flag | None = None
    note: t.Text | None = None


class RadioTable(VariantTable):
    """`[[radio]]`: a radio type; `kit` names one of the kit library to start from."""

    kit: t.RadioName | None = None
    variant: list[VariantTable] = []


class UnitTable(Table):
    """`[[unit]]`: one physical box."""

    id: t.Id
    name: t.Text | None = None
    radio: t.RadioName = Field(examples=["heron"])
    serial: t.Text | None = None
    rack: t.Text | None = None
    antenna: t.Text | None = None


class LinkTable(Table):
    """`[[link]]`: one carrier, or `count` of them."""

    id: t.Id
    name: t.Text | None = None
    radio: t.RadioName = Field(examples=["heron"])
    worn: t.WornWord | None = None
    count: Count | None = None
    hold_hz: t.Mhz | None = Field(None, alias="hold_mhz")
    priority: AnyWhole = 0
    earshot: t.IdList = ()
    on_air: list[TimesTable] = []
    power_mw: t.Milliwatts | None = None
    unit: t.Id | None = None
    place: t.Id | None = None
    role: t.Text | None = None
    wearer: t.Text | None = None
    rack: t.Text | None = None
    apart_from: t.IdList = ()
    movable: t.MovableWord = "now"
    desk_input: t.Text | None = None
    receiver: t.Text | None = None
    antenna: t.Text | None = None
    note: t.Text | None = None


class OtherTable(Table):
    """`[[other]]`: a transmitter that is not ours and will not move for us."""

    id: t.Id
    name: t.Text | None = None
    carrier_hz: t.Mhz = Field(alias="carrier_mhz", examples=[611.3])
    bandwidth_hz: t.Khz = Field(alias="bandwidth_khz", examples=[12.5])
    keep_away_hz: t.Khz | None = Field(None, alias="keep_away_khz")
    makes_products: t.MakesProductsWord | None = None
    protect: t.Flag = False
    clearance_hz: Clearances = Field({}, alias="clearance_khz")
    level_dbm: t.Decibels | None = None
    earshot: t.IdList = ()
    on_air: list[TimesTable] = []
    place: t.Id | None = None


class EarshotTable(Table):
    """`[[earshot]]`: a set of links that hear each other."""

    id: t.Id
    name: t.Text | None = None


class IsolationTable(Table):
    """`[[isolation]]`: what two earshots hear of each other; without `db`: nothing."""

    id: t.Id | None = None
    between: list[t.Id] = Field(min_length=2, max_length=2, examples=[["main", "hall"]])
    db: t.Decibels | None = None


class PairTable(Table):
    """`[[pair]]`: a spacing between two kinds of links that overrides what their types ask."""

    id: t.Id
    one: t.Text = Field(examples=["siskin"])
    two: t.Text = Field(examples=["heron"])
    spacing_hz: t.Khz = Field(alias="spacing_khz", examples=[3000])
    where: t.WhereWord = "anywhere"


class PlanTable(Table):
    """`[plan]`: what the plan is asked for."""

    spares: dict[t.RadioName, Spares] = {}
    close_above_floor_db: t.Decibels = 10.0
    unmeasured: t.UnmeasuredWord = "avoid"
    seed: Seed = 1
    time_limit_s: t.Seconds = 10.0


class Brief(Table):
    """A brief: one production, what may be used there, the kit, the links and the wishes."""

    bandwright: Literal[1] = 1
    job: JobTable
    place: list[PlaceTable] = []
    permit: list[PermitTable] = Field(min_length=1)
    radio: list[RadioTable] = Field(min_length=1)
    unit: list[UnitTable] = []
    earshot: list[EarshotTable] = []
    isolation: list[IsolationTable] = []
    link: list[LinkTable] = []
    other: list[OtherTable] = []
    pair: list[PairTable] = []
    plan: PlanTable = PlanTable()
