"""How closely rows stand in print: wide where there is room, closer with more rows or with more to say."""

from dataclasses import replace

import pytest
from sheet_examples import make_facts, make_job, make_plan

from bandwright.core.planning.plan import Note, Warn
from bandwright.core.sheet import build_sheet
from bandwright.sheets.html import onepage_html
from bandwright.sheets.print_density import print_density

ORDER = ["airy", "even", "dense"]


def sheet_of(links, **changes):
    job = make_job(links)
    return build_sheet(job, replace(make_plan(job), **changes), make_facts(job))


def test_rows_stand_closer_the_more_there_are():
    found = [print_density(sheet_of(links)) for links in (4, 10, 18, 26, 40)]
    names = [ORDER.index(density.name) for density in found]
    assert names == sorted(names)
    assert (names[0], names[-1]) == (0, 2)
    heights = [density.row for density in found if density.name == "dense"]
    assert heights == sorted(heights, reverse=True)
    assert all(density.figures >= 9.6 for density in found)


@pytest.mark.parametrize("links", [6, 10])
def test_a_sheet_with_much_to_say_sets_its_rows_closer(links):
    long = tuple(Warn(code="x", text="word " * 120) for _ in range(6))
    quiet, loud = print_density(sheet_of(links)), print_density(sheet_of(links, warnings=long))
    assert ORDER.index(loud.name) > ORDER.index(quiet.name)


def test_rows_that_wrap_leave_less_for_the_others():
    job = make_job(26)
    plan = make_plan(job)
    note = Note(code="shares-carrier", text="shares 606.700 MHz with L09 (the brief says they do not hear each other)")
    noted = tuple(replace(link, notes=(note, note)) if n % 4 == 0 else link for n, link in enumerate(plan.links))
    plain = print_density(build_sheet(job, plan, make_facts(job)))
    wrapped = print_density(build_sheet(job, replace(plan, links=noted), make_facts(job)))
    assert wrapped.row < plain.row


def test_the_page_carries_the_sizes_its_style_sheet_asks_for():
    page = onepage_html(sheet_of(26))
    density = print_density(sheet_of(26))
    assert f'class="dense" style="--row: {density.row}pt; --figures: {density.figures}pt"' in page
    assert "var(--row)" in page
    assert "var(--figures)" in page
