"""Cables and devices of a run as stages at a frequency, with what is unsure or unknown of them there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bandwright.core.reach.cascade import Stage, splitter_loss_db
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Antenna, Part, PartKind, Response
from bandwright.units import mhz_text

__all__ = [
    "antenna_gain_dbi",
    "antenna_unknown",
    "doubts_of",
    "is_active",
    "outside_of",
    "part_name",
    "spread_of",
    "stage_of",
    "unknown_of",
]

_ONLY_LOSE = (PartKind.CABLE, PartKind.FILTER, PartKind.PAD)
_MEASURED_GAIN_DB = 0.1  # what a good measurement of a lossless part may show


def stage_of(part: Part, *, frequency_hz: int, tables: ReachTables) -> Stage:
    """Return a cable or device as a stage at a frequency; where its points do not reach, nothing is known of it."""
    what, name = part.what.value, part_name(part)
    if part.response is not None and not part.response.covers(frequency_hz):
        return Stage(what=what, name=name, gain_db=0.0, noise_figure_db=None, iip3_dbm=None)
    gain_db = _gain_db(part, frequency_hz, tables) - _stopped_db(part, frequency_hz)
    if not is_active(part):
        return Stage(what=what, name=name, gain_db=gain_db, noise_figure_db=max(-gain_db, 0.0))
    return Stage(
        what=what,
        name=name,
        gain_db=gain_db,
        noise_figure_db=part.noise_figure_db,
        iip3_dbm=part.iip3_dbm,
        p1db_dbm=part.p1db_dbm,
    )


def spread_of(part: Part, stage: Stage, tables: ReachTables) -> tuple[float, float]:
    """Return how many dB less and more a part may take than stated."""
    if not _by_table(part):
        return 0.0, 0.0
    tolerance = tables.cable(part.type or "").tolerance
    return -stage.gain_db * tolerance, -stage.gain_db * tolerance


def outside_of(parts: Iterable[Part], frequency_hz: int, tables: ReachTables) -> Iterator[str]:
    """Yield in words which tables of cables are left."""
    for part in parts:
        if _by_table(part) and not tables.cable(part.type or "").covers(frequency_hz):
            points = tables.cable(part.type or "").points
            low, high = points[0][0] / 1e6, points[-1][0] / 1e6
            yield f"{frequency_hz / 1e6:g} MHz, and the table of {part.type} runs from {low:g} to {high:g} MHz"


def unknown_of(parts: Iterable[Part], frequency_hz: int) -> Iterator[str]:
    """Yield what is lacking of parts whose points do not reach a frequency."""
    for part in parts:
        if part.response is not None and not part.response.covers(frequency_hz):
            yield f"a measurement of the {part.what.value} at {mhz_text(frequency_hz)} MHz ({_reaches(part.response)})"


def antenna_unknown(antenna: Antenna, frequency_hz: int) -> Iterator[str]:
    """Yield what is lacking of an antenna whose points do not reach a frequency."""
    for response in (antenna.response, antenna.mismatch):
        if response is not None and not response.covers(frequency_hz):
            yield f"a measurement of it at {mhz_text(frequency_hz)} MHz ({_reaches(response)})"


def antenna_gain_dbi(antenna: Antenna, frequency_hz: float) -> float:
    """Return an antenna's gain less what polarisation and reflection cost; 0 dBi where nobody stated a gain."""
    gain_dbi = antenna.gain_dbi or 0.0
    if antenna.response is not None and antenna.response.covers(frequency_hz):
        gain_dbi = antenna.response.gain_db(frequency_hz)
    if antenna.mismatch is not None and antenna.mismatch.covers(frequency_hz):
        gain_dbi += antenna.mismatch.gain_db(frequency_hz)
    return gain_dbi - antenna.polarisation_loss_db


def doubts_of(parts: Iterable[Part], frequency_hz: int) -> Iterator[str]:
    """Yield what cannot be right, or does not fit the carrier: a cable with gain, a carrier outside a passband."""
    for part in parts:
        name = part_name(part)
        response = part.response
        if part.what in _ONLY_LOSE and response is not None:
            most_db = max(db for _, db in response.points)
            if most_db > _MEASURED_GAIN_DB:
                yield f"{name} only loses, but {response.source} gives it {most_db:.1f} dB of gain; measure it again"
        if part.passband is not None and not part.passband.holds_hz(frequency_hz):
            unknown = "" if part.stopband_db is not None else "; stopband_db does not say by how much it is lowered"
            yield f"{mhz_text(frequency_hz)} MHz lies outside the passband of {name} ({part.passband}){unknown}"


def is_active(part: Part) -> bool:
    """Whether a part has gain and noise of its own."""
    return part.what is PartKind.AMPLIFIER or (part.what is PartKind.SPLITTER and part.gain_db is not None)


def _gain_db(part: Part, frequency_hz: int, tables: ReachTables) -> float:
    """Return gain as measured over frequency, else as stated, else by table, data sheet or number of ways."""
    if part.response is not None:
        return part.response.gain_db(frequency_hz)
    if part.gain_db is not None:
        return part.gain_db
    if part.loss_db is not None:
        return -part.loss_db
    if part.db_per_100m is not None and part.length_m is not None:
        return -part.db_per_100m * part.length_m / 100
    if part.type is not None and part.length_m is not None:
        return -tables.cable(part.type).loss_db(length_m=part.length_m, frequency_hz=frequency_hz)
    if part.ways is not None:
        return -splitter_loss_db(part.ways)
    raise ValueError(f"a {part.what} came without a figure to take its loss from")


def _stopped_db(part: Part, frequency_hz: int) -> float:
    """Return what the passband of a part takes away at a frequency; 0 where nobody said how much."""
    if part.passband is None or part.passband.holds_hz(frequency_hz):
        return 0.0
    return part.stopband_db or 0.0


def _by_table(part: Part) -> bool:
    stated = (part.loss_db, part.db_per_100m, part.response)
    return part.what is PartKind.CABLE and part.type is not None and all(item is None for item in stated)


def _reaches(response: Response) -> str:
    low, high = response.points[0][0] / 1e6, response.points[-1][0] / 1e6
    return f"{response.source} runs from {low:g} to {high:g} MHz"


def part_name(part: Part) -> str:
    """Return what a part is called: as stated, else by what it is."""
    if part.name is not None:
        return part.name
    if part.what is PartKind.CABLE:
        length = "" if part.length_m is None else f"{part.length_m:g} m of "
        return f"{length}{part.type or 'cable'}"
    if part.what is PartKind.SPLITTER and part.ways is not None:
        return f"{part.ways}-way splitter"
    return part.what.value
