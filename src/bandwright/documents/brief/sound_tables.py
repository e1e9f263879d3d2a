"""The tables of a brief about sound, as pydantic models: companding, microphones, sources, and where outputs go."""

from __future__ import annotations

from collections import Counter
from typing import Annotated

from pydantic import AfterValidator, Field, model_validator

from bandwright.core.audio import Plug, Powering, SourceKind
from bandwright.core.kit import Detector
from bandwright.documents.brief import types as t
from bandwright.documents.brief.base import Table, number

__all__ = [
    "AudioTable",
    "CompandingList",
    "CompandingTable",
    "EarpieceTable",
    "FeedTable",
    "GainTable",
    "MicrophoneTable",
    "OutputTable",
    "SourceTable",
]

_BANDS, _BANDS_SCHEMA = number(1, 8)
_RATIO, _RATIO_SCHEMA = t.between(1, 20)
_US, _US_SCHEMA = t.between(0, 1_000, "us")
_MS, _MS_SCHEMA = t.between(0.001, 10_000, "ms")
_LATENCY, _LATENCY_SCHEMA = t.between(0, 10_000, "ms")
_MV, _MV_SCHEMA = t.between(0.001, 10_000, "mV/Pa")
_SPL, _SPL_SCHEMA = t.between(-20, 200, "dB SPL")
_OHM, _OHM_SCHEMA = t.between(1, 1_000_000, "ohm")
_HOURS, _HOURS_SCHEMA = t.between(0.01, 24, "hours")
_STEP, _STEP_SCHEMA = t.between(0.01, 100, "dB")
_NOISE, _NOISE_SCHEMA = t.between(0, 200, "dB")
_DETECTOR, _DETECTOR_SCHEMA = t.words(Detector)
_PLUG, _PLUG_SCHEMA = t.words(Plug)
_POWERING, _POWERING_SCHEMA = t.words(Powering)
_KIND, _KIND_SCHEMA = t.words(SourceKind)

Bands = Annotated[int, _BANDS, _BANDS_SCHEMA]
Ratio = Annotated[float, _RATIO, _RATIO_SCHEMA]
MicrosecondsOrZero = Annotated[float, _US, _US_SCHEMA]
Milliseconds = Annotated[float, _MS, _MS_SCHEMA]
Latency = Annotated[float, _LATENCY, _LATENCY_SCHEMA]
MillivoltsPerPa = Annotated[float, _MV, _MV_SCHEMA]
SoundLevel = Annotated[float, _SPL, _SPL_SCHEMA]
Ohms = Annotated[float, _OHM, _OHM_SCHEMA]
Hours = Annotated[float, _HOURS, _HOURS_SCHEMA]
NoiseDb = Annotated[float, _NOISE, _NOISE_SCHEMA]
StepDb = Annotated[float, _STEP, _STEP_SCHEMA]
DetectorWord = Annotated[Detector, _DETECTOR, _DETECTOR_SCHEMA]
PlugWord = Annotated[Plug, _PLUG, _PLUG_SCHEMA]
PoweringWord = Annotated[Powering, _POWERING, _POWERING_SCHEMA]
SourceWord = Annotated[SourceKind, _KIND, _KIND_SCHEMA]


class CompandingTable(Table):
    """One kind of companding that a radio type can be set to, by what it does; its name is yours.

    Write `[{ ratio = 1 }]` for a type that compresses nothing, such as most digital ones.
    """

    name: t.Text | None = Field(
        None, description="what you call it; links choose by it where there are several", examples=["smooth"]
    )
    ratio: Ratio | None = Field(None, description="of the compressor: 2 is 2:1, 1 is none", examples=[2])
    detector: DetectorWord | None = Field(None, description="what it follows", examples=["rms"])
    attack_ms: Milliseconds | None = Field(None, description="its attack time", examples=[3])
    release_ms: Milliseconds | None = Field(None, description="its release time", examples=[80])
    bands: Bands | None = Field(None, description="into how many bands it splits the sound first", examples=[1])
    preemphasis_us: MicrosecondsOrZero | None = Field(
        None,
        description="time constant of its pre-emphasis, 0 for none; that of the radio type when left out",
        examples=[50],
    )
    expansion: Ratio | None = Field(
        None,
        description="of the expander at the receiver; `ratio` when left out, less hands on reduced dynamics",
        examples=[2],
    )
    unity_db: t.Decibels | None = Field(
        None,
        description="the level, against full deviation, that the compressor leaves as it is; 0 when left out",
        examples=[-10],
    )
    ultrasonic_filter_hz: t.Khz | None = Field(
        None, alias="ultrasonic_filter_khz", description="corner of the low-pass before the compressor", examples=[17]
    )


def _told_apart(kinds: list[CompandingTable] | None) -> list[CompandingTable] | None:
    names = Counter(kind.name for kind in kinds or ())
    if kinds is not None and not kinds:
        raise t.wrong("empty", "must describe a kind of companding", allowed="one or more tables in braces")
    if len(names) < len(kinds or ()) or (len(names) > 1 and None in names):
        raise t.wrong("name-twice", "must give each of several kinds a name of its own", allowed="a name in each, once")
    return kinds


CompandingList = Annotated[list[CompandingTable] | None, AfterValidator(_told_apart)]


class GainTable(Table):
    """The settings of a gain control: from `low_db` in steps up to `high_db`. Attenuation counts below 0."""

    low_db: t.Decibels = Field(description="its lowest setting", examples=[-12])
    high_db: t.Decibels = Field(description="its highest setting", examples=[32])
    step_db: StepDb = Field(description="its step", examples=[4])

    @model_validator(mode="after")
    def _runs_upwards(self) -> GainTable:
        if self.high_db < self.low_db:
            raise t.wrong("reversed", "must run upwards", allowed="low_db at most high_db", hint="Swap the two.")
        if (self.high_db - self.low_db) / self.step_db > _MOST_SETTINGS:
            problem = f"has more than {_MOST_SETTINGS} settings"
            raise t.wrong("too-many", problem, allowed="a larger step")
        return self


_MOST_SETTINGS = 1_000


class OutputTable(Table):
    """One output of a receiver (or of the pack that somebody listens with)."""

    name: t.Text | None = Field(None, description="its name; what it is when left out", examples=["XLR"])
    what: PlugWord = Field(description="what it gives", examples=["line"])
    full_dbu: t.Decibels | None = Field(
        None, description="what it gives at full deviation, with its control at 0 dB", examples=[18]
    )
    full_dbfs: t.Decibels | None = Field(None, description="the same, of a digital output", examples=[-1])
    most_dbu: t.Decibels | None = Field(None, description="the level where it clips by itself", examples=[20])
    gains: GainTable | None = Field(
        None,
        description="its level control; none when left out",
        examples=[{"low_db": -9, "high_db": 0, "step_db": 3}],
    )
    balanced: t.Flag | None = Field(None, description="whether it is balanced", examples=[True])
    bears_phantom: t.Flag | None = Field(
        None, description="whether it bears phantom power from the input behind it", examples=[True]
    )
    own_clock: t.Flag | None = Field(
        None, description="a digital one: whether it keeps its own time and can follow nothing", examples=[False]
    )


class AudioTable(Table):
    """The sound of a radio type: its transmitter's input, the link itself, and its receiver's outputs."""

    input_full_dbu: t.Decibels | None = Field(
        None,
        description="what at the transmitter's input reaches full deviation (or full scale) with gain at 0 dB",
        examples=[-30],
    )
    input_most_dbu: t.Decibels | None = Field(
        None, description="what that input takes at most, whatever the gain", examples=[8]
    )
    input_noise_dbu: t.Decibels | None = Field(
        None, description="the noise of that input, referred to it, over 20 kHz", examples=[-120]
    )
    gains: GainTable | None = Field(
        None,
        description="its gain settings; more lets a quieter sound reach full deviation",
        examples=[{"low_db": -12, "high_db": 32, "step_db": 4}],
    )
    gives: PoweringWord | None = Field(None, description="what it feeds a microphone with", examples=["bias"])
    outputs: list[OutputTable] = Field(
        [], max_length=16, description="its receiver's outputs", examples=[[{"what": "line", "full_dbu": 18}]]
    )
    noise_db: NoiseDb | None = Field(
        None, description="how far its noise lies under full deviation, A-weighted, companding and all", examples=[108]
    )
    latency_ms: Latency | None = Field(None, description="what it takes from input to output", examples=[0.2])
    inverts: t.Flag | None = Field(None, description="whether it turns the polarity", examples=[False])
    tone_squelch_hz: t.Khz | None = Field(
        None, alias="tone_squelch_khz", description="the tone that opens its receiver", examples=[32.768]
    )
    encrypted: t.Flag | None = Field(None, description="whether it is encrypted", examples=[True])
    digital_mode: t.Text | None = Field(
        None, description="the mode of a digital type, in your words; both ends must have the same", examples=["wide"]
    )

    @model_validator(mode="after")
    def _names_each_output_once(self) -> AudioTable:
        names = [output.name or output.what.value for output in self.outputs]
        if len(set(names)) < len(names):
            raise t.wrong("name-twice", "must give each output a name of its own", allowed="a name in each, once")
        return self


class MicrophoneTable(Table):
    """A microphone with what stands between it and the transmitter; a link names it."""

    id: t.Id = Field(description="its id", examples=["lavalier"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Lavalier, red"])
    sensitivity_mv_per_pa: MillivoltsPerPa | None = Field(
        None, description="what it gives for 1 Pa (94 dB SPL) at 1 kHz", examples=[20]
    )
    self_noise_db: SoundLevel | None = Field(
        None, description="its own noise as a level of sound, A-weighted", examples=[26]
    )
    most_db_spl: SoundLevel | None = Field(None, description="the loudest peak that it bears", examples=[130])
    output_ohm: Ohms | None = Field(
        None, description="its output impedance, for the noise of one that has no noise figure", examples=[150]
    )
    needs: PoweringWord | None = Field(None, description="what must feed it", examples=["bias"])
    pad_db: t.RatioDb = Field(0.0, description="a pad between it and the transmitter", examples=[15])
    inverts: t.Flag | None = Field(
        None, description="whether more pressure gives less voltage on its hot wire", examples=[False]
    )


class SourceTable(Table):
    """What links carry: a voice, an instrument, or a programme that comes by cable. Links name it.

    Levels of sound go before the efforts; without `at_m` they are those at 1 m. A programme has levels in dBu.
    """

    id: t.Id = Field(description="its id", examples=["voice"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Spoken parts"])
    what: SourceWord = Field(description="what it is", examples=["speech"])
    quietest: t.Text | None = Field(
        None, description="the quietest that counts, as an effort of speech (list below)", examples=["normal"]
    )
    loudest: t.Text | None = Field(
        None, description="the loudest that anybody expects, as an effort of speech", examples=["shout"]
    )
    quietest_db_spl: SoundLevel | None = Field(None, description="the quietest as a level of sound", examples=[55])
    loudest_db_spl: SoundLevel | None = Field(None, description="the loudest as a level of sound", examples=[95])
    at_m: t.Metres | None = Field(None, description="how far from it these hold; 1 m when left out", examples=[0.3])
    quietest_dbu: t.Decibels | None = Field(None, description="a programme: its quietest that counts", examples=[-20])
    loudest_dbu: t.Decibels | None = Field(None, description="a programme: its loudest, before peaks", examples=[10])
    peaks_db: t.RatioDb | None = Field(
        None,
        description="by how much its peaks stand over the loudest; common practice when left out (list below)",
        examples=[12],
    )
    headroom_db: t.RatioDb | None = Field(
        None, description="what to leave free above those peaks; 6 dB when left out (common practice)", examples=[6]
    )
    one: t.Flag = Field(
        False,
        description="that all links that name it hear one and the same sound at the same time, so that their times "
        "count; false describes many that are alike",
        examples=[True],
    )
    latency_ms: Latency | None = Field(
        None, description="a programme: what it has behind it when it reaches the transmitter", examples=[1.5]
    )

    @model_validator(mode="after")
    def _fits_what_it_is(self) -> SourceTable:
        programme = self.what is SourceKind.PROGRAMME
        stray = _OF_SOUND if programme else _OF_PROGRAMMES
        stray = stray if self.what is SourceKind.SPEECH or programme else (*stray, *_OF_SPEECH)
        found = [key for key in stray if getattr(self, key) is not None]
        if found:
            allowed = ", ".join(_OF_PROGRAMMES if programme else _OF_SOUND)
            raise t.wrong("stray-key", f"{_SOURCE_WORDS[self.what]} has no {found[0]}", allowed=allowed)
        for low, high in (("quietest_db_spl", "loudest_db_spl"), ("quietest_dbu", "loudest_dbu")):
            one, two = getattr(self, low), getattr(self, high)
            if one is not None and two is not None and one > two:
                raise t.wrong("reversed", "must run upwards", allowed=f"{low} at most {high}", hint="Swap the two.")
        return self


_OF_SPEECH = ("quietest", "loudest")
_OF_SOUND = ("quietest_db_spl", "loudest_db_spl", "at_m", *_OF_SPEECH)
_OF_PROGRAMMES = ("quietest_dbu", "loudest_dbu", "latency_ms")
_SOURCE_WORDS = {
    SourceKind.SPEECH: "speech",
    SourceKind.SINGING: "singing",
    SourceKind.INSTRUMENT: "an instrument",
    SourceKind.PROGRAMME: "a programme",
}


class EarpieceTable(Table):
    """What hangs on a phones output."""

    db_spl_per_v: SoundLevel | None = Field(None, description="the level at the ear for 1 V", examples=[118])
    db_spl_per_mw: SoundLevel | None = Field(
        None, description="the level at the ear for 1 mW, with its impedance", examples=[105]
    )
    ohm: Ohms | None = Field(None, description="its impedance", examples=[32])

    @model_validator(mode="after")
    def _says_how_loud(self) -> EarpieceTable:
        if self.db_spl_per_v is None and (self.db_spl_per_mw is None or self.ohm is None):
            allowed = "db_spl_per_v, or db_spl_per_mw with ohm"
            raise t.wrong("no-sensitivity", "must say how loud it is", allowed=allowed)
        return self


class FeedTable(Table):
    """Where the output of receivers goes: a recorder, a desk, a camera, or an ear."""

    id: t.Id = Field(description="its id", examples=["recorder"])
    name: t.Text | None = Field(None, description="its name; the id when left out", examples=["Recorder, inputs 1-8"])
    names: t.TextList = Field(
        (),
        alias="for",
        description="links or units, or what these give as their rack or receiver; left out, every link that no other "
        "feed names",
        examples=[["L01", "R2"]],
    )
    output: t.Text | None = Field(
        None, description="the receiver's output by its name; the first one when left out", examples=["XLR"]
    )
    output_db: t.Decibels | None = Field(
        None, description="what that output's level control is set to; recommended when left out", examples=[-10]
    )
    input: PlugWord | None = Field(
        None, description="what it takes; phones for earpieces on the receiver itself", examples=["line"]
    )
    reference: t.Text | None = Field(None, description="its alignment (list below)", examples=["ebu-r68"])
    full_scale_dbu: t.Decibels | None = Field(
        None, description="what reads 0 dBFS with its trim at 0 dB", examples=[24]
    )
    most_dbu: t.Decibels | None = Field(
        None, description="what its input takes at most, ahead of the trim", examples=[26]
    )
    noise_dbu: t.Decibels | None = Field(
        None, description="the noise of its input, referred to it, over 20 kHz", examples=[-100]
    )
    trims: GainTable | None = Field(
        None,
        description="its trim or gain settings; none when left out",
        examples=[{"low_db": 0, "high_db": 40, "step_db": 1}],
    )
    trim_db: t.Decibels | None = Field(
        None, description="what its trim is set to; recommended when left out", examples=[0]
    )
    pad_db: t.RatioDb = Field(0.0, description="a pad ahead of it", examples=[20])
    phantom: t.Flag | None = Field(None, description="whether phantom power is on there", examples=[False])
    balanced: t.Flag | None = Field(None, description="whether its input is balanced", examples=[True])
    inverts: t.Flag | None = Field(None, description="whether it, or the cable, turns the polarity", examples=[False])
    cable_m: t.Metres | None = Field(None, description="the cable to it", examples=[10])
    latency_ms: Latency | None = Field(None, description="what the way behind it takes", examples=[1.5])
    sample_rate_hz: t.Khz | None = Field(
        None, alias="sample_rate_khz", description="its sample rate; 48 kHz counts when left out", examples=[48]
    )
    device: t.Text | None = Field(
        None, description="the device that it is part of; itself when left out", examples=["desk"]
    )
    clock: t.Text | None = Field(
        None, description="a digital one: what the receiver's time comes from", examples=["recorder"]
    )
    converts_rate: t.Flag | None = Field(
        None,
        description="a digital one: whether it converts sample rates and so needs no common clock",
        examples=[True],
    )
    earpiece: EarpieceTable | None = Field(
        None, description="what hangs on a phones output", examples=[{"db_spl_per_mw": 105, "ohm": 32}]
    )
    limiter_db: t.Decibels | None = Field(
        None, description="phones: where a limiter holds, against full deviation", examples=[-12]
    )
    hours: Hours | None = Field(None, description="phones: how long somebody listens in a day", examples=[3])
