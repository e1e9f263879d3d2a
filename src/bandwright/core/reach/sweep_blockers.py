"""What calibrated sweeps show of strong signals, as other users with a level at the antenna."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from bandwright.core.job import Job, Place
from bandwright.core.kit import MakesProducts, Other
from bandwright.core.multiplex import TvVerdict, tv_findings
from bandwright.core.planning.places import sweeps_at
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.core.unlisted import unlisted_carriers
from bandwright.core.words import and_list
from bandwright.units import mhz_text

__all__ = ["heard_others", "unread_warnings"]


def heard_others(job: Job, sweeps: Sequence[Sweep]) -> tuple[Other, ...]:
    """Return multiplexes and carriers that calibrated sweeps show and the brief does not list, with their levels.

    Levels are those at the sweep's antenna, what lies between it and the instrument (`gain_ahead_db`) taken out; of
    several sweeps the highest counts. Sweeps that are not calibrated are left out.
    """
    usable = [sweep for sweep in sweeps if sweep.calibrated]
    found: dict[str, Other] = {}
    multiplexes = {place.id: tuple(_multiplexes(place, sweeps_at(place, usable))) for place in job.places}
    taken = {place: [label for label, _ in items] for place, items in multiplexes.items()}
    for place in job.places:
        seen = [other for _, other in multiplexes[place.id]]
        for other in (*seen, *_carriers(job, place, usable, taken)):
            before = found.get(other.id)
            if before is None or (before.level_dbm or 0.0) < (other.level_dbm or 0.0):
                found[other.id] = other
    return tuple(found.values())


def unread_warnings(sweeps: Sequence[Sweep]) -> Iterator[Warn]:
    """Name the sweeps of which no level at an antenna is known."""
    names = [sweep.name for sweep in sweeps if not sweep.calibrated]
    if names:
        text = (
            f"Strong signals are not told from {and_list(names)}: levels at an antenna need dBm, and "
            "antenna with gain_ahead_db in the note beside it."
        )
        yield Warn(code="sweep-not-calibrated", text=text, where=and_list(names))


def _multiplexes(place: Place, sweeps: Sequence[Sweep]) -> Iterator[tuple[str, Other]]:
    """Yield the labels of TV channels on which a sweep shows a multiplex, with that as a signal."""
    if place.raster is None:
        return
    for sweep in sweeps:
        for finding in tv_findings(sweep, place.raster):
            if finding.verdict is TvVerdict.TAKEN and finding.level_db is not None:
                span, label = finding.channel.span, finding.channel.label
                multiplex = Other(
                    id=f"TV {label} at {place.id}",
                    name=f"the multiplex on TV {label}",
                    carrier_hz=(span.low_hz + span.high_hz) // 2,
                    bandwidth_hz=span.width_hz,
                    level_dbm=finding.level_db - (sweep.gain_ahead_db or 0.0),
                    makes_products=MakesProducts.NO,
                    place=place.id,
                )
                yield label, multiplex


def _carriers(job: Job, place: Place, sweeps: Sequence[Sweep], taken: Mapping[str, Sequence[str]]) -> Iterator[Other]:
    gains = {sweep.name: sweep.gain_ahead_db or 0.0 for sweep in sweeps}
    for item in unlisted_carriers(job, sweeps, taken):
        if item.place == place.id:
            yield Other(
                id=f"{mhz_text(item.carrier_hz)} MHz at {place.id}",
                name=f"a carrier on {mhz_text(item.carrier_hz)} MHz",
                carrier_hz=item.carrier_hz,
                bandwidth_hz=item.width_hz,
                level_dbm=item.level_db - gains[item.sweep],
                makes_products=MakesProducts.NO,
                place=place.id,
            )
