"""The picture of what is in the air: a sweep with what was found in it, and below it how it went over time."""

from __future__ import annotations

from bandwright.core.air import AirReport
from bandwright.core.bands import TvRaster
from bandwright.core.drawing import Drawing, stacked
from bandwright.core.job import Job
from bandwright.core.multiplex import TvVerdict
from bandwright.core.picture import carriers_of, plot_right, sweep_picture
from bandwright.core.picture_content import CarrierKind, PictureCarrier
from bandwright.core.picture_trace import trace_of
from bandwright.core.picture_waterfall import waterfall_picture
from bandwright.core.sweep import Sweep
from bandwright.units import HZ_PER_KHZ

__all__ = ["MOST_NAMED", "air_picture", "antenna_text", "found_carrier", "over_time"]

MOST_NAMED = 12
"""How many carriers that a sweep found stand in its picture, the strongest ones."""


def air_picture(report: AirReport, job: Job | None = None) -> Drawing:
    """Return the picture of a sweep with floor, multiplexes and its strongest carriers, and its waterfall below.

    With a job, permits and other users of the place stand in it too. A file of one sweep has no waterfall.
    """
    sweep = report.sweep
    place = job.place_of(sweep) if job is not None else None
    zone = place.timezone if place is not None else None
    drawing = sweep_picture(
        title=sweep.name,
        subtitle=_words(sweep, zone),
        trace=trace_of(sweep),
        permits=[] if job is None or place is None else [p for p in job.permits if p.place in (None, place.id)],
        raster=report.raster,
        taken=[finding.channel.label for finding in report.tv if finding.verdict is TvVerdict.TAKEN],
        closed=place.tv_closed if place is not None else (),
        carriers=(
            *_found(report),
            *(carriers_of(job, place=place.id) if job is not None and place is not None else ()),
        ),
    )
    below = over_time(sweep, raster=report.raster, zone=zone, right=plot_right(drawing))
    return drawing if below is None else stacked(drawing, below)


def over_time(sweep: Sweep, *, raster: TvRaster | None, zone: str | None, right: float) -> Drawing | None:
    """Return the waterfall of a sweep up to a right edge, so that it can share both edges with the plot of its levels.

    None where the file holds a single sweep or no waterfall.
    """
    waterfall = sweep.waterfall
    if waterfall is None or sweep.sweeps < 2:
        return None
    return waterfall_picture(
        title=f"{sweep.name} over time",
        subtitle=f"{sweep.sweeps} sweeps in {len(waterfall.sweeps)} rows, the first on top",
        waterfall=waterfall,
        unit=sweep.unit,
        zone=zone,
        raster=raster,
        right=right,
    )


def _words(sweep: Sweep, zone: str | None) -> str:
    when = "time unknown" if sweep.started is None else f"{sweep.started:%Y-%m-%d %H:%M}"
    clock = f" ({zone})" if zone and sweep.started is not None else ""
    state = "state of own transmitters unknown"
    if sweep.own_transmitters != "unknown":
        state = f"own transmitters {sweep.own_transmitters}"
    return f"{when}{clock}, {state}{antenna_text(sweep)}"


def antenna_text(sweep: Sweep) -> str:
    """Return which antenna it was, and what lay behind it, to go on with a list; empty where nobody states it."""
    where = "" if sweep.antenna is None else f", antenna: {sweep.antenna}"
    gain_db = sweep.gain_ahead_db
    if gain_db is None:
        return where
    return f"{where}, {abs(gain_db):g} dB of {'loss' if gain_db < 0 else 'gain'} ahead".replace("-", "\u2212")


def _found(report: AirReport) -> list[PictureCarrier]:
    strongest = sorted(report.carriers, key=lambda carrier: -carrier.above_floor_db)[:MOST_NAMED]
    return [found_carrier(c.centre_hz, c.width_hz, c.level_db, report.sweep.unit) for c in strongest]


def found_carrier(centre_hz: float, width_hz: float, level_db: float, unit: str) -> PictureCarrier:
    """Return a carrier that a sweep found, to be drawn: its level is its label."""
    level = f"{level_db:.0f} {unit}"
    return PictureCarrier(
        label=level.replace("-", "\u2212"),
        name=f"found by the sweep, {level}",
        carrier_hz=round(centre_hz / HZ_PER_KHZ) * HZ_PER_KHZ,  # no file measures it finer
        bandwidth_hz=max(1, round(width_hz)),
        kind=CarrierKind.FOUND,
    )
