"""What changed between two sweeps, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bandwright.core.compare import AirChange, AirComparison, ChangeKind, ChangeOf
from bandwright.core.own_signals import OwnSignal, Touched
from bandwright.core.planning.plan import Warn
from bandwright.core.words import one_line
from bandwright.sheets.terminal import wrapped
from bandwright.units import HZ_PER_MHZ, mhz_text

__all__ = ["compare_text"]

_MOST_LINES = 24


def compare_text(
    comparison: AirComparison,
    owners: Sequence[OwnSignal | None],
    touched: Sequence[Touched],
    *,
    links: int,
    warnings: Sequence[Warn] = (),
    columns: int = 100,
) -> str:
    """Return what changed, what it touches of so many links with a carrier, and how levels were aligned."""
    width = max(columns, 50)
    lines = [one_line(f"{comparison.old.name} -> {comparison.new.name}"), *_alignment(comparison, width)]
    if links:
        lines += ["", "Links", *_links(touched, links, width)]
    for kind in ChangeKind:
        found = [(c, o) for c, o in zip(comparison.changes, owners, strict=True) if c.kind is kind]
        if found:
            lines += ["", kind.value.capitalize(), *_changes(found, comparison)]
    if not comparison.changes:
        lines += ["", "Nothing is new, nothing went, and nothing got noisier."]
    for warning in warnings:
        lines += ["", *wrapped(warning.in_terminal, width, first="Note: ")]
    return "\n".join(lines) + "\n"


def _alignment(comparison: AirComparison, width: int) -> Iterable[str]:
    alignment = comparison.alignment
    if alignment.offset_db is None and comparison.old.unit != comparison.new.unit:
        text = "The two share too little to align their levels, which are in two units: no rise is known."
    elif alignment.offset_db is None:
        text = "The two share too little to align their levels: rises may be the instruments'."
    else:
        text = f"Levels aligned by {alignment.by.value}: the new sweep reads {_signed(alignment.offset_db)} dB"
        if alignment.floor_rise_db is not None and abs(alignment.floor_rise_db) >= 1:
            text += f"; its floor is then {_signed(alignment.floor_rise_db)} dB, by its instrument or the air"
        text += "."
    return wrapped(f"{text} Own transmitters in the new sweep: {comparison.new.own_transmitters}.", width, first="  ")


def _signed(db: float) -> str:
    """Return a difference with its sign; none where it rounds to nothing."""
    return f"{db:+.1f}" if round(db, 1) else "0.0"


def _links(touched: Sequence[Touched], links: int, width: int) -> Iterable[str]:
    for item in touched:
        mark = "INTRUDER" if item.intruder else "touched"
        yield from wrapped(f"{mark}: {item.text}", width, first=f"  {item.link} {mhz_text(item.carrier_hz)} MHz  ")
    rest = links - len(touched)
    if rest:
        yield f"  nothing touches {'the other ' if touched else ''}{rest} {'link' if rest == 1 else 'links'}"


def _changes(found: Sequence[tuple[AirChange, OwnSignal | None]], comparison: AirComparison) -> Iterable[str]:
    units = comparison.old.unit, comparison.new.unit
    how = "as read" if comparison.alignment.offset_db is None else "aligned"
    for change, owner in found[:_MOST_LINES]:
        where = f"TV {change.channel}" if change.channel is not None else f"{change.centre_hz / HZ_PER_MHZ:.3f} MHz"
        if change.of is ChangeOf.STRETCH:
            where = f"{change.low_hz / HZ_PER_MHZ:.3f}-{change.high_hz / HZ_PER_MHZ:.3f} MHz"
        read = zip((change.old_db, change.new_db), units, strict=True)
        levels = [f"{value:.1f} {unit}" for value, unit in read if value is not None]
        rise = f", {change.rise_db:+.1f} dB {how}" if change.rise_db is not None else ""
        whose = f"  {owner.words}" if owner is not None else ""
        yield f"  {change.of.value:<10} {where:<24} {' -> '.join(levels)}{rise}{whose}"
    if len(found) > _MOST_LINES:
        yield f"  and {len(found) - _MOST_LINES} more"
