"""A plan: carriers for all links, spare carriers, and the evidence for each."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

__all__ = [
    "Bound",
    "BoundStatus",
    "Closest",
    "Noise",
    "NoiseState",
    "PlacedLink",
    "Plan",
    "Reason",
    "Spare",
    "Status",
    "Unplaced",
    "Violation",
    "Warn",
    "check_phrase",
]


class Status(StrEnum):
    """How a placed link stands."""

    CLEAR = "clear"
    CAUTION = "caution"
    BLOCKED = "blocked"


class NoiseState(StrEnum):
    """What the sweeps say about a carrier's occupied bandwidth."""

    QUIET = "quiet"
    NOISY = "noisy"
    SHALLOW = "not deep enough"
    UNMEASURED = "not measured"


class BoundStatus(StrEnum):
    """How sure a statement about a plan is."""

    PROVEN = "proven"
    BOUNDED = "bounded"
    FOUND = "found"


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Highest level over the occupied bandwidth; `value` is None where nothing was measured."""

    state: NoiseState
    value: float | None = None
    unit: str | None = None
    over_hz: int | None = None
    above_floor_db: float | None = None
    sweep: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Closest:
    """The rule with the smallest slack for a link. Offsets in Hz; slack = offset - required."""

    rule: str
    family: str | None
    sources: tuple[str, ...]
    product_hz: int | None
    offset_hz: int
    required_hz: int
    level_dbm: float | None = None

    @property
    def slack_hz(self) -> int:
        """Offset minus what the rule asks."""
        return self.offset_hz - self.required_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLink:
    """A link with its carrier and evidence. `cautions` holds short stable codes."""

    id: str
    name: str
    radio: str
    carrier_hz: int
    status: Status
    cautions: tuple[str, ...] = ()
    permit: str | None = None
    tv_channel: str | None = None
    power_mw: float | None = None
    preset: str | None = None
    noise: Noise | None = None
    closest: Closest | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """A spare carrier for one radio type, clean together with everything."""

    id: str
    radio: str
    carrier_hz: int
    preset: str | None = None
    tv_channel: str | None = None
    permit: str | None = None
    noise: Noise | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a link has no carrier: a stable code and a sentence."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplaced:
    """A link (or a wished spare carrier) for which no carrier exists under the rules."""

    id: str
    name: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """How good a plan is: what was found, and what is proven about more."""

    about: str
    status: BoundStatus
    found: int
    upper_bound: int | None
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Violation:
    """One rule that a list of carriers breaks. `rule` is one of the words of the `check` document."""

    rule: str
    victim: str
    sources: tuple[str, ...] = ()
    family: str | None = None
    product_hz: int | None = None
    offset_hz: int | None = None
    required_hz: int | None = None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Warn:
    """Something a reader must know though nothing failed."""

    code: str
    text: str
    where: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Carriers for all links, spare carriers and evidence; `number` counts the plans of one job from 1."""

    number: int
    links: tuple[PlacedLink, ...]
    spares: tuple[Spare, ...]
    unplaced: tuple[Unplaced, ...]
    bound: Bound
    warnings: tuple[Warn, ...] = ()

    @property
    def check_phrase(self) -> str:
        """Two speakable words that change when any carrier does."""
        placed = [(link.id, link.carrier_hz) for link in self.links]
        return check_phrase([*placed, *((spare.id, spare.carrier_hz) for spare in self.spares)])


_CONSONANTS = "bdfghjklmnprstvz"
_VOWELS = "aiou"


def check_phrase(carriers: Iterable[tuple[str, int]]) -> str:
    """Return two speakable words of five letters made from the ids and carriers, in any order.

    32 bits of SHA-256, each 16 bits written as consonant-vowel-consonant-vowel-consonant.

    >>> check_phrase([("L01", 606_700_000)]) == check_phrase([("L01", 606_725_000)])
    False
    """
    text = "\n".join(f"{name}={hz}" for name, hz in sorted(carriers))
    digest = hashlib.sha256(text.encode()).digest()
    return f"{_word(digest[0] << 8 | digest[1])}-{_word(digest[2] << 8 | digest[3])}"


def _word(bits: int) -> str:
    return "".join(
        (
            _CONSONANTS[bits >> 12 & 15],
            _VOWELS[bits >> 10 & 3],
            _CONSONANTS[bits >> 6 & 15],
            _VOWELS[bits >> 4 & 3],
            _CONSONANTS[bits & 15],
        )
    )
