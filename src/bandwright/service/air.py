"""Sweeps: read them, and say what is in the air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bandwright.core.air import AirReport, describe_air
from bandwright.core.bands import TvRaster
from bandwright.core.depth import Stretch, shallow_stretches, shallow_warnings
from bandwright.core.fold import DEFAULT_BANDWIDTHS_HZ
from bandwright.core.planning.assess import sweep_places_unknown, taken_tv
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.core.unlisted import Unlisted, as_unlisted, unlisted_carriers, unlisted_warnings
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.documents.others import others_text
from bandwright.documents.outputs import Input, SweepDocument, sweep_document
from bandwright.errors import InputError
from bandwright.reference.tables import rasters
from bandwright.service.context import Context
from bandwright.service.draw import check_picture, draw_reports
from bandwright.service.inputs import Brought, load_brief, load_sweep, load_sweeps
from bandwright.service.newfile import check_new_file, write_new_file
from bandwright.sheets.air_text import air_text
from bandwright.sheets.terminal import wrapped

__all__ = ["Described", "check_asked", "describe_sweeps", "raster_named", "read_sweeps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """What is in the air according to each file, in the order they were given."""

    reports: tuple[AirReport, ...]
    unlisted: tuple[Unlisted, ...]
    written: Path | None
    drawn: tuple[Path, ...]
    inputs: tuple[Input, ...]
    warnings: tuple[Warn, ...]
    shallow: tuple[tuple[Stretch, ...], ...] | None = None

    def document(self) -> SweepDocument:
        """Return the reports as the JSON document."""
        written = None if self.written is None else str(self.written)
        drawn = tuple(map(str, self.drawn))
        return sweep_document(
            self.reports,
            written=written,
            drawn=drawn,
            inputs=self.inputs,
            warnings=self.warnings,
            shallow=self.shallow,
        )

    def text(self, *, columns: int) -> str:
        """Return the reports as text for a terminal of so many columns."""
        notes = [
            line for warning in self.warnings for line in ["", *wrapped(warning.in_terminal, columns, first="Note: ")]
        ]
        notes += ["", *(f"Drawn: {path}" for path in self.drawn)] if self.drawn else []
        if self.written is not None:
            count = f"{len(self.unlisted)} [[other]] {'entry' if len(self.unlisted) == 1 else 'entries'}"
            notes += ["", f"Written to {self.written}: {count} to look through and copy into the brief."]
        return air_text(self.reports, columns=columns) + "".join(f"{line}\n" for line in notes)


def read_sweeps(
    context: Context, paths: Sequence[Path], bandwidths_hz: Sequence[int] = DEFAULT_BANDWIDTHS_HZ
) -> tuple[list[Sweep], list[Input]]:
    """Return the sweeps of the files, with channel power folded for these bandwidths, and all files they stand on."""
    found = [load_sweep(context, path, bandwidths_hz=bandwidths_hz) for path in paths]
    return [sweep for sweep, _ in found], [file for _, files in found for file in files]


def describe_sweeps(
    context: Context,
    paths: Sequence[Path],
    *,
    raster_id: str | None = None,
    brief: Path | None = None,
    others: Path | None = None,
    draw: Path | None = None,
    theme: str = "auto",
) -> Described:
    """Return what is in the air according to each file, and which of it nobody listed.

    TV channels are judged where a raster is named, or by that of the place in `brief`. Carriers that the brief does not
    account for (all of them where there is none) are written to `others`, a new file, as entries of a brief.
    Each sweep is drawn into `draw` (the second into NAME-2, and so on), new files that end with .svg or .png.
    """
    check_asked(len(paths), others=others, draw=draw)
    raster = raster_named(raster_id) if raster_id is not None else None
    brought = None if brief is None else load_brief(context, brief)
    described = _alone(context, paths, raster) if brought is None else _beside(context, paths, raster, brought)
    if draw is not None:
        job = None if brought is None else brought.job
        described = replace(described, drawn=draw_reports(described.reports, draw, job=job, theme=theme))
    if others is None:
        return described
    places = len({item.place for item in described.unlisted}) > 1
    write_new_file(others, others_text(described.unlisted, places=places), **_OTHERS)
    return replace(described, written=others)


def check_asked(count: int, *, others: Path | None, draw: Path | None, log: Path | None = None) -> None:
    """Raise InputError where the new files of so many sweeps cannot be written, or two of them are the same.

    `log` is that of a sweep that is still to run.
    """
    pictures = () if draw is None else check_picture(draw, count)
    if others is not None:
        check_new_file(others, **_OTHERS)
    if others is not None and others in (*pictures, log):
        text = f"{others} is named for two new files at once."
        raise InputError.single("same-file", text, key="--others", given=str(others), hint="Name another for one.")


_OTHERS = {
    "what": "list of others",
    "otherwise": "--others other.toml",
    "elsewhere": "--others FOLDER/others.toml",
}


def _alone(context: Context, paths: Sequence[Path], raster: TvRaster | None) -> Described:
    sweeps, inputs = read_sweeps(context, paths)
    no_raster = Warn(
        code="no-raster",
        text="TV channels were not looked at; name their raster, for example --raster region1.",
    )
    reports = tuple(describe_air(sweep, raster=raster) for sweep in sweeps)
    return Described(
        reports=reports,
        unlisted=tuple(as_unlisted(carrier, report.sweep) for report in reports for carrier in report.carriers),
        written=None,
        drawn=(),
        inputs=tuple(inputs),
        warnings=() if raster is not None else (no_raster,),
    )


def _beside(context: Context, paths: Sequence[Path], raster: TvRaster | None, brought: Brought) -> Described:
    """Return what is in the air at the places of a brief; its own rasters count where none is named."""
    job = brought.job
    sweeps, inputs = load_sweeps(context, paths, job)
    rasters_of = [raster or job.place_of(sweep).raster for sweep in sweeps]
    unlisted = unlisted_carriers(job, sweeps, taken_tv(job, sweeps))
    shallow = tuple(shallow_stretches(job, sweep) for sweep in sweeps)
    depths = (warn for sweep, found in zip(sweeps, shallow, strict=True) for warn in shallow_warnings(sweep, found))
    return Described(
        reports=tuple(describe_air(sweep, raster=own) for sweep, own in zip(sweeps, rasters_of, strict=True)),
        unlisted=unlisted,
        written=None,
        drawn=(),
        inputs=(*brought.inputs, *inputs),
        warnings=(*sweep_places_unknown(job, sweeps), *unlisted_warnings(job, unlisted, sweeps), *depths),
        shallow=shallow,
    )


def raster_named(raster_id: str) -> TvRaster:
    """Return a TV raster by its id; an unknown one lists those there are."""
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
