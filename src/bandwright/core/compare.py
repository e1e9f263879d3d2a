"""Two sweeps of one place: levels aligned, and what is new, what went and what got noisier."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from bandwright.core.air import NEAR_HZ, StrayCarrier, stray_carriers
from bandwright.core.bands import Span, TvRaster
from bandwright.core.multiplex import SKIRT_DB, SKIRT_HZ, TvFinding, TvVerdict, tv_findings
from bandwright.core.runs import runs_of
from bandwright.core.sweep import ChannelLevels, Sweep, channel_levels

__all__ = ["AirChange", "AirComparison", "AlignedBy", "Alignment", "ChangeKind", "ChangeOf", "compare_air"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

_SLICE_HZ = 200_000
_SIGNAL_DB = 10.0  # above the floor in both: a signal to align by
_LEAST_SIGNALS = 10
_MOST_SPREAD_DB = 4.0
_LEAST_QUIET = 20
_CARRIER_RISE_DB = 6.0
_NOISE_RISE_DB = 3.0
_SEEN_DB = 3.0


class AlignedBy(StrEnum):
    """What the levels of two sweeps were aligned by."""

    SIGNALS = "signals in both"
    FLOORS = "noise floors"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """`offset_db` is what the new sweep reads more than the old one of the same air; `spread_db` its median deviation.

    `floor_rise_db` is by how much the aligned floor is higher: instrument or air. None where nothing tells.
    """

    by: AlignedBy
    offset_db: float | None
    spread_db: float | None
    floor_rise_db: float | None


class ChangeKind(StrEnum):
    """What happened to something between two sweeps."""

    NEW = "new"
    UNKNOWN_BEFORE = "not known before"
    GONE = "gone"
    NOISIER = "noisier"


class ChangeOf(StrEnum):
    """What changed."""

    CARRIER = "carrier"
    MULTIPLEX = "multiplex"
    STRETCH = "stretch"


@dataclass(frozen=True, slots=True, kw_only=True)
class AirChange:
    """Something that changed; levels are those of each sweep as it read them, None where it shows none.

    `rise_db` is the aligned rise, or that of the levels as read where nothing aligns two sweeps in one unit.
    `channel` is the TV channel of a multiplex.
    """

    kind: ChangeKind
    of: ChangeOf
    low_hz: float
    high_hz: float
    centre_hz: float
    old_db: float | None = None
    new_db: float | None = None
    rise_db: float | None = None
    channel: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AirComparison:
    """Two sweeps and every change from the old to the new one, rising in frequency."""

    old: Sweep
    new: Sweep
    alignment: Alignment
    changes: tuple[AirChange, ...]


def compare_air(old: Sweep, new: Sweep, *, raster: TvRaster | None = None) -> AirComparison:
    """Return what changed from one sweep to another of the same place.

    The new levels are aligned with the old ones by the median difference over slices of 200 kHz: of signals that both
    show 10 dB above their floors (10 slices, which agree to 4 dB), or else of what is quiet in both.

    new, gone
        a carrier or multiplex that one sweep shows and the other, measured there and deep enough, does not.
    not known before
        the old sweep did not measure there, or its floor was too high to show it.
    noisier
        a carrier or multiplex 6 dB above what it was, or a stretch of 200 kHz or more that is 3 dB above what it was
        and above its own floor. Where one floor rises as a whole, `floor_rise_db` says so.

    Where nothing aligns them, levels in one unit are compared as read; in two units no rise is known, so that no
    carrier that only one of them shows is new for sure, or gone. The limits are common practice.
    """
    tv = (_findings(old, raster), _findings(new, raster))
    slices = _slices(old, new)
    before, after = (channel_levels(sweep, carriers_hz=slices, bandwidth_hz=_SLICE_HZ) for sweep in (old, new))
    alignment = _alignment(before, after)
    shift_db = 0.0 if alignment.offset_db is None and old.unit == new.unit else alignment.offset_db
    changes = [*_tv_changes(*tv, shift_db), *_carrier_changes(old, new, tv, shift_db)]
    changes += _stretches(before, after, alignment, changes, _skirts(tv[1], after))
    return AirComparison(
        old=old, new=new, alignment=alignment, changes=tuple(sorted(changes, key=lambda change: change.low_hz))
    )


def _findings(sweep: Sweep, raster: TvRaster | None) -> dict[str, TvFinding]:
    return {item.channel.label: item for item in tv_findings(sweep, raster)} if raster is not None else {}


def _slices(old: Sweep, new: Sweep) -> npt.NDArray[np.int64]:
    low, high = max(old.low_hz, new.low_hz), min(old.high_hz, new.high_hz)
    return np.arange(round(low) + _SLICE_HZ // 2, max(round(high) - _SLICE_HZ // 2, 0) + 1, _SLICE_HZ, dtype=np.int64)


def _alignment(before: ChannelLevels, after: ChannelLevels) -> Alignment:
    rise = after.typical_db - before.typical_db
    with np.errstate(invalid="ignore"):
        loud = [levels.typical_db - levels.typical_floor_db >= _SIGNAL_DB for levels in (before, after)]
        calm = [levels.typical_db - levels.typical_floor_db < _SEEN_DB for levels in (before, after)]
    floors = after.typical_floor_db - before.typical_floor_db
    choices = (
        (AlignedBy.SIGNALS, rise[loud[0] & loud[1]], _LEAST_SIGNALS, _MOST_SPREAD_DB),
        (AlignedBy.FLOORS, rise[calm[0] & calm[1]], _LEAST_QUIET, np.inf),
    )
    for by, values, least, most_db in choices:
        if values.size < least:
            continue
        offset_db = float(np.median(values))
        spread_db = float(np.median(np.abs(values - offset_db)))
        if spread_db <= most_db:
            known = floors[np.isfinite(floors)]
            floor_rise_db = float(np.median(known)) - offset_db if known.size else None
            return Alignment(by=by, offset_db=offset_db, spread_db=spread_db, floor_rise_db=floor_rise_db)
    return Alignment(by=AlignedBy.NOTHING, offset_db=None, spread_db=None, floor_rise_db=None)


def _rise_db(old_db: float | None, new_db: float | None, shift_db: float | None) -> float | None:
    if old_db is None or new_db is None or shift_db is None:
        return None
    return new_db - old_db - shift_db


def _tv_changes(old: dict[str, TvFinding], new: dict[str, TvFinding], shift_db: float | None) -> Iterator[AirChange]:
    for label in dict.fromkeys((*old, *new)):
        before, after = old.get(label), new.get(label)
        was = before is not None and before.verdict is TvVerdict.TAKEN
        now = after is not None and after.verdict is TvVerdict.TAKEN
        kind = _tv_kind(before, after, was=was, now=now)
        found = after if now else before
        if found is None:
            continue
        old_db = before.level_db if before is not None and was else None
        new_db = after.level_db if after is not None and now else None
        rise_db = _rise_db(old_db, new_db, shift_db)
        if rise_db is not None and rise_db >= _CARRIER_RISE_DB:
            kind = ChangeKind.NOISIER
        if kind is None:
            continue
        span = found.channel.span
        yield AirChange(
            kind=kind,
            of=ChangeOf.MULTIPLEX,
            low_hz=span.low_hz,
            high_hz=span.high_hz,
            centre_hz=(span.low_hz + span.high_hz) / 2,
            old_db=old_db,
            new_db=new_db,
            rise_db=rise_db,
            channel=label,
        )


def _tv_kind(before: TvFinding | None, after: TvFinding | None, *, was: bool, now: bool) -> ChangeKind | None:
    if now and not was:
        unknown = before is None or before.verdict is TvVerdict.UNMEASURED
        return ChangeKind.UNKNOWN_BEFORE if unknown else ChangeKind.NEW
    if was and not now and after is not None and after.verdict is not TvVerdict.UNMEASURED:
        return ChangeKind.GONE
    return None


def _carrier_changes(
    old: Sweep, new: Sweep, tv: Sequence[dict[str, TvFinding]], shift_db: float | None
) -> Iterator[AirChange]:
    taken = [item.channel.span for side in tv for item in side.values() if item.verdict is TvVerdict.TAKEN]
    outside = list(dict.fromkeys(taken))
    before, after = stray_carriers(old, outside=outside), stray_carriers(new, outside=outside)
    for carrier in after:
        twin = _twin(carrier, before)
        if twin is None:
            shown = shift_db is not None and _would_show(old, carrier, carrier.level_db - shift_db)
            kind = ChangeKind.NEW if shown else ChangeKind.UNKNOWN_BEFORE
            yield _carrier_change(kind, carrier, new_db=carrier.level_db)
            continue
        rise_db = _rise_db(twin.level_db, carrier.level_db, shift_db)
        if rise_db is not None and rise_db >= _CARRIER_RISE_DB:
            yield _carrier_change(
                ChangeKind.NOISIER, carrier, old_db=twin.level_db, new_db=carrier.level_db, rise_db=rise_db
            )
    if shift_db is None:
        return
    for carrier in before:
        if _twin(carrier, after) is None and _would_show(new, carrier, carrier.level_db + shift_db):
            yield _carrier_change(ChangeKind.GONE, carrier, old_db=carrier.level_db)


def _carrier_change(
    kind: ChangeKind,
    carrier: StrayCarrier,
    *,
    old_db: float | None = None,
    new_db: float | None = None,
    rise_db: float | None = None,
) -> AirChange:
    return AirChange(
        kind=kind,
        of=ChangeOf.CARRIER,
        low_hz=carrier.centre_hz - carrier.width_hz / 2,
        high_hz=carrier.centre_hz + carrier.width_hz / 2,
        centre_hz=carrier.centre_hz,
        old_db=old_db,
        new_db=new_db,
        rise_db=rise_db,
    )


def _twin(carrier: StrayCarrier, others: Sequence[StrayCarrier]) -> StrayCarrier | None:
    """Return the carrier of the other sweep that is this one; the nearest."""

    def apart(other: StrayCarrier) -> float:
        return abs(other.centre_hz - carrier.centre_hz)

    near = [one for one in others if apart(one) <= max(one.width_hz, carrier.width_hz) / 2 + NEAR_HZ]
    return min(near, key=apart, default=None)


def _would_show(sweep: Sweep, carrier: StrayCarrier, level_db: float) -> bool:
    """Whether a sweep measured there, with a floor low enough to show a carrier of this level."""
    width_hz = max(1, round(carrier.width_hz))
    levels = channel_levels(sweep, carriers_hz=[round(carrier.centre_hz)], bandwidth_hz=width_hz)
    return bool(levels.measured[0] and level_db >= levels.floor_db[0] + _SEEN_DB)


def _skirts(found: dict[str, TvFinding], levels: ChannelLevels) -> Flags:
    """Return the slices beside a multiplex that lie 30 dB below it: its own skirts, which vary."""
    skirts = np.zeros(levels.measured.shape, dtype=np.bool_)
    for item in found.values():
        if item.verdict is not TvVerdict.TAKEN:
            continue
        span = item.channel.span
        inside = (levels.carriers_hz > span.low_hz) & (levels.carriers_hz < span.high_hz)
        known = levels.typical_db[inside & levels.measured]
        beside = (levels.carriers_hz > span.low_hz - SKIRT_HZ) & (levels.carriers_hz < span.high_hz + SKIRT_HZ)
        if known.size:
            with np.errstate(invalid="ignore"):
                skirts |= beside & (levels.typical_db < np.median(known) - SKIRT_DB)
    return skirts


def _stretches(
    before: ChannelLevels,
    after: ChannelLevels,
    alignment: Alignment,
    changes: Sequence[AirChange],
    skirts: Flags,
) -> list[AirChange]:
    """Return the stretches that got noisier and are none of the other changes."""
    if alignment.offset_db is None:
        return []
    rise = after.typical_db - before.typical_db - alignment.offset_db
    with np.errstate(invalid="ignore"):
        risen = (rise >= _NOISE_RISE_DB) & (after.typical_db - after.typical_floor_db >= _SEEN_DB)
    risen &= ~skirts
    centres = after.carriers_hz
    for change in changes:
        risen &= ~((centres + _SLICE_HZ > change.low_hz) & (centres - _SLICE_HZ < change.high_hz))
    return [_stretch(before, after, rise, slice(first, end)) for first, end in runs_of(risen)]


def _stretch(before: ChannelLevels, after: ChannelLevels, rise: Floats, part: slice) -> AirChange:
    span = Span(int(after.carriers_hz[part][0]) - _SLICE_HZ // 2, int(after.carriers_hz[part][-1]) + _SLICE_HZ // 2)
    return AirChange(
        kind=ChangeKind.NOISIER,
        of=ChangeOf.STRETCH,
        low_hz=span.low_hz,
        high_hz=span.high_hz,
        centre_hz=(span.low_hz + span.high_hz) / 2,
        old_db=float(np.median(before.typical_db[part])),
        new_db=float(np.median(after.typical_db[part])),
        rise_db=float(np.median(rise[part])),
    )
