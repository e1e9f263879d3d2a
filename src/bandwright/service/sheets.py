"""The folder of a plan: plan.json, carriers, the sheet and the sweep drawn, written whole or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from bandwright.core.drawing import Drawing
from bandwright.core.picture import carriers_of, sweep_picture
from bandwright.core.picture_trace import trace_of
from bandwright.core.sheet import build_sheet
from bandwright.documents.carriers import carriers_csv
from bandwright.documents.outputs import read_plan
from bandwright.errors import InputError
from bandwright.service.context import Context, Progress
from bandwright.service.inputs import load_brief, read_text
from bandwright.service.output import check_folder, recover, write_folder
from bandwright.service.plan import plan_brief
from bandwright.service.planned import Planned, sweep_words
from bandwright.sheets.html import onepage_html
from bandwright.sheets.onepage import onepage_pdf
from bandwright.sheets.svg import svg

__all__ = ["plan_into_folder", "write_sheets"]


def plan_into_folder(
    context: Context,
    brief: Path,
    sweep_paths: Sequence[Path] = (),
    *,
    out: Path,
    names: str = "full",
    paper: str = "a4",
    own_transmitters: str = "unknown",
    time_limit_s: float | None = None,
    seed: int | None = None,
) -> Planned:
    """Plan the job of a brief and write plan and sheets into `out`; the plan is numbered after the one there."""
    check_folder(out)
    planned = plan_brief(
        context,
        brief,
        sweep_paths,
        own_transmitters=own_transmitters,
        time_limit_s=time_limit_s,
        seed=seed,
        number=_next_number(out, load_brief(context, brief).job.title),
    )
    return write_sheets(context, planned, out, names=names, paper=paper)


def _next_number(out: Path, title: str) -> int:
    """Return 1, or one more than the plan of the same job that already lies in the folder."""
    if out.is_dir():
        recover(out)
    before = out / "plan.json"
    if not before.is_file():
        return 1
    try:
        stored = read_plan(read_text(before, "plan"), file=str(before))
    except InputError:
        return 1
    return stored.number + 1 if stored.title == title else 1


def write_sheets(context: Context, planned: Planned, out: Path, *, names: str = "full", paper: str = "a4") -> Planned:
    """Write plan and sheets into a folder, all or nothing; returns the plan with what the sheets had to say."""
    context.progress(Progress(text="drawing the sheets"))
    facts = planned.facts()
    sheet = build_sheet(planned.job, planned.plan, facts, names=names)
    drawing = _drawing(planned, names) if planned.sweeps else None
    pdf = onepage_pdf(sheet, paper=paper, drawing=drawing)
    planned = replace(planned, plan=replace(planned.plan, warnings=(*planned.plan.warnings, *pdf.warnings)))
    files = {
        "carriers.csv": carriers_csv(planned.job, planned.plan).encode(),
        "sheet.pdf": pdf.data,
        "sheet.html": onepage_html(sheet, drawing=drawing).encode(),
        "plan.json": planned.document().model_dump_json(by_alias=True, indent=2).encode() + b"\n",
    }
    if drawing is not None:
        files["sweep.svg"] = svg(drawing).encode()
    write_folder(out, files, last="plan.json")
    return planned


def _drawing(planned: Planned, names: str) -> Drawing:
    place = planned.job.places[0]
    sweep = planned.sweeps[0]
    return sweep_picture(
        title=planned.job.title,
        subtitle=sweep_words(sweep),
        trace=trace_of(sweep),
        permits=planned.job.permits,
        raster=place.raster,
        taken=planned.taken_tv,
        closed=place.tv_closed,
        carriers=carriers_of(planned.job, planned.plan, named=names == "full"),
    )
