"""Columns with nothing to say are not on the sheet."""

from dataclasses import replace

from sheet_examples import make_facts, make_job, make_plan

from bandwright.core.sheet import build_sheet
from bandwright.sheets.columns import COLUMNS, visible_columns


def headings(job, *, line_up, spares=4):
    sheet = build_sheet(job, make_plan(job, spares=spares), make_facts(job, line_up=line_up))
    return [column.heading for column in visible_columns(sheet.rows)]


def test_all_columns_are_there_when_everything_is_known():
    assert headings(make_job(6), line_up=True) == [column.heading for column in COLUMNS]


def test_columns_without_any_content_vanish():
    job = make_job(2)
    bare = replace(
        job, links=tuple(replace(link, receiver=None, antenna=None, desk_input=None) for link in job.links[1:])
    )
    assert headings(bare, line_up=False, spares=0) == [
        "Label",
        "Who and where",
        "Radio, band",
        "MHz",
        "Preset",
        "TV channel",
        "Power",
        "Closest conflict",
    ]


def test_carrier_and_closest_conflict_stay_even_with_no_row():
    assert [column.heading for column in visible_columns(())] == ["MHz", "Closest conflict"]
