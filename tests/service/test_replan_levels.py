"""Replanning by levels: the links that must move anyway go where the worst link is best off, and nobody else moves."""

import pytest

from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.change import with_lost
from bandwright.core.reach.stage import stage_of
from bandwright.engines.levels import adverse_levels, worst_ratio_db
from bandwright.reference import tables as reference
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief
from bandwright.service.replan import replan_brief

HEAD = """
[job]
title = "Levels"
[[permit]]
id = "e"
reference = "e"
state = "granted"
windows_mhz = [[606.5, 611.5]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 470.1, high_mhz = 693.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
clearance_khz = { "2A-B" = 50 }
power_mw = [50]
iip3_dbm = 0
needs_cn_db = 30
transmit_im_loss_db = 10
peak_deviation_khz = 48
"""
CARRIERS_HZ = {"Mara": 607_000_000, "Theo": 607_600_000, "Lena": 608_400_000, "Ivo": 609_500_000, "Nell": 610_900_000}
LOST = "Theo"


def _brief(tmp_path, *, objective="levels", held=()):
    at = "".join(
        f'[[link]]\nid = "{name}"\nradio = "heron"\ndistance_m = {6 + 5 * number}\n'
        + (f"hold_mhz = {CARRIERS_HZ[name] / 1e6:.3f}\n" if name in held else "")
        for number, name in enumerate(CARRIERS_HZ)
    )
    path = tmp_path / f"{objective}.toml"
    path.write_text(f'{HEAD}{at}[plan]\nobjective = "{objective}"\ntime_limit_s = 20\n')
    return path


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "carriers.csv"
    path.write_text("link,mhz\n" + "".join(f"{name},{hz / 1e6:.3f}\n" for name, hz in CARRIERS_HZ.items()))
    return path


def _worst_db(job, carriers):
    compiled = compile_job(job)
    model = adverse_levels(compiled, stage_of(job, compiled.seats, tables=reference.reach_tables()))
    hz = [carriers.get(seat.id, -1) for seat in compiled.seats]
    return worst_ratio_db(model, [*hz, *(item.carrier_hz for item in compiled.problem.fixed)])


def _every_place(job):
    """Return the worst ratio for each carrier that the lost link may have while all others stay."""
    for hz in range(606_600_000, 611_400_001, 25_000):
        carriers = {**CARRIERS_HZ, LOST: hz}
        if not check_carriers(job, carriers):
            yield _worst_db(job, carriers)


def test_the_one_link_that_must_move_goes_where_the_worst_is_best_off(tmp_path, plan, authority):
    brief = _brief(tmp_path)
    found = replan_brief(Context(), brief, plan, lost=[LOST])
    assert [move.link for move in found.change.moves] == [LOST]
    after = {link.id: link.carrier_hz for link in found.planned.plan.links}
    assert {name: hz for name, hz in after.items() if name != LOST} == {
        name: hz for name, hz in CARRIERS_HZ.items() if name != LOST
    }
    job = with_lost(load_brief(Context(), brief).job, {LOST: CARRIERS_HZ[LOST]})
    authority(
        "Worst carrier to interference after the one lost link moved, in dB",
        source="every carrier that breaks no rule while the others stay, one by one",
        ours=_worst_db(job, after),
        theirs=max(_every_place(job)),
        tolerance=0.01,
        kind="arithmetic",
    )
    assert not check_carriers(job, after)


def test_by_levels_no_more_links_move_than_without(tmp_path, plan):
    by_room, by_levels = (
        replan_brief(Context(), _brief(tmp_path, objective=objective), plan, lost=[LOST, "Ivo"])
        for objective in ("room", "levels")
    )
    assert {move.link for move in by_levels.change.moves} == {move.link for move in by_room.change.moves}
    assert by_levels.change.fewest is by_room.change.fewest
    assert by_levels.planned.stopped == by_room.planned.stopped
    job = with_lost(load_brief(Context(), _brief(tmp_path)).job, {name: CARRIERS_HZ[name] for name in (LOST, "Ivo")})
    one, two = (
        _worst_db(job, {link.id: link.carrier_hz for link in found.planned.plan.links})
        for found in (by_room, by_levels)
    )
    assert two >= one


def test_while_somebody_breaks_a_rule_and_has_to_stay_nothing_is_raised_and_that_is_told(tmp_path, plan):
    found = replan_brief(Context(), _brief(tmp_path, held=(LOST,)), plan, lost=[LOST, "Ivo"])
    assert [item.link for item in found.change.stuck] == [LOST]
    (note,) = [item for item in found.planned.plan.warnings if item.code == "levels-not-raised"]
    assert note.text == "Carriers were not chosen by their levels: Theo cannot move and breaks a rule."


def test_where_nothing_has_to_move_nothing_moves(tmp_path, plan):
    found = replan_brief(Context(), _brief(tmp_path), plan)
    assert found.change.moves == ()
    assert {link.id: link.carrier_hz for link in found.planned.plan.links} == CARRIERS_HZ
