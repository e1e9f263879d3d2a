"""What all outputs share: the head of a document, and values as programs read them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema, field_validator

from bandwright import __version__
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import RbwOrigin, Sweep
from bandwright.units import HZ_PER_KHZ

__all__ = [
    "PROGRAM",
    "UNITS",
    "Document",
    "Input",
    "Level",
    "Model",
    "Number",
    "RuleWord",
    "Run",
    "SweepFactsModel",
    "Unit",
    "Warned",
    "khz",
    "level",
    "plain",
    "warned",
]

PROGRAM = f"bandwright {__version__}"

# Exact: whole numbers print as such (350), others with the decimals they have (12.5).
Number = Annotated[int | float, Field(allow_inf_nan=False), WithJsonSchema({"type": "number"})]
Level = Annotated[float, Field(allow_inf_nan=False)]

Unit = Literal["dBm", "dBuV", "dBuV/m", "dB"]
UNITS: dict[str, Unit] = {"dBm": "dBm", "dBuV": "dBuV", "dBuV/m": "dBuV/m", "dB": "dB"}

RuleWord = Literal[
    "spacing",
    "product",
    "other",
    "tv",
    "block",
    "permit",
    "power",
    "bandwidth",
    "grid",
    "tuning",
    "hold",
    "noise",
    "unmeasured",
    "unit",
    "time",
]


class Model(BaseModel):
    """A part of a document: frozen, and nothing in it that is not described."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @field_validator("*", mode="before")
    @classmethod
    def _writable(cls, value: Any) -> Any:
        """Put ? where a file's name is no Unicode: JSON is UTF-8 and cannot hold it."""
        if isinstance(value, str):
            return value.encode(errors="replace").decode()
        if isinstance(value, list | tuple) and any(isinstance(item, str) for item in value):
            return type(value)([cls._writable(item) for item in value])
        return value


class SweepFactsModel(Model):
    """How a sweep was made; null is what nobody stated.

    `rbw_from` says where the resolution bandwidth comes from, `gain_ahead_db` lies between antenna and instrument.
    """

    unit: Unit
    rbw_khz: Number | None
    rbw_from: RbwOrigin | None
    started: str | None
    ended: str | None
    duration_s: Number | None
    place: str | None
    antenna: str | None
    gain_ahead_db: Number | None
    own_transmitters: str
    trace: str | None

    @classmethod
    def facts_of(cls, sweep: Sweep) -> dict[str, Any]:
        """Return these facts of a sweep."""
        duration = sweep.duration
        return {
            "unit": UNITS[sweep.unit],
            "rbw_khz": None if sweep.rbw_hz is None else sweep.rbw_hz / 1000,
            "rbw_from": sweep.rbw_origin,
            "started": None if sweep.started is None else sweep.started.isoformat(timespec="seconds"),
            "ended": None if sweep.ended is None else sweep.ended.isoformat(timespec="seconds"),
            "duration_s": None if duration is None else duration.total_seconds(),
            "place": sweep.place,
            "antenna": sweep.antenna,
            "gain_ahead_db": sweep.gain_ahead_db,
            "own_transmitters": sweep.own_transmitters,
            "trace": sweep.trace,
        }


class Input(Model):
    """A file that an answer stands on."""

    name: str
    sha256: str

    def of_sweep(self, sweep: Sweep) -> SweepInput:
        """Return the same file as that of a sweep."""
        facts = SweepFactsModel(**SweepFactsModel.facts_of(sweep))
        return SweepInput(name=self.name, sha256=self.sha256, sweep=facts)


class SweepInput(Input):
    """A sweep file that an answer stands on, and how the sweep was made."""

    sweep: SweepFactsModel


class Warned(Model):
    """Something a reader must know though nothing failed."""

    code: str
    text: str
    where: str | None


class Run(Model):
    """How a search went. Two answers to the same question are equal but for this."""

    seed: int
    stopped: str
    seconds: Number


class Document(Model):
    """The head of every output; each document says which `schema` it has."""

    schema_: str = Field(alias="schema")
    program: str = PROGRAM
    inputs: tuple[SweepInput | Input, ...]
    warnings: tuple[Warned, ...]


def khz(hz: int | None) -> int | float | None:
    """Return Hz as a number of kHz that prints exactly; None stays None.

    >>> khz(350_000), khz(12_500)
    (350, 12.5)
    """
    if hz is None:
        return None
    return hz / HZ_PER_KHZ if hz % HZ_PER_KHZ else hz // HZ_PER_KHZ


def level(value: float | None) -> float | None:
    """Return a level to a hundredth of a dB; one that is no number is not known."""
    return round(float(value), 2) if value is not None and math.isfinite(value) else None


def plain(value: float | None) -> int | float | None:
    """Return a number as people state it: 50, not 50.0."""
    return int(value) if value is not None and float(value).is_integer() else value


def warned(warnings: Iterable[Warn]) -> tuple[Warned, ...]:
    """Return warnings as parts of a document."""
    return tuple(Warned(code=item.code, text=item.text, where=item.where) for item in warnings)
