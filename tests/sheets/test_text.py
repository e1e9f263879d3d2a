"""A plan in the terminal."""

from dataclasses import replace

import pytest
from sheet_examples import make_facts, make_job, make_plan, with_name

from bandwright.core.planning.plan import Status
from bandwright.sheets.terminal import display_width
from bandwright.sheets.text import plan_text


def text_of(count=12, *, job=None, columns=100, names="full", **plan_options):
    job = job or make_job(count)
    return plan_text(job, make_plan(job, **plan_options), make_facts(job), columns=columns, names=names)


@pytest.mark.parametrize("columns", [40, 60, 80, 100, 160])
def test_every_link_and_carrier_is_there_at_any_width(columns):
    job = make_job(12)
    plan = make_plan(job, unplaced=1)
    text = plan_text(job, plan, make_facts(job), columns=columns)
    shown = "".join(text.split())
    expected = [item.id for item in (*plan.links, *plan.unplaced, *plan.spares)]
    expected += [f"{item.carrier_hz // 1_000_000}.{item.carrier_hz % 1_000_000:06d}".rstrip("0") for item in plan.links]
    assert [word for word in expected if word not in shown] == []
    assert "".join(plan.unplaced[0].reasons[0].text.split()) in shown


@pytest.mark.parametrize("columns", [60, 80, 100, 160])
def test_no_line_is_wider_than_the_terminal(columns):
    assert max(display_width(line) for line in text_of(40, columns=columns).splitlines()) <= columns


@pytest.mark.parametrize("columns", [90, 95, 100, 105])
def test_a_number_stays_beside_its_unit(columns):
    lines = text_of(12, columns=columns).splitlines()
    assert [line for line in lines if line.endswith("(asks") or line.lstrip().startswith("kHz")] == []


def test_decimal_points_stand_below_each_other():
    job = make_job(6)
    plan = make_plan(job)
    plan = replace(plan, links=(replace(plan.links[0], carrier_hz=1_785_300_000), *plan.links[1:]))
    lines = plan_text(job, plan, make_facts(job)).splitlines()
    points = {
        line.index(mhz) + mhz.index(".") for mhz in ("1785.300", "473.625", "486.1375") for line in lines if mhz in line
    }
    assert len(points) == 1


def test_a_caution_is_a_word():
    line = next(line for line in text_of().splitlines() if line.startswith("L05"))
    assert "caution" in line
    assert "thin slack: L06, 375 kHz away (asks 350)" in line


def test_bound_and_warnings_are_told():
    text = text_of()
    assert "12 links placed; no larger plan exists under these rules (proven: all placed)." in text
    assert "Note: The level of 2 other carriers is not known." in text


def test_cautions_of_law_and_hearing_are_there():
    text = " ".join(text_of().split())
    assert "Spectrum law is local" in text
    assert "In-ear levels can harm hearing" in text


def test_without_any_placed_link_there_is_no_empty_table():
    text = text_of(2, unplaced=2, spares=0)
    assert "Closest conflict" not in text
    assert "Unplaced\nL01" in text


def test_a_name_cannot_send_codes_to_the_terminal():
    text = text_of(job=with_name(make_job(1), "\x1b[31mMara\u202e\x07"))
    assert "\x1b" not in text
    assert "\x07" not in text
    assert "\u202e" not in text


def test_a_very_long_name_is_cut_with_a_mark():
    line = next(line for line in text_of(job=with_name(make_job(1), "a" * 80)).splitlines() if line.startswith("L01"))
    assert "a" * 27 + "…" in line


def test_wide_letters_take_two_cells():
    assert display_width("漢字") == 4
    lines = text_of(job=with_name(make_job(2), "漢字")).splitlines()
    first, second = (next(line for line in lines if line.startswith(label)) for label in ("L01", "L02"))
    assert display_width(first[: first.index("470.500")]) == display_width(second[: second.index("473.625")])


def test_names_can_be_initials():
    assert "Nguyễn" not in text_of(names="initials")


def test_a_caution_on_every_carrier_is_said_once():
    job = make_job(3)
    plan = make_plan(job)
    links = tuple(replace(link, status=Status.CAUTION, cautions=("unmeasured",), noise=None) for link in plan.links)
    text = plan_text(job, replace(plan, links=links), make_facts(job))
    assert text.count("not measured") == 1
    assert "Every carrier  not measured" in text


def test_there_are_no_colour_codes_and_the_text_ends_with_a_line_break():
    text = text_of()
    assert "\x1b" not in text
    assert text.endswith("\n")
    assert not text.endswith("\n\n")
