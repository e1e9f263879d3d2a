"""When sound arrives: air, link, and the way behind it; what different times do in one mix, and what evens them out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bandwright.core.kit import Direction
from bandwright.core.reach.facts import Gap
from bandwright.core.sound.facts import WayFacts
from bandwright.core.sound.levels import sound_speed_m_per_s

__all__ = [
    "USUAL_C",
    "Arrival",
    "Loop",
    "Member",
    "Together",
    "air_time_ms",
    "arrival_of",
    "comb_notches_hz",
    "loops",
    "together",
]

USUAL_C = 20.0
"""How warm it is when nobody says."""
_SAMPLE_RATE_HZ = 48_000  # in which delays are told where no device states one
_LEAST_MS = 0.01  # an earlier arrival has its first notch above hearing


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """How long one way takes, in ms: through the air to the microphone, over the link, behind it; None: not stated.

    `before_ms` is what a programme has behind it already.
    """

    facts: WayFacts
    air_ms: float | None
    before_ms: float | None
    link_ms: float | None
    behind_ms: float | None
    gaps: tuple[Gap, ...]

    @property
    def total_ms(self) -> float | None:
        """All of it, or None where the link's own latency is not stated."""
        if self.link_ms is None or self.air_ms is None:
            return None
        return self.air_ms + self.link_ms + (self.before_ms or 0.0) + (self.behind_ms or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One way among those that hear the same: by how much it is early, and what delay evens that out."""

    arrival: Arrival
    early_ms: float
    samples: int
    metres: float
    notches_hz: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """Ways that carry one and the same sound to one device.

    `notches_hz` of a member are those in a mix with the latest; `inverted` names links that turn the polarity against
    the others.
    """

    source: str
    device: str | None
    members: tuple[Member, ...]
    inverted: tuple[str, ...]
    sample_rate_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """What somebody hears of the own voice in the ear, by radio both ways."""

    wearer: str
    microphone: Arrival
    ear: Arrival

    @property
    def total_ms(self) -> float | None:
        """From the mouth to the ear, or None where one of the two is not stated."""
        one, two = self.microphone.total_ms, self.ear.total_ms
        return None if one is None or two is None else one + two


def arrival_of(facts: WayFacts) -> Arrival:
    """Return how long a way takes."""
    gaps: list[Gap] = []
    air_ms: float | None = 0.0
    if facts.acoustic:
        air_ms = None if facts.near_m is None else air_time_ms(facts.near_m, temperature_c=_warmth(facts))
    link_ms = _link_ms(facts, gaps)
    feed = facts.feed
    if feed is not None and feed.latency_ms is None and not facts.to_person:
        gaps.append(Gap(table="feed", id=feed.id, key="latency_ms", meanwhile="0 ms"))
    return Arrival(
        facts=facts,
        air_ms=air_ms,
        before_ms=facts.source.latency_ms if facts.source is not None else None,
        link_ms=link_ms,
        behind_ms=feed.latency_ms if feed is not None else None,
        gaps=tuple(gaps),
    )


def _link_ms(facts: WayFacts, gaps: list[Gap]) -> float | None:
    audio = facts.sending
    if audio is None or audio.latency_ms is None:
        gaps.append(Gap(table="radio", id=facts.ends[0].radio.id, key="audio.latency_ms"))
        return None
    return audio.latency_ms


def _warmth(facts: WayFacts) -> float:
    return USUAL_C if facts.temperature_c is None else facts.temperature_c


def air_time_ms(distance_m: float, *, temperature_c: float) -> float:
    """Return how long sound takes through the air.

    Examples
    --------
    >>> round(air_time_ms(1, temperature_c=20), 3)
    2.914
    """
    return distance_m / sound_speed_m_per_s(temperature_c) * 1000


def comb_notches_hz(delay_s: float, *, count: int = 3) -> tuple[float, ...]:
    """Return where two equal sounds cancel when one is later: the first `count` of (2 k + 1) / (2 t), up to 20 kHz.

    Examples
    --------
    >>> [round(one, 1) for one in comb_notches_hz(1 / 343.2, count=2)]
    [171.6, 514.8]
    """
    found = ((2 * number + 1) / (2 * delay_s) for number in range(count))
    return tuple(one for one in found if one <= 20_000)


def together(arrivals: Iterable[Arrival]) -> tuple[Together, ...]:
    """Return the groups of ways that carry one and the same source to one device, where there are two or more."""
    groups: dict[tuple[str, str | None], list[Arrival]] = {}
    for arrival in arrivals:
        source, feed = arrival.facts.source, arrival.facts.feed
        if source is not None and source.one:
            device = None if feed is None else feed.device or feed.id
            groups.setdefault((source.id, device), []).append(arrival)
    found = [(key, [one for one in group if one.total_ms is not None]) for key, group in groups.items()]
    return tuple(_group(source, device, group) for (source, device), group in found if len(group) > 1)


def _group(source: str, device: str | None, group: Sequence[Arrival]) -> Together:
    latest_ms = max(one.total_ms or 0.0 for one in group)
    rates = [one.facts.feed.sample_rate_hz for one in group if one.facts.feed is not None]
    rate_hz = next((rate for rate in rates if rate is not None), _SAMPLE_RATE_HZ)
    signs = {one.facts.link.id: one.facts.inverts for one in group}
    known = {link: sign for link, sign in signs.items() if sign is not None}
    odd = min((True, False), key=lambda sign: list(known.values()).count(sign))
    mixed = len(set(known.values())) > 1
    return Together(
        source=source,
        device=device,
        members=tuple(_member(one, latest_ms, rate_hz) for one in group),
        inverted=tuple(link for link, sign in known.items() if mixed and sign is odd),
        sample_rate_hz=rate_hz,
    )


def _member(arrival: Arrival, latest_ms: float, rate_hz: int) -> Member:
    early_ms = latest_ms - (arrival.total_ms or 0.0)
    return Member(
        arrival=arrival,
        early_ms=early_ms,
        samples=round(early_ms * rate_hz / 1000),
        metres=early_ms / 1000 * sound_speed_m_per_s(_warmth(arrival.facts)),
        notches_hz=comb_notches_hz(early_ms / 1000) if early_ms > _LEAST_MS else (),
    )


def loops(arrivals: Sequence[Arrival]) -> tuple[Loop, ...]:
    """Return the ways of the own voice back into the ear, for everybody who wears a microphone and an in-ear.

    A microphone with several feeds counts with the first.
    """
    ears = [one for one in arrivals if one.facts.link.radio.direction is Direction.TO_PERSON]
    voices = [one for one in arrivals if one.facts.link.radio.direction is not Direction.TO_PERSON]
    found: dict[tuple[str, str], Loop] = {}
    for ear in ears:
        for voice in voices:
            wearer = ear.facts.link.wearer
            if wearer is not None and wearer == voice.facts.link.wearer:
                key = (voice.facts.link.id, ear.facts.link.id)
                found.setdefault(key, Loop(wearer=wearer, microphone=voice, ear=ear))
    return tuple(found.values())
