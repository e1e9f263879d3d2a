"""Touchstone files that a brief names, as the points that a job file keeps in their place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from bandwright.core.reach.parts import antenna_gain_dbi
from bandwright.core.rig import Antenna, Response
from bandwright.core.thin_curve import thinned
from bandwright.errors import InputError

__all__ = ["with_points"]

_WITHIN_DB = 0.01  # far below what any measurement of a cable or an antenna repeats to
_MOST_POINTS = 1000  # of one table, as a brief takes them

Read = Callable[[str, int], Response]


def with_points(tables: Mapping[str, Any], read: Read) -> dict[str, Any]:
    """Return the tables of a brief with `points` where it names Touchstone files, within 0.01 dB of them.

    Parameters
    ----------
    tables
        The brief as TOML gives it, found to be right.
    read
        Reads a file beside the brief for a device of so many ports.

    Raises
    ------
    InputError
        When a file takes more than 1,000 points, or an antenna with a file of its reflection has no gain stated.
    """
    by_kind = {"antenna": _antenna, "run": _run}
    return {
        kind: [by_kind[kind](row, read) for row in rows] if kind in by_kind else rows for kind, rows in tables.items()
    }


def _antenna(row: Mapping[str, Any], read: Read) -> Mapping[str, Any]:
    name = row.get("touchstone")
    if name is None:
        return row
    mismatch, points, gain = read(name, 1), row.get("points"), row.get("gain_dbi")
    if points is None and gain is None:
        raise InputError.single(
            "no-gain",
            f"{name} says what antenna {row['id']} reflects, which a job file keeps as its gain over frequency; but no "
            "gain is stated.",
            key="gain_dbi",
            hint="State gain_dbi or points of the antenna.",
        )
    stated = tuple((float(point["mhz"]) * 1e6, float(point["db"])) for point in points or ())
    antenna = Antenna(
        id=row["id"],
        name=row["id"],
        gain_dbi=None if gain is None else float(gain),
        response=Response(source="its list of points", points=stated) if stated else None,
        mismatch=mismatch,
    )
    curves = [mismatch.points, stated] if stated else [mismatch.points]
    low, high = max(curve[0][0] for curve in curves), min(curve[-1][0] for curve in curves)
    at = sorted({hz for curve in curves for hz, _ in curve if low <= hz <= high})
    return _in_place(row, name, [(hz, antenna_gain_dbi(antenna, hz)) for hz in at])


def _run(row: Mapping[str, Any], read: Read) -> Mapping[str, Any]:
    return {**row, "parts": [_part(part, read) for part in row["parts"]]} if "parts" in row else row


def _part(part: Mapping[str, Any], read: Read) -> Mapping[str, Any]:
    name = part.get("touchstone")
    return part if name is None else _in_place(part, name, read(name, 2).points)


def _in_place(row: Mapping[str, Any], name: str, points: Sequence[tuple[float, float]]) -> dict[str, Any]:
    """Return the row with points in whole Hz in place of the file; what it says of 0 Hz is left out."""
    whole = {round(hz): db for hz, db in points if round(hz) > 0}
    if not whole:
        text = f"{name} says nothing of any frequency above 0 Hz."
        raise InputError.single("bad-touchstone", text, key="touchstone", given=name)
    kept = thinned(tuple((float(hz), db) for hz, db in whole.items()), within=_WITHIN_DB)
    if len(kept) > _MOST_POINTS:
        text = f"{name} takes {len(kept):,} points; a job file keeps {_MOST_POINTS:,} of them at most."
        hint = "Export fewer points or a smoother curve."
        raise InputError.single("too-many-points", text, key="touchstone", given=name, hint=hint)
    stated = [{"mhz": Decimal(int(hz)) / 1_000_000, "db": Decimal(f"{db:.3f}")} for hz, db in kept]
    return {**{key: value for key, value in row.items() if key != "touchstone"}, "points": stated}
