"""Sweeps: read them, and say what is in the air."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from bandwright import readers
from bandwright.core.air import AirReport, describe_air
from bandwright.core.bands import TvRaster
from bandwright.core.fold import DEFAULT_BANDWIDTHS_HZ
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.documents.outputs import Input, SweepDocument, sweep_document
from bandwright.errors import InputError
from bandwright.reference.tables import rasters
from bandwright.service.context import Context, Progress
from bandwright.service.inputs import input_of
from bandwright.sheets.air_text import air_text

__all__ = ["Described", "describe_sweeps", "read_sweeps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """What is in the air according to each file, in the order they were given."""

    reports: tuple[AirReport, ...]
    inputs: tuple[Input, ...]
    warnings: tuple[Warn, ...]

    def document(self) -> SweepDocument:
        """Return the reports as the JSON document."""
        return sweep_document(self.reports, inputs=self.inputs, warnings=self.warnings)

    def text(self, *, columns: int) -> str:
        """Return the reports as text for a terminal of so many columns."""
        notes = "".join(f"\nNote: {warning.text}\n" for warning in self.warnings)
        return air_text(self.reports, columns=columns) + notes


def read_sweeps(
    context: Context, paths: Sequence[Path], bandwidths_hz: Sequence[int] = DEFAULT_BANDWIDTHS_HZ
) -> list[Sweep]:
    """Return the sweeps of the files, with channel power folded for these bandwidths."""
    return [
        readers.read(path, bandwidths_hz=bandwidths_hz, progress=_told(context, path), cancelled=context.cancelled)
        for path in paths
    ]


def _told(context: Context, path: Path) -> Callable[[float | None], None]:
    return lambda done: context.progress(Progress(text=f"reading {path.name}", done=done))


def describe_sweeps(context: Context, paths: Sequence[Path], *, raster_id: str | None = None) -> Described:
    """Return what is in the air according to each file; TV channels are judged where a raster is named."""
    raster = _raster(raster_id) if raster_id is not None else None
    sweeps = read_sweeps(context, paths)
    no_raster = Warn(
        code="no-raster",
        text="TV channels were not looked at; name their raster, for example --raster region1.",
    )
    return Described(
        reports=tuple(describe_air(sweep, raster=raster) for sweep in sweeps),
        inputs=tuple(input_of(path) for path in paths),
        warnings=() if raster is not None else (no_raster,),
    )


def _raster(raster_id: str) -> TvRaster:
    known = {raster.id: raster for raster in rasters()}
    if raster_id not in known:
        raise InputError.single(
            "unknown-raster",
            f'There is no TV raster "{raster_id}"; known are {list_text(known)}.',
            key="--raster",
            given=raster_id,
            allowed=list_text(known),
            hint=nearest_hint(raster_id, known),
        )
    return known[raster_id]
