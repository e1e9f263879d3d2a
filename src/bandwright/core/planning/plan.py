"""A plan: carriers for all links, spare carriers, and the evidence for each."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

__all__ = [
    "AtAntenna",
    "Beside",
    "Bound",
    "BoundStatus",
    "CarrierToInterference",
    "Closest",
    "Conflict",
    "Culprit",
    "Gap",
    "Kept",
    "Moved",
    "Noise",
    "NoiseState",
    "Note",
    "PlacedLink",
    "Plan",
    "PlanLevels",
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
class AtAntenna:
    """What a calibrated sweep tells of the levels at its antenna over the occupied bandwidth, gain ahead taken out.

    `outside_dbm` is the highest level without the instrument's own noise (None where nothing is left), `depth_dbm`
    that noise, `bears_dbm` the highest level that the receiver can bear and `bears_because` what that rests on.
    """

    outside_dbm: float | None
    depth_dbm: float | None
    bears_dbm: float | None
    bears_because: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Highest level over the occupied bandwidth; `value` is None where nothing was measured.

    `sweep` is the one of several that says the worst of the carrier, `sweep_started` when it began, by the clock there.
    `at_antenna` is None where the sweep is not calibrated.
    """

    state: NoiseState
    value: float | None = None
    unit: str | None = None
    over_hz: int | None = None
    above_floor_db: float | None = None
    sweep: str | None = None
    sweep_started: datetime | None = None
    at_antenna: AtAntenna | None = None


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
class Note:
    """Something worth knowing about a link that breaks no rule and is no caution; `sources` are whom it is about."""

    code: str
    text: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A fact that is missing: the table and key to fill in, and what counts in its place until then."""

    table: str
    id: str
    key: str
    meanwhile: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Culprit:
    """What adds most to the interference at a link's receiver; `family` is None for another carrier itself.

    `made` is sent, receiver or transmitter; `level_dbm` is the part that falls into the receiver's bandwidth.
    """

    family: str | None
    made: str
    sources: tuple[str, ...]
    product_hz: int
    offset_hz: int
    level_dbm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierToInterference:
    """Predicted carrier to interference of a link, in dB; None where nothing falls into its receiver's bandwidth.

    `worst_db` has every culprit at its nearest and the link at its farthest, with levels in dBm at the antenna;
    `quantile_db` is what 95 of 100 stage pictures keep, `median_db` what half of them do. `needs_db` is what the
    receiver needs, by its radio type or (not `needs_stated`) by common practice.
    """

    worst_db: float | None
    quantile_db: float | None
    median_db: float | None
    needs_db: float
    needs_stated: bool
    wanted_dbm: float
    interference_dbm: float | None
    culprit: Culprit | None

    @property
    def margin_db(self) -> float | None:
        """What 95 of 100 pictures keep over what is needed; None where nothing interferes."""
        return None if self.quantile_db is None else self.quantile_db - self.needs_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Interference at a link (`victim`) that is too strong only while two packs are side by side."""

    one: str
    two: str
    victim: str
    product_hz: int
    level_dbm: float
    ratio_db: float
    needs_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLevels:
    """What the levels of a plan stand on: how many pictures were drawn, and what is missing.

    `worst_db` is the lowest worst carrier to interference of all links, None where nothing interferes or nothing is
    known; `unknown` lists the links for which nothing can be told.
    """

    pictures: int
    worst_db: float | None
    side_by_side: tuple[Beside, ...]
    unknown: tuple[str, ...]
    missing: tuple[Gap, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLink:
    """A link with its carrier and evidence. `cautions` holds short stable codes.

    `was_hz` is its carrier in the plan that this one is to keep to; None where it had none, or there is no such plan.
    """

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
    notes: tuple[Note, ...] = ()
    was_hz: int | None = None
    carrier_to_interference: CarrierToInterference | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """A spare carrier for one radio type, clean together with everything. `was_hz` as for a link."""

    id: str
    radio: str
    carrier_hz: int
    preset: str | None = None
    tv_channel: str | None = None
    permit: str | None = None
    noise: Noise | None = None
    was_hz: int | None = None


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
class Conflict:
    """Links (ids, spare carriers among them) that are not placed at once, while any one fewer of them are.

    `proven` tells whether no carriers for all of them exist, or none were found. Each of the `remedies` is one change
    under which carriers for all of them were found; `text` says it all in a sentence or two.
    """

    links: tuple[str, ...]
    proven: bool
    remedies: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """How good a plan is: what was found, and what is proven about more."""

    about: str
    status: BoundStatus
    found: int
    upper_bound: int | None
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A link, or a spare carrier, that is not on its earlier carrier; `to_hz` is None where it has none now."""

    id: str
    from_hz: int
    to_hz: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a plan keeps of an earlier one, which is called `of`.

    `had` counts the carriers it had for links and spare carriers of the brief as it is now; `new` are placed and had
    none. Proven: no plan that places as much keeps more. Found: none was found that does.
    """

    of: str
    status: BoundStatus
    had: int
    moved: tuple[Moved, ...]
    new: tuple[str, ...]

    @property
    def kept(self) -> int:
        """How many are on their earlier carriers."""
        return self.had - len(self.moved)


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
    """Something a reader must know though nothing failed.

    `text` reads well on paper, on pages and in JSON; `command` says what to type, for who sits at a command line.
    """

    code: str
    text: str
    where: str | None = None
    command: str | None = None

    @property
    def in_terminal(self) -> str:
        """The text, and what to type where there is something."""
        return self.text if self.command is None else f"{self.text} {self.command}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Carriers for all links, spare carriers and evidence; `number` counts the plans of one job from 1."""

    number: int
    links: tuple[PlacedLink, ...]
    spares: tuple[Spare, ...]
    unplaced: tuple[Unplaced, ...]
    bound: Bound
    conflicts: tuple[Conflict, ...] = ()
    kept: Kept | None = None
    levels: PlanLevels | None = None
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
