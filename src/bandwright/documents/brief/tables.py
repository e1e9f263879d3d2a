"""The tables of a brief as pydantic models: which keys there are and what each may hold."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema, model_validator

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

_DAY, _NEXT_DAY = date(2027, 5, 14), date(2027, 5, 15)

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
    """The production."""

    title: t.Text = Field(description="what the production is called, on every sheet", examples=["Lantern Quay"])
    dates: list[t.Day] = Field([], description="its days; times of the day count on each", examples=[[_DAY]])
    hours: t.Text | None = Field(None, description="hours of work as text, for sheets", examples=["10:00-23:30"])
    note: t.Text | None = Field(None, description="a remark for sheets", examples=["Load-in through the east gate"])
    invented: t.Flag = Field(False, description="say on every sheet that all this is made up", examples=[True])


class PlaceTable(Table):
    """Where it happens. Without one there is a single unnamed place, in UTC, without TV channels."""

    id: t.Id = Field(description="its id", examples=["quay"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Quay stage"])
    timezone: t.Text = Field("UTC", description="the time zone of times without one", examples=["Europe/Lisbon"])
    tv_raster: t.Id | None = Field(None, description="which TV channels there are (list below)", examples=["region1"])
    tv_closed: t.ChannelLabels = Field(
        (), description="labels of TV channels on the air there, closed over their whole width", examples=[["23", "26"]]
    )
    tv_guard_hz: t.KhzOrZero = Field(
        0, alias="tv_guard_khz", description="what to keep clear beside a closed TV channel", examples=[300]
    )


class TimesTable(Table):
    """A stretch of time.

    Either two times of the day, which then count on every date of the job (an end at or before the start lies on the
    next day), or two dates or dates with times; an end that is a date means the end of that day.
    """

    start: t.Moment = Field(description="when it starts", examples=["19:30"])
    end: t.Moment = Field(description="when it ends", examples=["23:00"])


class PowerTable(Table):
    """The most power a permit allows. At least one figure; `any_mw` counts where no special one is stated."""

    kind: t.PowerKindWord = Field(description="what the figures refer to", examples=["erp"])
    any_mw: t.Milliwatts | None = Field(None, description="the limit of any transmitter", examples=[50])
    bodyworn_mw: t.Milliwatts | None = Field(None, description="the limit worn on the body", examples=[50])
    handheld_mw: t.Milliwatts | None = Field(None, description="the limit held in the hand", examples=[10])

    @model_validator(mode="after")
    def _says_a_figure(self) -> PowerTable:
        if self.any_mw is None and self.bodyworn_mw is None and self.handheld_mw is None:
            raise t.wrong("no-power", "must state a power", allowed="any_mw, bodyworn_mw, handheld_mw")
        return self


class PermitTable(Table):
    """What may be used, with `windows_mhz` of its own or the `rules` of a shipped table. One is needed."""

    id: t.Id = Field(description="its id", examples=["shared"])
    reference: t.Text | None = Field(
        None, description="the licence's number or name; the id when left out", examples=["LQ-0451"]
    )
    state: t.PermitStateWord = Field(description="how far it has come; applied allows nothing", examples=["granted"])
    rules: t.Id | None = Field(
        None, description="a shipped table (`bandwright rules` lists them)", examples=["uk-shared-606-613"]
    )
    windows: t.Windows = Field(
        [], alias="windows_mhz", description="what may be used, edges included", examples=[[[606.5, 613.5]]]
    )
    closed: t.Windows = Field(
        [], alias="closed_mhz", description="what may not be used after all", examples=[[[610.0, 610.2]]]
    )
    max_bandwidth_hz: t.Khz | None = Field(
        None, alias="max_bandwidth_khz", description="the widest carrier it allows", examples=[200]
    )
    max_power: PowerTable | None = Field(
        None, description="the most power it allows", examples=[{"bodyworn_mw": 50, "handheld_mw": 10, "kind": "erp"}]
    )
    place: t.Id | None = Field(None, description="the only place where it counts; all when left out", examples=["quay"])
    valid: list[TimesTable] = Field(
        [], description="when it counts; always when left out", examples=[[{"start": _DAY, "end": _NEXT_DAY}]]
    )
    grid_hz: t.Khz | None = Field(
        None, alias="grid_khz", description="the grid that carriers must lie on", examples=[25]
    )
    grid_anchor_hz: t.Mhz | None = Field(
        None, alias="grid_anchor_mhz", description="a frequency on that grid; 0 when left out", examples=[606.5]
    )
    inside: t.InsideWord = Field(
        "bandwidth",
        description="what must lie inside a window: the whole bandwidth or the carrier",
        examples=["carrier"],
    )
    confirmed: t.Flag | None = Field(
        None,
        description="whether you have held the figures against the licence; true for windows of your own, "
        "false for shipped rules, which never count as legal",
        examples=[True],
    )
    source: t.Text | None = Field(None, description="where the figures are from", examples=["licence of 3 May 2027"])


class TuningTable(Table):
    """One tuning range: carriers at `low_mhz`, `low_mhz` + `step_khz`, and so on up to `high_mhz`."""

    low_hz: t.Mhz = Field(alias="low_mhz", description="the lowest carrier", examples=[470.1])
    high_hz: t.Mhz = Field(alias="high_mhz", description="the highest carrier", examples=[613.9])
    step_hz: t.Khz = Field(alias="step_khz", description="the tuning step", examples=[25])

    @model_validator(mode="after")
    def _runs_upwards(self) -> TuningTable:
        if self.high_hz < self.low_hz:
            raise t.wrong("reversed", "must run upwards", allowed="low_mhz at most high_mhz", hint="Swap the two.")
        if (self.high_hz - self.low_hz) // self.step_hz >= MOST_CARRIERS:
            problem = f"holds more than {MOST_CARRIERS} carriers, which is more than can be planned"
            raise t.wrong("too-many", problem, allowed="a larger step")
        return self


class PresetTable(Table):
    """One fixed carrier."""

    label: t.Text = Field(description="what the box shows", examples=["A1"])
    carrier_hz: t.Mhz = Field(alias="mhz", description="its carrier", examples=[863.1])


def _each_once(presets: list[PresetTable] | None) -> list[PresetTable] | None:
    for values in ([p.label for p in presets or ()], [p.carrier_hz for p in presets or ()]):
        if len(set(values)) < len(values):
            raise t.wrong("preset-twice", "must name each label and each carrier once", allowed="each once")
    return presets


class VariantTable(Table):
    """What differs from the radio type it belongs to; a link names it as "heron/narrow"."""

    id: t.Id = Field(description="its id; for a variant, what stands after the stroke", examples=["narrow"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Heron body pack"])
    defaults: t.Text | None = Field(
        None,
        description="the generic class that completes what is left out (list below)",
        examples=["analogue-fm-wide"],
    )
    direction: t.DirectionWord | None = Field(
        None, description="which way the sound goes; from-person when nothing says otherwise", examples=["from-person"]
    )
    tuning: list[TuningTable] | None = Field(
        None,
        description="its tuning ranges; these or presets are needed",
        examples=[[{"low_mhz": 470.1, "high_mhz": 613.9, "step_khz": 25}]],
    )
    presets: Annotated[list[PresetTable] | None, AfterValidator(_each_once)] = Field(
        None, description="its fixed carriers, instead of or beside tuning", examples=[[{"label": "A1", "mhz": 863.1}]]
    )
    emission: t.EmissionWord | None = Field(
        None, description="how the carrier is modulated; needed, or from the class", examples=["fm"]
    )
    bandwidth_hz: t.Khz | None = Field(
        None, alias="bandwidth_khz", description="occupied bandwidth; needed, or from the class", examples=[200]
    )
    power_mw: t.PowerList | None = Field(None, description="its power settings", examples=[[10, 50]])
    power_kind: t.PowerKindWord | None = Field(
        None, description="what they refer to; erp when left out, and marked as assumed", examples=["erp"]
    )
    spacing_hz: t.Khz | None = Field(
        None,
        alias="spacing_khz",
        description="what two carriers of this type keep apart; needed, or from the class",
        examples=[350],
    )
    clearance_hz: Clearances | None = Field(
        None,
        alias="clearance_khz",
        description="what its receiver asks of products, by IM family; a family left out is off",
        examples=[{"2A-B": 100, "A+B-C": 50}],
    )
    front_end_window_hz: t.Mhz | None = Field(
        None, alias="front_end_window_mhz", description="width of what its receiver lets in at once", examples=[24]
    )
    designator: t.Text | None = Field(None, description="emission designator", examples=["200KF3E"])
    peak_deviation_hz: t.Khz | None = Field(
        None, alias="peak_deviation_khz", description="peak deviation of an FM type", examples=[50]
    )
    channels_per_unit: Count | None = Field(
        None, description="receiver channels in one box; 1 when left out", examples=[2]
    )
    invented: t.Flag | None = Field(None, description="a made-up type, said on sheets", examples=[True])
    note: t.Text | None = Field(None, description="a remark for sheets", examples=["Needs a long antenna"])


class RadioTable(VariantTable):
    """The facts of one family of transmitters and receivers. One is needed.

    What the table states goes before what `kit` brings, and that before what `defaults` brings. What came from
    `defaults` is marked as assumed.
    """

    kit: t.RadioName | None = Field(
        None, description="a type of the kit library to start from, with its variants", examples=["heron"]
    )
    variant: list[VariantTable] = Field(
        [], description="other modes or bands of it", examples=[[{"id": "narrow", "bandwidth_khz": 125}]]
    )


class UnitTable(Table):
    """One physical box. Optional for a plan."""

    id: t.Id = Field(description="its id", examples=["R1"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Receiver 1"])
    radio: t.RadioName = Field(description="its radio type", examples=["heron"])
    serial: t.Text | None = Field(None, description="its serial number", examples=["0451"])
    rack: t.Text | None = Field(None, description="the rack it is in", examples=["A"])
    antenna: t.Text | None = Field(None, description="the antenna feed it hangs on", examples=["quay east"])


class LinkTable(Table):
    """One carrier to be placed, or `count` of them."""

    id: t.Id = Field(description="its id; with `count`, what stands before the number (M.1, M.2)", examples=["L01"])
    name: t.Text | None = Field(None, description="who or what it is; the id when left out", examples=["Mara"])
    radio: t.RadioName = Field(description="its radio type, or a variant", examples=["heron/narrow"])
    worn: t.WornWord | None = Field(
        None, description="where its transmitter is; rack for to-person types, else body", examples=["hand"]
    )
    count: Count | None = Field(None, description="make that many links of it", examples=[5])
    hold_hz: t.Mhz | None = Field(None, alias="hold_mhz", description="the carrier that it must keep", examples=[606.7])
    priority: AnyWhole = Field(0, description="higher is placed first", examples=[10])
    earshot: t.IdList = Field(
        (), description="where it is heard; left out, it hears and is heard everywhere", examples=[["main"]]
    )
    on_air: list[TimesTable] = Field(
        [], description="when it is on the air; always when left out", examples=[[{"start": "19:30", "end": "23:00"}]]
    )
    power_mw: t.Milliwatts | None = Field(
        None,
        description="the power it is set to; when left out, the highest of its type's settings that is allowed",
        examples=[50],
    )
    unit: t.Id | None = Field(None, description="the box that receives it", examples=["R1"])
    place: t.Id | None = Field(None, description="its place; the first one when left out", examples=["quay"])
    role: t.Text | None = Field(None, description="part or task; `[[pair]]` may name it", examples=["Lamplighter"])
    wearer: t.Text | None = Field(None, description="who wears it, for `same-wearer`", examples=["mara"])
    rack: t.Text | None = Field(None, description="the rack it is in, for `same-rack`", examples=["A"])
    apart_from: t.IdList = Field(
        (), description="links to keep 4 MHz away from, such as its backup", examples=[["L02"]]
    )
    movable: t.MovableWord = Field("now", description="when its carrier may change, for replanning", examples=["break"])
    desk_input: t.Text | None = Field(None, description="its desk input, for sheets", examples=["7"])
    receiver: t.Text | None = Field(None, description="its receiver, for sheets", examples=["R1.2"])
    antenna: t.Text | None = Field(None, description="its antenna, for sheets", examples=["quay east"])
    note: t.Text | None = Field(None, description="a remark for sheets", examples=["sewn into the costume"])


class OtherTable(Table):
    """A transmitter that is not ours and will not move for us."""

    id: t.Id = Field(description="its id", examples=["house-talkback"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["House talkback"])
    carrier_hz: t.Mhz = Field(alias="carrier_mhz", description="its carrier", examples=[611.3])
    bandwidth_hz: t.Khz = Field(alias="bandwidth_khz", description="its occupied bandwidth", examples=[12.5])
    keep_away_hz: t.Khz | None = Field(
        None,
        alias="keep_away_khz",
        description="what our carriers keep from its carrier; left out, half its bandwidth and half their spacing",
        examples=[400],
    )
    makes_products: t.MakesProductsWord | None = Field(
        None,
        description='whether it makes IM products with ours; "auto" when left out: by `level_dbm` (below -60 dBm it '
        "only blocks, up to -45 it counts together with ours only, above or unknown it counts fully)",
        examples=["auto"],
    )
    protect: t.Flag = Field(False, description="keep our products off it too", examples=[True])
    clearance_hz: Clearances = Field(
        {}, alias="clearance_khz", description="with `protect`: what it asks of products", examples=[{"2A-B": 25}]
    )
    level_dbm: t.Decibels | None = Field(None, description="its level at our antenna", examples=[-68])
    earshot: t.IdList = Field((), description="where it is heard; left out, everywhere", examples=[["main"]])
    on_air: list[TimesTable] = Field(
        [], description="when it is on the air; always when left out", examples=[[{"start": "08:00", "end": "18:00"}]]
    )
    place: t.Id | None = Field(None, description="its place; the first one when left out", examples=["quay"])


class EarshotTable(Table):
    """A set of links that hear each other. Where these are listed, links may name only listed ones."""

    id: t.Id = Field(description="its id", examples=["main"])
    name: t.Text | None = Field(None, description="its name", examples=["Main stage"])


class IsolationTable(Table):
    """What two earshots hear of each other.

    Kept with the job. A plan does not count with it yet: links without a common earshot do not hear each other there.
    """

    id: t.Id | None = Field(None, description="its id", examples=["main-hall"])
    between: list[t.Id] = Field(min_length=2, max_length=2, description="the two earshots", examples=[["main", "hall"]])
    db: t.Decibels | None = Field(
        None, description="isolation between them; left out, they do not hear each other at all", examples=[40]
    )


class PairTable(Table):
    """A spacing between two kinds of links that goes before what their types ask."""

    id: t.Id = Field(description="its id", examples=["one-belt"])
    one: t.Text = Field(description="a radio type, a role or a link", examples=["siskin"])
    two: t.Text = Field(description="another, or the same", examples=["heron"])
    spacing_hz: t.Khz = Field(alias="spacing_khz", description="what their carriers keep apart", examples=[3000])
    where: t.WhereWord = Field("anywhere", description="which of them it binds", examples=["same-wearer"])


class PlanTable(Table):
    """What the plan is asked for."""

    spares: dict[t.RadioName, Spares] = Field({}, description="spare carriers by radio type", examples=[{"heron": 2}])
    close_above_floor_db: t.Decibels = Field(
        10.0, description="how far above its own noise floor a sweep level closes a carrier", examples=[10]
    )
    unmeasured: t.UnmeasuredWord = Field(
        "avoid",
        description="carriers that no sweep measured: avoid uses them last, allow like any other, close not at all",
        examples=["close"],
    )
    seed: Seed = Field(
        1,
        description="the start of the random numbers; the same gives the same plan, unless time stops it",
        examples=[7],
    )
    time_limit_s: t.Seconds = Field(10.0, description="the longest that a search may take", examples=[30])


class Brief(Table):
    """A brief: one production, what may be used there, the kit, the links and the wishes."""

    bandwright: Literal[1] = Field(1, description="version of this kind of document", examples=[1])
    job: JobTable = Field(description="the production")
    place: list[PlaceTable] = Field([], description="where it happens")
    permit: list[PermitTable] = Field(min_length=1, description="what may be used")
    radio: list[RadioTable] = Field(min_length=1, description="the kit")
    unit: list[UnitTable] = Field([], description="physical boxes")
    earshot: list[EarshotTable] = Field([], description="sets of links that hear each other")
    isolation: list[IsolationTable] = Field([], description="what earshots hear of each other")
    link: list[LinkTable] = Field([], description="the carriers to be placed")
    other: list[OtherTable] = Field([], description="transmitters that are not ours")
    pair: list[PairTable] = Field([], description="spacings between kinds of links")
    plan: PlanTable = Field(PlanTable(), description="what the plan is asked for")
