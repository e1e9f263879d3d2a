"""What may be used: permits, their power limits, and how a power is compared with one."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.bands import Span, joined
from bandwright.core.kit import PowerKind, Worn
from bandwright.core.when import TimeSpan

__all__ = ["Permit", "PermitState", "PowerLimit"]


class PermitState(StrEnum):
    """How far the permission has come; only `granted` and `exempt` allow a carrier on the air."""

    APPLIED = "applied"
    GRANTED = "granted"
    EXEMPT = "exempt"


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLimit:
    """The most power a permit allows, by how the transmitter is worn; None where it states nothing."""

    kind: PowerKind
    any_mw: float | None = None
    bodyworn_mw: float | None = None
    handheld_mw: float | None = None

    def for_worn(self, worn: Worn) -> float | None:
        """Return the limit in mW for a way of wearing; the general limit where no special one is stated."""
        special = {Worn.BODY: self.bodyworn_mw, Worn.HAND: self.handheld_mw}.get(worn)
        return special if special is not None else self.any_mw


@dataclass(frozen=True, slots=True, kw_only=True)
class Permit:
    """Windows in frequency with the terms under which they may be used.

    `windows` are kept rising, and joined where they touch or overlap: a carrier may lie across the edge of two.
    `confirmed` is False for figures copied from a shipped table that nobody has held against the regulator's text;
    such a permit never makes a carrier "legal". `grid_hz` with `grid_anchor_hz` restricts carriers to anchor + k grid.
    """

    id: str
    reference: str
    state: PermitState
    windows: tuple[Span, ...]
    closed: tuple[Span, ...] = ()
    max_bandwidth_hz: int | None = None
    max_power: PowerLimit | None = None
    place: str | None = None
    valid: tuple[TimeSpan, ...] = ()
    grid_hz: int | None = None
    grid_anchor_hz: int = 0
    inside_carrier: bool = False
    confirmed: bool = True
    source: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "windows", joined(self.windows))
