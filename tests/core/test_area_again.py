"""A plan judged again after edits. Authority: the same plan judged anew each time."""

from __future__ import annotations

from dataclasses import replace

import pytest
from area_examples import HALL, job_of_hall
from brief_examples import changed

from bandwright.core.reach import area_again
from bandwright.core.reach.area_again import AreaMemory
from bandwright.core.reach.area_reach import area_reach
from bandwright.reference import reach_tables

TABLES = reach_tables()
EVERY_S = 600.0
RENAMED = HALL.replace('name = "Mara"\n', 'name = "Ola"\nnote = "late"\n').replace("Mara's ears", "Ola's ears")


@pytest.fixture
def counted(monkeypatch):
    """Return a memory, and the list of plans that it had judged."""
    judged = []

    def counting(job, links, **wishes):
        judged.append(job.title)
        return area_reach(job, links, **wishes, cells=20)

    monkeypatch.setattr(area_again, "area_reach", counting)
    return AreaMemory(TABLES), judged


def same(one, two) -> bool:
    """Whether two plans judged tell the same; maps are arrays."""
    maps = zip(one.kinds, two.kinds, strict=True)
    alike = all((a.reserve_db == b.reserve_db).all() and a.links == b.links for a, b in maps)
    bare = [replace(found, kinds=(), inside=found.inside[:0]) for found in (one, two)]
    return alike and str(bare[0]) == str(bare[1])


def test_a_name_costs_nothing_and_is_the_new_one(counted):
    memory, judged = counted
    first = job_of_hall(HALL)
    memory.area_reach(first, first.links, carriers={}, every_s=EVERY_S)
    job = job_of_hall(RENAMED)
    found = memory.area_reach(job, job.links, carriers={}, every_s=EVERY_S)
    assert len(judged) == 1
    assert [one.facts.link.name for one in found.judged][:1] == ["Ola"]
    assert {one.sender.name for one in found.strong} == {"House talkback", "Ola's ears from Ears"}
    assert same(found, area_reach(job, job.links, carriers={}, tables=TABLES, every_s=EVERY_S, cells=20))


@pytest.mark.parametrize(
    "edit",
    [
        ('hold_mhz = 606.7', 'hold_mhz = 607.7'),
        ('length_m = 25', 'length_m = 45'),
        ('zone = "stage"', 'zone = "backstage"'),
        ('at_m = [3, 0.5]', 'at_m = [4, 0.5]'),
        ('loss_db = 4', 'loss_db = 9'),
        ('path_exponent = 2.6', 'path_exponent = 2.9'),
        ('needs_cn_db = 20', 'needs_cn_db = 22'),
        ('name = "Left"', 'name = "West"'),
        ('radio = "heron"\nhold_mhz = 606.7', 'radio = "heron"\nworn = "hand"\nhold_mhz = 606.7'),
        ('radio = "heron"\nhold_mhz = 606.7', 'radio = "heron"\nbody_loss_db = 20\nhold_mhz = 606.7'),
    ],
)  # fmt: skip
def test_whatever_moves_a_level_is_judged_anew(counted, edit):
    memory, judged = counted
    first = job_of_hall(HALL)
    memory.area_reach(first, first.links, carriers={}, every_s=EVERY_S)
    job = job_of_hall(changed(*edit, text=HALL))
    found = memory.area_reach(job, job.links, carriers={}, every_s=EVERY_S)
    assert len(judged) == 2
    assert same(found, area_reach(job, job.links, carriers={}, tables=TABLES, every_s=EVERY_S, cells=20))


def test_a_job_without_a_plan_has_nothing_to_remember(counted):
    memory, judged = counted
    job = replace(job_of_hall(HALL), area=None)
    assert memory.area_reach(job, job.links, carriers={}, every_s=EVERY_S) is None
    assert judged == []
