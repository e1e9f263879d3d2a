"""What devices bring into the air, as a table for a terminal."""

from __future__ import annotations

from bandwright.core.rises import BEYOND_CHANCE_DB, Peak, Rise, Rises
from bandwright.core.words import one_line
from bandwright.sheets.terminal import cut, padded, wrapped
from bandwright.units import mhz_text

__all__ = ["rises_text"]

_CHANCE = "chance alone"
_NAME, _NUMBER, _PEAK = 24, 8, 24


def rises_text(rises: Rises, *, columns: int) -> str:
    """Return one row for each device, below them what chance alone does, for a terminal of so many columns."""
    about = (
        f"Rise in dB over 200 kHz against everything switched off. {_CHANCE.capitalize()}: a second look at the same "
        f"air. Seen is what rises {BEYOND_CHANCE_DB:g} dB more than that."
    )
    rows = [_row(one, "seen" if rises.seen(one) else "not seen") for one in rises.devices]
    heading = _cells("device", "median", "mean level at most", "highest level at most", "")
    lines = [*wrapped(about, columns), "", heading, *rows, _row(rises.chance, "", name=_CHANCE)]
    return "".join(f"{line.rstrip()}\n" for line in lines)


def _row(rise: Rise, verdict: str, *, name: str | None = None) -> str:
    median = "unknown" if rise.median_db is None else f"{rise.median_db:+.1f}"
    return _cells(one_line(name or rise.name), median, _peak(rise.mean), _peak(rise.highest), verdict)


def _cells(name: str, median: str, mean: str, highest: str, verdict: str) -> str:
    cells = (padded(cut(name, _NAME), _NAME), padded(median, _NUMBER, right=True))
    peaks = (padded(mean, _PEAK, right=True), padded(highest, _PEAK, right=True))
    return "  ".join((*cells, *peaks, verdict))


def _peak(peak: Peak | None) -> str:
    return "unknown" if peak is None else f"{peak.rise_db:+.1f} at {mhz_text(peak.at_hz)} MHz"
