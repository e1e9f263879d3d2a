"""The tables of a brief as pydantic models: which keys there are and what each may hold."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, model_validator

from bandwright.documents.brief import types as t
from bandwright.documents.brief.area_tables import AreaTable
from bandwright.documents.brief.base import MOST_LINKS, Count, Table, number
from bandwright.documents.brief.radio_tables import Clearances, RadioTable, UnitTable
from bandwright.documents.brief.rig_tables import AntennaTable, RunTable, WallTable
from bandwright.documents.brief.sound_tables import FeedTable, MicrophoneTable, SourceTable

__all__ = [
    "BlockTable",
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
    "TimesTable",
]

_DAY, _NEXT_DAY = date(2027, 5, 14), date(2027, 5, 15)

_SPARES, _SPARES_SCHEMA = number(0, MOST_LINKS)
_ANY, _ANY_SCHEMA = number(-1_000_000, 1_000_000)
_SEED, _SEED_SCHEMA = number(0, 2**53 - 1)

Spares = Annotated[int, _SPARES, _SPARES_SCHEMA]
AnyWhole = Annotated[int, _ANY, _ANY_SCHEMA]
Seed = Annotated[int, _SEED, _SEED_SCHEMA]


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
    path: t.Text | None = Field(
        None,
        description="how signals get weaker here, for `bandwright reach` (list below); free-space when left out",
        examples=["two-ray"],
    )
    path_exponent: t.Exponent | None = Field(
        None, description="with log-distance: 2 is free space, 3 to 4 where sets and walls are in the way", examples=[3]
    )
    shadowing_db: t.RatioDb | None = Field(
        None,
        description="how far levels scatter around that (standard deviation); what the path model says when left out",
        examples=[5],
    )
    rice_k_db: t.RiceDb | None = Field(
        None,
        description="how much stronger the direct wave is than all that is reflected; left out, there is none",
        examples=[6],
    )
    temperature_c: t.Celsius | None = Field(
        None, description="how warm it is, for times of sound in air; 20 when left out", examples=[12]
    )


class TimesTable(Table):
    """A stretch of time.

    Either two times of the day, which then count on every date of the job (an end at or before the start lies on the
    next day), or two dates or dates with times; an end that is a date means the end of that day. Where clocks go back
    and show an hour twice, a time without an offset takes in both for what is on the air, and neither for a permit.
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
    state: t.PermitStateWord = Field(
        description="how far it has come; applied is used last, and marked",
        examples=["granted"],
    )
    rules: t.Id | None = Field(
        None, description="a shipped table (`bandwright rules` lists them)", examples=["uk-shared-606-613"]
    )
    windows: t.Windows = Field(
        [],
        alias="windows_mhz",
        description="what may be used, edges included; windows that touch or overlap count as one",
        examples=[[[606.5, 613.5]]],
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
        (), description="links to keep 4 MHz and a box away from, such as its backup", examples=[["L02"]]
    )
    movable: t.MovableWord = Field("now", description="when its carrier may change, for replanning", examples=["break"])
    desk_input: t.Text | None = Field(None, description="its desk input, for sheets", examples=["7"])
    receiver: t.Text | None = Field(None, description="its receiver, for sheets", examples=["R1.2"])
    antenna: t.Text | None = Field(None, description="its antenna, for sheets", examples=["quay east"])
    note: t.Text | None = Field(None, description="a remark for sheets", examples=["sewn into the costume"])
    distance_m: t.Metres | None = Field(
        None, description="from its antenna to the farthest point where it must work", examples=[35]
    )
    body_loss_db: t.RatioDb | None = Field(
        None,
        description="what the body takes away; common practice for how it is worn when left out (list below)",
        examples=[10],
    )
    walls: list[WallTable] = Field([], description="walls on the way", examples=[[{"loss_db": 6}]])
    zone: t.Id | None = Field(
        None, description="the zone of `[area]` in which it is; the whole area when left out", examples=["stage"]
    )
    companding: t.Text | None = Field(
        None, description="the kind of companding it is set to; the first of its type when left out", examples=["full"]
    )
    receiver_companding: t.Text | None = Field(
        None, description="the kind its receiver is set to, where that is another one", examples=["reduced"]
    )
    receiver_radio: t.RadioName | None = Field(
        None, description="the radio type of its receiver, where that is another one", examples=["osprey"]
    )
    source: t.Id | None = Field(None, description="what it carries, a [[source]]", examples=["voice"])
    microphone: t.Id | None = Field(None, description="its [[microphone]]", examples=["lavalier"])
    from_source_m: t.Metres | None = Field(
        None,
        description="from the source to the microphone; common practice for how it is worn when left out (list below)",
        examples=[0.2],
    )
    gain_db: t.Decibels | None = Field(
        None, description="what its transmitter's gain is set to; recommended when left out", examples=[12]
    )


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
    """A set of links that hear each other. Where these are listed, links may name only listed ones.

    IM products are asked about among carriers that all hear each other. A link in two earshots (or in none, while
    others are in some) hears both sides; what only its own receiver could make of them is told as a note, and closes
    no carrier.
    """

    id: t.Id = Field(description="its id", examples=["main"])
    name: t.Text | None = Field(None, description="its name", examples=["Main stage"])


class IsolationTable(Table):
    """What two earshots hear of each other: what binds between them.

    Without an entry, or with neither `db` nor `binds`, they do not hear each other at all and share carriers freely.
    From 40 dB on only the carrier spacing binds across, from 60 dB on nothing; under 40 dB every rule binds as if they
    were one earshot. (A third-order product made with a carrier that arrives 40 dB weaker is at least 40 dB weaker,
    which is what an FM carrier bears; a carrier on the same frequency must stay 40 dB below even while the wanted one
    fades by 20 dB. Common practice.) Of several entries for two earshots the one that binds most counts.
    """

    id: t.Id | None = Field(None, description="its id", examples=["main-hall"])
    between: list[t.Id] = Field(min_length=2, max_length=2, description="the two earshots", examples=[["main", "hall"]])
    db: t.Decibels | None = Field(
        None,
        description="how far below the wanted carriers those of the other earshot arrive",
        examples=[40],
    )
    binds: t.BindsWord | None = Field(
        None, description="which rules bind between them, said outright; goes before `db`", examples=["spacing"]
    )


class BlockTable(Table):
    """A part of the spectrum that some links keep to.

    A link that several blocks name may lie in any of them; one that none names may lie anywhere outside those with
    `keep_out`.
    """

    id: t.Id = Field(description="its id", examples=["ears"])
    names: t.TextList = Field(
        alias="for", description="a radio type, a variant, a role or a link, or a list of them", examples=["in-ear"]
    )
    windows: t.Windows = Field(
        min_length=1,
        alias="windows_mhz",
        description="where their whole bandwidth must lie, edges included",
        examples=[[[606.5, 608.5]]],
    )
    keep_out: t.Flag = Field(False, description="keep everything else out of it", examples=[True])
    place: t.Id | None = Field(None, description="the only place where it counts; all when left out", examples=["quay"])


class PairTable(Table):
    """A spacing between two kinds of links that goes before what their types ask.

    Of several that fit, the most specific one counts, whatever their order: a rule for the same wearer or rack before
    one for anywhere; then one that names a link before one that names a role, a variant or a radio type, in this
    order; then the larger spacing.
    """

    id: t.Id = Field(description="its id", examples=["one-belt"])
    one: t.Text = Field(description="a radio type, a variant, a role or a link", examples=["siskin"])
    two: t.Text = Field(description="another, or the same", examples=["heron"])
    spacing_hz: t.Khz = Field(alias="spacing_khz", description="what their carriers keep apart", examples=[3000])
    where: t.WhereWord = Field("anywhere", description="which of them it binds", examples=["same-wearer"])


class PlanTable(Table):
    """What the plan is asked for."""

    spares: dict[t.RadioName, Spares] = Field(
        {},
        description="spare carriers by radio type, each usable at every place where links of that type work "
        "(at all places where none does)",
        examples=[{"heron": 2}],
    )
    close_above_floor_db: t.Decibels = Field(
        10.0, description="how far above its own noise floor a sweep level closes a carrier", examples=[10]
    )
    unmeasured: t.UnmeasuredWord = Field(
        "avoid",
        description="carriers that no sweep measured: avoid uses them last, allow like any other, close not at all",
        examples=["close"],
    )
    objective: t.ObjectiveWord = Field(
        "room",
        description="what is best once all have a carrier: room leaves the largest offsets in kHz, levels the highest "
        "carrier to interference at the worst link",
        examples=["levels"],
    )
    khz_rules: t.KhzRulesWord = Field(
        "kept",
        description="product clearances in kHz of receivers whose `iip3_dbm` is stated: kept, relaxed to half, or off; "
        "carrier spacing stays",
        examples=["relaxed"],
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
    antenna: list[AntennaTable] = Field([], description="antennas at the rack's end of links")
    run: list[RunTable] = Field([], description="cables and devices behind an antenna")
    area: AreaTable | None = Field(None, description="the plan of the place")
    earshot: list[EarshotTable] = Field([], description="sets of links that hear each other")
    isolation: list[IsolationTable] = Field([], description="what earshots hear of each other")
    link: list[LinkTable] = Field([], description="the carriers to be placed")
    microphone: list[MicrophoneTable] = Field([], description="microphones that links name")
    source: list[SourceTable] = Field([], description="what links carry")
    feed: list[FeedTable] = Field([], description="where outputs of receivers go")
    other: list[OtherTable] = Field([], description="transmitters that are not ours")
    pair: list[PairTable] = Field([], description="spacings between kinds of links")
    block: list[BlockTable] = Field([], description="parts of the spectrum for some links")
    plan: PlanTable = Field(PlanTable(), description="what the plan is asked for")
