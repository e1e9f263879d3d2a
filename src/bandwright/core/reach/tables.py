"""What the link budget looks up in shipped tables, as one frozen value that the caller brings."""

from __future__ import annotations

from dataclasses import dataclass, field

from bandwright.core.bands import Span
from bandwright.core.kit import Worn
from bandwright.core.reach.cable import Cable
from bandwright.core.reach.walls import Material

__all__ = ["BodyLoss", "PhoneBand", "PhoneBands", "ReachTables", "SiteClass"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteClass:
    """One row of the site-general indoor model: coefficients, and the ranges that they hold in."""

    name: str
    about: str
    alpha: float
    beta: float
    gamma: float
    sigma_db: float
    low_ghz: float
    high_ghz: float
    least_m: float
    most_m: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyLoss:
    """What the body takes from a signal, by where the transmitter or receiver is worn."""

    worn: Worn
    least_db: float
    typical_db: float
    most_db: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneBand:
    """Where hand-held phones send, and where base stations do."""

    name: str
    phones: Span
    bases: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneBands:
    """Bands of phones, and the most that a phone sends."""

    bands: tuple[PhoneBand, ...] = ()
    phone_dbm: float = 23.0
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachTables:
    """Cables, building materials, indoor classes, body losses and bands of phones."""

    cables: tuple[Cable, ...] = ()
    materials: tuple[Material, ...] = ()
    site_classes: tuple[SiteClass, ...] = ()
    body: tuple[BodyLoss, ...] = ()
    phones: PhoneBands = field(default_factory=PhoneBands)

    def cable(self, name: str) -> Cable:
        """Return a cable by its name; raises KeyError when there is none."""
        return {cable.name: cable for cable in self.cables}[name]

    def material(self, name: str) -> Material:
        """Return a material by its name; raises KeyError when there is none."""
        return {material.name: material for material in self.materials}[name]

    def body_loss(self, worn: Worn) -> BodyLoss:
        """Return the body loss of a way of wearing; raises KeyError when the tables have none."""
        return {item.worn: item for item in self.body}[worn]
