"""The folder of a plan: plan.json, carriers, the sheet and the sweep drawn, written whole or not at all."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from bandwright.core.drawing import Drawing, stacked
from bandwright.core.picture_plan import plan_pictures
from bandwright.core.planning.places import sweeps_at
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
from bandwright.sheets.onepage import onepage_pdf, picture_page
from bandwright.sheets.svg import svg

__all__ = ["next_number", "pictures_of", "plan_into_folder", "write_sheets"]


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
    keep: Path | None = None,
) -> Planned:
    """Plan the job of a brief and write plan and sheets into `out`; the plan is numbered after the one there.

    `keep` is as for `plan_brief`; it may be the plan in `out`.
    """
    check_folder(out)
    planned = plan_brief(
        context,
        brief,
        sweep_paths,
        own_transmitters=own_transmitters,
        time_limit_s=time_limit_s,
        seed=seed,
        number=next_number(out, load_brief(context, brief).job.title),
        keep=keep,
    )
    return write_sheets(context, planned, out, names=names, paper=paper)


def next_number(out: Path, title: str) -> int:
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
    drawings = [stacked(*parts) for parts in pictures_of(planned, names)]
    on_paper = pictures_of(planned, names, page=picture_page(sheet, paper=paper))
    pdf = onepage_pdf(sheet, paper=paper, drawings=[part for parts in on_paper for part in parts])
    planned = replace(planned, plan=replace(planned.plan, warnings=(*planned.plan.warnings, *pdf.warnings)))
    files = {
        "carriers.csv": carriers_csv(planned.job, planned.plan).encode(),
        "sheet.pdf": pdf.data,
        "sheet.html": onepage_html(sheet, drawings=drawings).encode(),
        "plan.json": planned.document().model_dump_json(by_alias=True, indent=2).encode() + b"\n",
    }
    files.update((_picture_name(number), svg(drawing).encode()) for number, drawing in enumerate(drawings, start=1))
    write_folder(out, files, last="plan.json", ours=_is_ours)
    return planned


_OURS = re.compile(r"plan\.json|carriers\.csv|sheet\.(pdf|html)|sweep(-[2-9]|-[1-9][0-9]+)?\.svg")


def _is_ours(name: str) -> bool:
    """Whether a file of this name in the folder of a plan is one that `write_sheets` wrote there."""
    return _OURS.fullmatch(name) is not None


def _picture_name(number: int) -> str:
    """Return the file name of the first picture, the second, and so on: place by place, sweep by sweep."""
    return "sweep.svg" if number == 1 else f"sweep-{number}.svg"


def pictures_of(planned: Planned, names: str, *, page: float | None = None) -> tuple[tuple[Drawing, ...], ...]:
    """Return one picture for each place and sweep that counted there, with its waterfall where the sweep has time.

    `page` is width over height of the page, where each stands on one of its own.
    """
    return tuple(
        plan_pictures(
            planned.job,
            planned.plan,
            place,
            sweep,
            about=sweep_words(sweep, planned.job, made=planned.made),
            taken=planned.taken_tv.get(place.id, ()),
            named=names == "full",
            page=page,
        )
        for place in planned.job.places
        for sweep in sweeps_at(place, planned.sweeps)
    )
