"""What a receiver hears beside its carrier because of how it is made, and what it sends back into the antenna line.

A superheterodyne receiver mixes with an oscillator one intermediate frequency away from its carrier. It then also hears
what lies as far on the oscillator's other side (the image), and weakly what lies halfway to the oscillator; and some of
the oscillator leaks out of its antenna socket, into whatever shares the line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import occupied
from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link, LoSide, Other, RadioType
from bandwright.core.planning.carriers import closed_tv
from bandwright.core.planning.earshot import hears
from bandwright.core.planning.plan import Warn
from bandwright.core.reach.facts import runs_of
from bandwright.core.rig import Run
from bandwright.core.words import and_list
from bandwright.units import mhz_text

__all__ = [
    "Hit",
    "ReceiverResponse",
    "ResponseKind",
    "meets_others",
    "receiver_hits",
    "receiver_warnings",
    "responses_of",
]

FILTERED_DB = 60.0
"""From this much filtering ahead a response of a receiver is not told any more; common practice."""


class ResponseKind(StrEnum):
    """Where else than on its carrier a receiver hears or sends."""

    IMAGE = "image"
    HALF_IF = "half-if"
    LEAK = "lo-leak"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiverResponse:
    """A frequency at which a receiver hears, or sends, beside its carrier."""

    kind: ResponseKind
    at_hz: int
    if_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A receiver's response that meets a signal. `link` is whose receiver it is; `source` what it meets.

    For a leak `source` is the link that hears it. `lowered_db` is what filters ahead are stated to take away there.
    """

    kind: ResponseKind
    link: str
    source: str
    source_name: str
    at_hz: int
    if_hz: int
    lowered_db: float


def responses_of(radio: RadioType, carrier_hz: int) -> tuple[ReceiverResponse, ...]:
    """Return where a receiver on a carrier hears or sends beside it, as far as its intermediate frequencies are stated.

    ::

        f_LO = f +- f_IF,   f_image = f +- 2 f_IF,   f_half = f +- f_IF / 2

    with the sign of the oscillator's side; both where that is not stated. Of further intermediate frequencies only the
    images are told, on both sides: their oscillators lie inside the box.

    References
    ----------
    D. M. Pozar, Microwave Engineering, 4th ed., sections 10.3 and 13.5 (receiver architectures, image response); half
    the intermediate frequency is the second-order response 2 f_LO - 2 f.

    Examples
    --------
    >>> from bandwright.core.kit import Emission
    >>> radio = RadioType(id="x", name="x", direction=Direction.FROM_PERSON, emission=Emission.FM, spacing_hz=350_000,
    ...                   bandwidth_hz=200_000, clearance_hz=(), if_hz=(70_000_000,), lo_side=LoSide.BELOW)
    >>> [(item.kind.value, item.at_hz) for item in responses_of(radio, 606_700_000)]
    [('image', 466700000), ('half-if', 571700000), ('lo-leak', 536700000)]
    """
    signs = {LoSide.ABOVE: (1,), LoSide.BELOW: (-1,), LoSide.EITHER: (1, -1)}[radio.lo_side]
    found = []
    for number, if_hz in enumerate(radio.if_hz):
        first = number == 0
        sides = signs if first else (1, -1)
        found += [
            ReceiverResponse(kind=ResponseKind.IMAGE, at_hz=carrier_hz + s * 2 * if_hz, if_hz=if_hz) for s in sides
        ]
        if first:
            found += [
                ReceiverResponse(kind=ResponseKind.HALF_IF, at_hz=carrier_hz + s * if_hz // 2, if_hz=if_hz)
                for s in sides
            ]
            found += [
                ReceiverResponse(kind=ResponseKind.LEAK, at_hz=carrier_hz + s * if_hz, if_hz=if_hz) for s in sides
            ]
    return tuple(item for item in found if item.at_hz > 0)


def meets_others(job: Job, link: Link, carriers_hz: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Return on which carriers, in Hz, a link's receiver would hear another user or a closed TV channel; same shape.

    On its image or half its intermediate frequency away, as `receiver_hits` tells it; other links are left out.
    """
    met = np.zeros(carriers_hz.shape, np.bool_)
    others = [other for other in job.others if hears(job, link, other)] if link.radio.if_hz else []
    shut = [channel.span for place in job.places_of(link) for channel in closed_tv(place) if channel.use == "tv"]
    runs = runs_of(job, link) if link.radio.direction is not Direction.TO_PERSON else ()
    for response in responses_of(link.radio, _FAR_HZ):
        if response.kind is ResponseKind.LEAK:
            continue
        offset_hz, wide_hz = response.at_hz - _FAR_HZ, _wide_hz(link, response.kind)
        at_hz = carriers_hz + offset_hz
        heard = np.zeros(at_hz.shape, np.bool_)
        for other in others:
            heard |= np.abs(other.carrier_hz - at_hz) * 2 < wide_hz + other.bandwidth_hz
        for span in shut:
            heard |= (at_hz - wide_hz // 2 < span.high_hz) & (at_hz + wide_hz // 2 > span.low_hz)
        by_run = [_stopped_each_db(run, at_hz) for run in runs]
        lowered_db = np.min(by_run, axis=0) if by_run else np.zeros(at_hz.shape)
        met |= heard & (lowered_db + link.radio.selectivity_db(offset_hz) < FILTERED_DB)
    return met


_FAR_HZ = 10**12  # far above every offset, so that no response falls below 0 Hz


def _wide_hz(link: Link, kind: ResponseKind) -> int:
    """Return over how much spectrum a response hears: at half the intermediate frequency distances count twice."""
    return link.radio.bandwidth_hz if kind is ResponseKind.IMAGE else link.radio.bandwidth_hz // 2


def _stopped_each_db(run: Run, at_hz: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    lost = np.zeros(at_hz.shape)
    for part in run.parts:
        if part.passband is not None and part.stopband_db is not None:
            outside = (at_hz < part.passband.low_hz) | (at_hz > part.passband.high_hz)
            lost += np.where(outside, part.stopband_db, 0.0)
    return lost


def receiver_hits(job: Job, carriers_hz: Mapping[str, int]) -> Iterator[Hit]:
    """Yield every response of a link's receiver that meets another link, another user or a closed TV channel.

    A signal meets an image where the two bandwidths overlap. At half the intermediate frequency its deviation doubles
    and its distance too, so half the receiver's bandwidth counts. A leak meets a link within half its bandwidth, where
    one run, box or rack carries both.
    """
    placed = [link for link in job.links if link.id in carriers_hz]
    for link in placed:
        for response in responses_of(link.radio, carriers_hz[link.id]):
            lowered_db = _lowered_db(job, link, carriers_hz[link.id], response.at_hz)
            if response.kind is ResponseKind.LEAK:
                found = _leaks(job, link, placed, carriers_hz, response)
            elif lowered_db < FILTERED_DB:
                found = _heard(job, link, placed, carriers_hz, response)
            else:
                continue
            for source, name in found:
                lowered = 0.0 if response.kind is ResponseKind.LEAK else lowered_db
                yield Hit(
                    kind=response.kind,
                    link=link.id,
                    source=source,
                    source_name=name,
                    at_hz=response.at_hz,
                    if_hz=response.if_hz,
                    lowered_db=lowered,
                )


def _heard(
    job: Job, link: Link, placed: Sequence[Link], carriers_hz: Mapping[str, int], response: ReceiverResponse
) -> Iterator[tuple[str, str]]:
    wide_hz = _wide_hz(link, response.kind)
    signals: list[tuple[Link | Other, int, int]] = [
        (one, carriers_hz[one.id], one.radio.bandwidth_hz) for one in placed if one.id != link.id
    ]
    signals += [(other, other.carrier_hz, other.bandwidth_hz) for other in job.others]
    for signal, carrier_hz, bandwidth_hz in signals:
        if abs(carrier_hz - response.at_hz) * 2 < wide_hz + bandwidth_hz and hears(job, link, signal):
            yield signal.id, signal.name
    reached = occupied(response.at_hz, wide_hz)
    for channel in closed_tv(job.place_of(link)):
        if channel.use == "tv" and channel.span.overlaps(reached):
            yield f"TV {channel.label}", f"closed TV channel {channel.label}"


def _leaks(
    job: Job, link: Link, placed: Sequence[Link], carriers_hz: Mapping[str, int], response: ReceiverResponse
) -> Iterator[tuple[str, str]]:
    if link.radio.direction is Direction.TO_PERSON:
        return
    for other in placed:
        near = abs(carriers_hz[other.id] - response.at_hz) * 2 <= other.radio.bandwidth_hz
        inward = other.radio.direction is not Direction.TO_PERSON
        if near and inward and other.id != link.id and hears(job, link, other) and _one_line(job, link, other):
            yield other.id, other.name


def _one_line(job: Job, one: Link, two: Link) -> bool:
    """Whether a run feeds both, or they say that one box, rack or antenna serves both."""
    if {run.id for run in runs_of(job, one)} & {run.id for run in runs_of(job, two)}:
        return True
    units = {unit.id: unit for unit in job.units}
    names = []
    for link in (one, two):
        unit = units.get(link.unit or "")
        told = {link.unit, link.rack, link.antenna} | ({unit.rack, unit.antenna} if unit else set())
        names.append(told - {None})
    return bool(names[0] & names[1])


def _lowered_db(job: Job, link: Link, carrier_hz: int, at_hz: int) -> float:
    """Return what filters of the least filtering run, and the receiver's own, are stated to take at a frequency."""
    runs = runs_of(job, link) if link.radio.direction is not Direction.TO_PERSON else ()
    by_run = min((_stopped_db(run, at_hz) for run in runs), default=0.0)
    return by_run + link.radio.selectivity_db(at_hz - carrier_hz)


def _stopped_db(run: Run, at_hz: int) -> float:
    return sum(
        part.stopband_db
        for part in run.parts
        if part.passband is not None and part.stopband_db is not None and not part.passband.holds_hz(at_hz)
    )


# ---------------------------------------------------------------------------------------------------------- in words


def receiver_warnings(job: Job, carriers_hz: Mapping[str, int], *, about: str | None = None) -> Iterator[Warn]:
    """Yield, one sentence for each kind, where receivers hear or send beside their carriers; `about` names one link."""
    hits = [hit for hit in receiver_hits(job, carriers_hz) if about is None or about in (hit.link, hit.source)]
    for kind, told in _TOLD.items():
        ours = [hit for hit in hits if hit.kind is kind]
        if ours:
            texts = [_hit_text(hit) for hit in ours[:_MOST]]
            more = f", and {len(ours) - _MOST} more" if len(ours) > _MOST else ""
            names = list(dict.fromkeys(hit.link for hit in ours))
            yield Warn(code=kind.value, text=f"{told} {'; '.join(texts)}{more}.", where=and_list(names))


_MOST = 6  # told of each kind; the rest is counted
_TOLD = {
    ResponseKind.IMAGE: "A receiver also hears what lies on its image:",
    ResponseKind.HALF_IF: "A receiver may also hear what lies half its intermediate frequency away:",
    ResponseKind.LEAK: "The oscillator of one receiver leaks into another over the antenna line:",
}


def _hit_text(hit: Hit) -> str:
    name = hit.source if hit.source_name == hit.source else hit.source_name
    lowered = f", filters ahead lower it by {hit.lowered_db:.0f} dB" if hit.lowered_db >= 1 else ""
    meets = "reaches" if hit.kind is ResponseKind.LEAK else "hears"
    return f"{hit.link} {meets} {name} at {mhz_text(hit.at_hz)} MHz (IF {mhz_text(hit.if_hz)} MHz{lowered})"
