"""What all outputs share: the head of a document, and values as programs read them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema

from bandwright import __version__
from bandwright.core.planning.plan import Warn
from bandwright.units import HZ_PER_KHZ

__all__ = [
    "PROGRAM",
    "Document",
    "Input",
    "Level",
    "Model",
    "Number",
    "RuleWord",
    "Run",
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

RuleWord = Literal[
    "spacing",
    "product",
    "other",
    "tv",
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


class Input(Model):
    """A file that an answer stands on."""

    name: str
    sha256: str


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
    inputs: tuple[Input, ...]
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
