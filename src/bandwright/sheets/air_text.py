"""What is in the air, as text for a terminal: one block for each sweep file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from bandwright.core.air import LISTEN_HZ, MARGIN_DB, AirReport
from bandwright.core.artefacts import ArtefactKind
from bandwright.core.multiplex import TvFinding, TvVerdict
from bandwright.core.sweep import RbwOrigin, Sweep, SweepFault
from bandwright.core.words import one_line
from bandwright.sheets.terminal import NO_BREAK, wrapped
from bandwright.units import HZ_PER_MHZ, khz_text

__all__ = ["air_text"]

_MOST_LINES = 12
_LABEL = 14

_UNIT_WORDS = {
    "dBm": "levels in dBm",
    "dBuV": "levels in dBuV",
    "dBuV/m": "levels in dBuV/m",
    "dB": "levels in uncalibrated dB: only what stands above the floor counts",
}


def air_text(reports: Sequence[AirReport], *, columns: int = 100) -> str:
    """Return everything that the reports say, for a terminal of so many columns."""
    return "\n\n".join("\n".join(_lines(report, max(columns, 50))) for report in reports) + "\n"


def _lines(report: AirReport, columns: int) -> Iterable[str]:
    yield from _head(report.sweep, columns)
    for title, part in _PARTS:
        body = list(part(report, columns))
        if body:
            yield ""
            yield title(report)
            yield from body


def _head(sweep: Sweep, columns: int) -> Iterable[str]:
    times = ""
    if sweep.started is not None:
        times = f", {sweep.started:%Y-%m-%d %H:%M:%S}"
        if sweep.ended is not None and sweep.ended > sweep.started:
            times += f" to {sweep.ended:%H:%M:%S}"
    rbw = "" if sweep.rbw_hz is None else f", RBW {khz_text(round(sweep.rbw_hz))} kHz"
    if sweep.rbw_origin in (RbwOrigin.INFERRED, RbwOrigin.STATED):
        rbw += f" ({sweep.rbw_origin.value})"
    count = "1 sweep" if sweep.sweeps == 1 else f"{sweep.sweeps} sweeps"
    yield one_line(sweep.name)
    yield from _indented(
        f"{_range(sweep.low_hz, sweep.high_hz)}, {sweep.points} points, {count}{times}{rbw}; {_UNIT_WORDS[sweep.unit]}",
        columns,
    )
    yield from _circumstances(sweep, columns)


def _circumstances(sweep: Sweep, columns: int) -> Iterable[str]:
    """Yield place, antenna, what lies ahead of the instrument, state of the own transmitters, and the trace."""
    ahead = sweep.gain_ahead_db
    known = (
        ("place", sweep.place),
        ("antenna", sweep.antenna),
        ("loss" if ahead is not None and ahead < 0 else "gain", None if ahead is None else f"{abs(ahead):g} dB ahead"),
        ("own transmitters", None if sweep.own_transmitters == "unknown" else sweep.own_transmitters),
        ("trace", sweep.trace),
        ("other traces" if sweep.trace else "traces", _some([name for name in sweep.traces if name != sweep.trace])),
    )
    words = [f"{name} {value}" for name, value in known if value]
    if words:
        yield from _indented(one_line("; ".join(words)), columns)


def _some(names: Sequence[str]) -> str:
    more = len(names) - _MOST_LINES
    return ", ".join(names[:_MOST_LINES]) + (f" and {more} more" if more > 0 else "")


def _floor(report: AirReport, columns: int) -> Iterable[str]:
    sweep = report.sweep
    if not sweep.floor:
        yield from _indented("unknown: nothing in this sweep tells noise from signals, so nothing reads quiet", columns)
    for piece in sweep.floor[:_MOST_LINES]:
        bin_khz = f"{sweep.grid.noise_near(piece.low_hz) / 1000:g} kHz"
        yield f"  {_range(piece.low_hz, piece.high_hz):<24} {piece.level_db:7.1f} {sweep.unit} in {bin_khz}"
    yield from _more(len(sweep.floor), "stretches")


def _tv(report: AirReport, columns: int) -> Iterable[str]:
    for verdict in (TvVerdict.TAKEN, TvVerdict.SHARED, TvVerdict.NOTHING_SEEN, TvVerdict.UNMEASURED):
        found = [finding for finding in report.tv if finding.verdict is verdict]
        if found:
            words = ", ".join(_tv_words(finding, report.sweep.unit) for finding in found)
            yield from wrapped(words, columns, first=f"  {verdict.value:<{_LABEL}}")


def _tv_words(finding: TvFinding, unit: str) -> str:
    if finding.verdict not in (TvVerdict.TAKEN, TvVerdict.SHARED) or finding.level_db is None:
        return finding.channel.label
    doubt = "?" if finding.confidence is not None and finding.confidence < 0.5 else ""
    return f"{finding.channel.label}{doubt} ({finding.level_db:.0f} {unit})".replace(" ", NO_BREAK)


def _wide(width_hz: float) -> str:
    """Return a width in kHz to four figures, and to the kHz above them."""
    khz = width_hz / 1000
    return f"{khz:.0f}" if khz >= 1000 else f"{khz:.4g}"


def _carriers(report: AirReport, _columns: int) -> Iterable[str]:
    if not report.sweep.floor:
        return
    if not report.carriers:
        yield "  none that stands clear of the floor"
        return
    yield f"  {'MHz':>10} {'kHz wide':>9} {'highest':>12} {'above floor':>12}"
    strongest = sorted(report.carriers, key=lambda carrier: -carrier.above_floor_db)[: 2 * _MOST_LINES]
    for carrier in sorted(strongest, key=lambda carrier: carrier.centre_hz):
        level = f"{carrier.level_db:.1f} {report.sweep.unit}"
        yield (
            f"  {carrier.centre_hz / HZ_PER_MHZ:10.3f} {_wide(carrier.width_hz):>9} {level:>12} "
            f"{carrier.above_floor_db:9.1f} dB"
        )
    rest = len(report.carriers) - len(strongest) + report.carriers_not_listed
    if rest > 0:
        yield f"  and {rest} weaker ones"


def _quiet(report: AirReport, columns: int) -> Iterable[str]:
    if not report.quiet:
        yield "  none"
        return
    parts = sorted(report.quiet[:_MOST_LINES], key=lambda part: part.low_hz)
    yield from _indented(", ".join(_range(part.low_hz, part.high_hz, unit="") for part in parts) + " MHz", columns)
    yield from _more(len(report.quiet), "narrower ones")


def _unmeasured(report: AirReport, columns: int) -> Iterable[str]:
    gaps = report.unmeasured
    if not gaps:
        yield "  nothing inside the range; everything outside it"
        return
    width = sum(gap.high_hz - gap.low_hz for gap in gaps)
    whole = report.sweep.high_hz - report.sweep.low_hz
    yield f"  {len(gaps)} {'gap' if len(gaps) == 1 else 'gaps'}, {width / whole:.1%} of the range"
    widest = sorted(sorted(gaps, key=lambda gap: gap.low_hz - gap.high_hz)[:_MOST_LINES], key=lambda gap: gap.low_hz)
    if len(gaps) <= 2 * _MOST_LINES:
        yield from _indented(", ".join(_range(gap.low_hz, gap.high_hz, unit="") for gap in widest) + " MHz", columns)


def _receiver(report: AirReport, columns: int) -> Iterable[str]:
    for kind in ArtefactKind:
        found = [item for item in report.artefacts if item.kind is kind]
        if found:
            where = ", ".join(_range(item.low_hz, item.high_hz, unit="") for item in found[:_MOST_LINES])
            more = f" and {len(found) - _MOST_LINES} more" if len(found) > _MOST_LINES else ""
            yield from _indented(f"{kind.value}: {where} MHz{more}", columns)


def _problems(report: AirReport, columns: int) -> Iterable[str]:
    for fault in report.sweep.problems[:_MOST_LINES]:
        yield from _indented(_fault(fault), columns)
    rest = len(report.sweep.problems[_MOST_LINES:]) + report.sweep.problems_not_listed
    if rest > 0:
        yield f"  and {rest} more"


def _fault(fault: SweepFault) -> str:
    return one_line(f"line {fault.line}: {fault.text}" if fault.line else fault.text)


_Part = Callable[[AirReport, int], Iterable[str]]

_PARTS: tuple[tuple[Callable[[AirReport], str], _Part], ...] = (
    (lambda _: "Noise floor", _floor),
    (lambda report: f"TV channels, {report.raster.name if report.raster else ''}", _tv),
    (lambda report: "Carriers" + (" outside taken TV channels" if report.tv else ""), _carriers),
    (lambda _: f"Quiet: every {khz_text(LISTEN_HZ)} kHz within {MARGIN_DB:g} dB of the floor", _quiet),
    (lambda _: "Not measured", _unmeasured),
    (lambda _: "Made by the receiver, not the air", _receiver),
    (lambda _: "About this file", _problems),
)


def _range(low_hz: float, high_hz: float, *, unit: str = " MHz") -> str:
    return f"{low_hz / HZ_PER_MHZ:.3f}-{high_hz / HZ_PER_MHZ:.3f}{unit}"


def _more(count: int, what: str) -> Iterable[str]:
    if count > _MOST_LINES:
        yield f"  and {count - _MOST_LINES} more {what}"


def _indented(text: str, columns: int) -> list[str]:
    return wrapped(text, columns, first="  ")
