"""What to say of the levels at an ear: how long they may last by a published limit, and peaks over one."""

from __future__ import annotations

import math
from collections.abc import Iterator

from bandwright.core.sound.hearing import AtEar, Judged
from bandwright.core.sound.remarks import Grade, Remark

__all__ = ["ear_remarks", "lasting"]

_UPPER_DB = 85.0  # the upper action value over 8 h, Directive 2003/10/EC (from memory)
_SINE_PEAK_DB = 20 * math.log10(math.sqrt(2))


def ear_remarks(ear: AtEar) -> Iterator[Remark]:
    """Yield what to say of one ear, by the limit of 85 dB over 8 h, half as long for each 3 dB more."""
    loudest = next((one for one in ear.by_loudest if one.limit.over_8h_db == _UPPER_DB), None)
    most = next((one for one in ear.by_most if one.limit.over_8h_db == _UPPER_DB), None)
    if loudest is not None and ear.loudest_db is not None:
        grade = Grade.NOTE if loudest.kept else Grade.CAUTION
        yield Remark(code="hearing", grade=grade, text=_at(ear.loudest_db, "The loudest", loudest))
    if most is not None:
        what = "What the limiter lets through" if ear.limited else "Full deviation (no limiter is stated)"
        yield Remark(code="hearing", grade=Grade.NOTE, text=_at(ear.most_db, what, most))
    yield from _peak(ear)


def _peak(ear: AtEar) -> Iterator[Remark]:
    """Yield that a sine at the most that can come has peaks above a published one."""
    peak_db = ear.most_db + _SINE_PEAK_DB
    over = [one.limit for one in ear.by_most if peak_db > one.limit.peak_db]
    if over:
        limit = max(over, key=lambda one: one.peak_db)
        text = (
            f"Peaks at the ear can reach about {peak_db:.0f} dB SPL, above the peak of the {limit.name} "
            f"({limit.peak_db:g} dB, C-weighted; {limit.source}): lower the limiter or the output."
        )
        yield Remark(code="peak", grade=Grade.CAUTION, text=text)


def _at(level_db: float, what: str, judged: Judged) -> str:
    kept = {True: "; the stated hours keep that", False: "; the stated hours do not keep that", None: ""}[judged.kept]
    return (
        f"{what} gives about {level_db:.0f} dB SPL at the ear, which may last {lasting(judged.hours)} a day by the "
        f"{judged.limit.name} ({judged.limit.over_8h_db:g} dB over 8 h; {judged.limit.source}){kept}."
    )


def lasting(hours: float) -> str:
    """Return a time in words.

    >>> lasting(8), lasting(0.5), lasting(0.002), lasting(24)
    ('8 h', '30 min', '7 s', 'all day')
    """
    if hours >= 24:
        return "all day"
    if hours >= 1:
        return f"{hours:.2g} h"
    seconds = hours * 3600
    if seconds >= 60:
        return f"{seconds / 60:.0f} min"
    return f"{seconds:.0f} s" if seconds >= 1 else "less than 1 s"
