"""The tables of radio types as pydantic models: what they tune to, send and ask for; variants, presets, boxes."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field, model_validator

from bandwright.documents.brief import types as t
from bandwright.documents.brief.base import Count, Table
from bandwright.documents.brief.front_tables import FrequencyList, Selectivity
from bandwright.documents.brief.sound_tables import AudioTable, CompandingList

__all__ = ["Clearances", "PresetTable", "RadioTable", "TuningTable", "UnitTable", "VariantTable"]

MOST_CARRIERS = 1_000_000

_DIP, _DIP_SCHEMA = t.between(0, 1_000, "ms")
DipMs = Annotated[float, _DIP, _DIP_SCHEMA]

Clearances = dict[t.FamilyName, t.Clearance]


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
    front_end_shared: t.Flag | None = Field(
        None,
        description="whether all receiver channels of one box look through one such window; true when left out",
        examples=[False],
    )
    designator: t.Text | None = Field(None, description="emission designator", examples=["200KF3E"])
    peak_deviation_hz: t.Khz | None = Field(
        None, alias="peak_deviation_khz", description="peak deviation of an FM type", examples=[50]
    )
    preemphasis_us: t.Microseconds | None = Field(
        None, description="time constant of an FM type's pre-emphasis and de-emphasis", examples=[50]
    )
    noise_figure_db: t.RatioDb | None = Field(
        None,
        description="noise figure of its receiver; calibrated sweeps are then held against the noise it makes itself",
        examples=[7],
    )
    sensitivity_dbm: t.Decibels | None = Field(
        None,
        description="the weakest carrier at its receiver that it works with, or that it is to work with",
        examples=[-92],
    )
    needs_cn_db: t.RatioDb | None = Field(
        None,
        description="carrier over noise and interference that it then needs; with `sensitivity_dbm` it counts in place "
        "of the noise figure",
        examples=[20],
    )
    iip3_dbm: t.Decibels | None = Field(
        None, description="third-order intercept point at its receiver's input", examples=[5]
    )
    transmit_im_loss_db: t.RatioDb | None = Field(
        None,
        description="conversion loss of its transmitter: how far below a strange carrier at its output 2A-B leaves",
        examples=[10],
    )
    diversity: t.DiversityWord | None = Field(
        None,
        description="what its receiver does with two antennas: nothing, leave the weak, take the better, add both up",
        examples=["selection"],
    )
    audible_ms: DipMs | None = Field(
        None,
        description="how long the signal must be gone for that to be heard, as its squelch and ear or its concealment "
        "bridge shorter dips; left out, 5 for FM and 2 for digital count, which is assumed; 0 counts every dip",
        examples=[10],
    )
    companding: CompandingList = Field(
        None,
        description="every kind of companding that it can be set to, the usual one first",
        examples=[[{"ratio": 2, "preemphasis_us": 50}]],
    )
    audio: AudioTable | None = Field(
        None,
        description="its inputs, outputs, noise and latency; a variant's goes in place of all of it",
        examples=[{"input_full_dbu": -30, "latency_ms": 3}],
    )
    p1db_dbm: t.Decibels | None = Field(
        None, description="level at its receiver's input where gain has fallen by 1 dB", examples=[-15]
    )
    selectivity: Selectivity = Field(
        None,
        description="by how much its input filter lowers what lies so far from its carrier, ahead of what makes "
        "products; straight lines in dB between the offsets, from 0 dB at the carrier",
        examples=[[{"offset_khz": 4000, "db": 12}]],
    )
    if_hz: FrequencyList = Field(
        None,
        alias="if_mhz",
        description="intermediate frequencies of its receiver, the first one first; for its image, half the IF and "
        "what its oscillator leaks",
        examples=[[70, 10.7]],
    )
    lo_side: t.LoSideWord | None = Field(
        None,
        description="whether its first oscillator lies above or below the carrier; either when left out",
        examples=["below"],
    )
    antenna_supply: t.Flag | None = Field(
        None, description="whether its receiver feeds the antenna line with a direct voltage", examples=[True]
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
