"""The `sweep` document: what is in the air according to one or more sweep files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Literal

from pydantic import Field

from bandwright.core.air import AirReport
from bandwright.core.artefacts import ArtefactKind
from bandwright.core.multiplex import TvVerdict
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.documents.outputs.common import (
    UNITS,
    Document,
    Input,
    Level,
    Model,
    Number,
    SweepFactsModel,
    Unit,
    level,
    warned,
)

__all__ = ["SweepDocument", "sweep_document"]

_HZ_PER_MHZ = 1e6


class StretchModel(Model):
    """A stretch of spectrum, and the file it is about."""

    file: str
    low_mhz: Number
    high_mhz: Number


class FloorModel(StretchModel):
    """A stretch with one noise floor: the mean noise in one bin of `bin_khz`."""

    level: Level
    unit: Unit
    bin_khz: Number


class TvModel(StretchModel):
    """The verdict on one TV channel; `level` is the mean power over the width of a multiplex."""

    channel: str
    verdict: TvVerdict
    level: Level | None
    unit: Unit
    confidence: Number | None


class CarrierModel(Model):
    """Something narrower than a multiplex: centre, width, highest power over it."""

    file: str
    centre_mhz: Number
    width_khz: Number
    level: Level
    unit: Unit
    above_floor_db: Level


class ArtefactModel(StretchModel):
    """A stretch that the receiver made, not the air."""

    kind: ArtefactKind


class ProblemModel(Model):
    """Something in a file that could not be used or had to be assumed."""

    file: str
    line: int | None
    code: str
    text: str


class FileModel(SweepFactsModel):
    """What one file is: its unit, how often it swept, and when it began (as written, without a time zone).

    `traces` are those that could be chosen from, where there are several.
    """

    name: str
    points: int
    sweeps: int
    low_mhz: Number
    high_mhz: Number
    traces: tuple[str, ...]
    carriers_not_listed: int
    problems_not_listed: int


class SweepDocument(Document):
    """What `bandwright sweep --json` prints.

    With several files, `points` and `sweeps` are sums, the range is the widest, and every entry of a list names its
    `file`: sweeps by different instruments are not mixed. `shallow` is what was measured, but not deep enough for the
    links of a brief; null where no brief says how deep that is.
    """

    schema_: Literal["bandwright.sweep/1"] = Field(default="bandwright.sweep/1", alias="schema")
    points: int
    low_mhz: Number
    high_mhz: Number
    sweeps: int
    files: tuple[FileModel, ...]
    floor: tuple[FloorModel, ...]
    gaps: tuple[StretchModel, ...]
    quiet: tuple[StretchModel, ...]
    shallow: tuple[StretchModel, ...] | None
    tv: tuple[TvModel, ...]
    carriers: tuple[CarrierModel, ...]
    artefacts: tuple[ArtefactModel, ...]
    problems: tuple[ProblemModel, ...]
    others_written: str | None
    drawn: tuple[str, ...]


def sweep_document(
    reports: Sequence[AirReport],
    *,
    inputs: Sequence[Input],
    warnings: Sequence[Warn] = (),
    written: str | None = None,
    drawn: Sequence[str] = (),
    shallow: Sequence[Sequence[tuple[float, float]]] | None = None,
) -> SweepDocument:
    """Return what the files say as one document; at least one report is needed.

    `written` is the file to which carriers were written as entries of a brief, `drawn` are the pictures, `shallow` are
    the stretches (Hz) of each report that were not looked at deep enough.
    """
    return SweepDocument(
        points=sum(report.sweep.points for report in reports),
        low_mhz=min(_mhz(report.sweep.low_hz) for report in reports),
        high_mhz=max(_mhz(report.sweep.high_hz) for report in reports),
        sweeps=sum(report.sweep.sweeps for report in reports),
        files=tuple(map(_file, reports)),
        floor=tuple(part for report in reports for part in _floor(report)),
        gaps=tuple(_stretch(report, gap.low_hz, gap.high_hz) for report in reports for gap in report.unmeasured),
        quiet=tuple(_stretch(report, part.low_hz, part.high_hz) for report in reports for part in report.quiet),
        shallow=None if shallow is None else tuple(_shallow(reports, shallow)),
        tv=tuple(part for report in reports for part in _tv(report)),
        carriers=tuple(part for report in reports for part in _carriers(report)),
        artefacts=tuple(part for report in reports for part in _artefacts(report)),
        problems=tuple(part for report in reports for part in _problems(report)),
        others_written=written,
        drawn=tuple(drawn),
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _shallow(reports: Sequence[AirReport], shallow: Sequence[Sequence[tuple[float, float]]]) -> Iterator[StretchModel]:
    for report, found in zip(reports, shallow, strict=True):
        yield from (_stretch(report, low_hz, high_hz) for low_hz, high_hz in found)


def read_of_sweep(sweep: Sweep) -> dict[str, Any]:
    """Return in plain JSON values what reading a sweep tells of it: how it was made, and how far it reaches."""
    facts = SweepFactsModel(**SweepFactsModel.facts_of(sweep)).model_dump(mode="json")
    return {**facts, "points": sweep.points, "low_mhz": _mhz(sweep.low_hz), "high_mhz": _mhz(sweep.high_hz)}


def _mhz(hz: float) -> float:
    return round(hz / _HZ_PER_MHZ, 6)


def _unit(report: AirReport) -> Unit:
    return UNITS[report.sweep.unit]


def _known(value: float) -> float:
    return round(float(value), 2)


def _stretch(report: AirReport, low_hz: float, high_hz: float) -> StretchModel:
    return StretchModel(file=report.sweep.name, low_mhz=_mhz(low_hz), high_mhz=_mhz(high_hz))


def _file(report: AirReport) -> FileModel:
    sweep = report.sweep
    return FileModel(
        **SweepFactsModel.facts_of(sweep),
        name=sweep.name,
        points=sweep.points,
        sweeps=sweep.sweeps,
        low_mhz=_mhz(sweep.low_hz),
        high_mhz=_mhz(sweep.high_hz),
        traces=sweep.traces,
        carriers_not_listed=report.carriers_not_listed,
        problems_not_listed=sweep.problems_not_listed,
    )


def _floor(report: AirReport) -> tuple[FloorModel, ...]:
    return tuple(
        FloorModel(
            file=report.sweep.name,
            low_mhz=_mhz(piece.low_hz),
            high_mhz=_mhz(piece.high_hz),
            level=_known(piece.level_db),
            unit=_unit(report),
            bin_khz=round(report.sweep.grid.noise_near(piece.low_hz) / 1000, 6),
        )
        for piece in report.sweep.floor
    )


def _tv(report: AirReport) -> tuple[TvModel, ...]:
    return tuple(
        TvModel(
            file=report.sweep.name,
            low_mhz=_mhz(finding.channel.span.low_hz),
            high_mhz=_mhz(finding.channel.span.high_hz),
            channel=finding.channel.label,
            verdict=finding.verdict,
            level=level(finding.level_db),
            unit=_unit(report),
            confidence=finding.confidence,
        )
        for finding in report.tv
    )


def _carriers(report: AirReport) -> tuple[CarrierModel, ...]:
    return tuple(
        CarrierModel(
            file=report.sweep.name,
            centre_mhz=_mhz(carrier.centre_hz),
            width_khz=round(carrier.width_hz / 1000, 3),
            level=_known(carrier.level_db),
            unit=_unit(report),
            above_floor_db=_known(carrier.above_floor_db),
        )
        for carrier in report.carriers
    )


def _artefacts(report: AirReport) -> tuple[ArtefactModel, ...]:
    name = report.sweep.name
    return tuple(
        ArtefactModel(file=name, kind=item.kind, low_mhz=_mhz(item.low_hz), high_mhz=_mhz(item.high_hz))
        for item in report.artefacts
    )


def _problems(report: AirReport) -> tuple[ProblemModel, ...]:
    return tuple(
        ProblemModel(file=report.sweep.name, line=fault.line, code=fault.code, text=fault.text)
        for fault in report.sweep.problems
    )
