import numpy as np
import pytest
from brief_examples import SAMPLE, job_of

from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import seats_problem
from bandwright.core.planning.preview import board_of, preview
from bandwright.core.planning.verify import nearest

JOB = job_of(SAMPLE + "".join(f'[[link]]\nid = "M{n}"\nradio = "heron"\n' for n in range(7)))
GRID = np.arange(606_600_000, 613_400_001, 25_000)


def random_carriers(seed):
    rng = np.random.default_rng(seed)
    return {
        link.id: int(hz) for link, hz in zip(JOB.links, rng.choice(GRID, len(JOB.links), replace=False), strict=True)
    }


@pytest.mark.parametrize("seed", range(12))
def test_a_preview_breaks_what_the_check_of_the_whole_list_breaks(seed, authority):
    carriers = random_carriers(seed)
    rng = np.random.default_rng(seed + 100)
    moved, hz = str(rng.choice(list(carriers))), int(rng.choice(GRID))
    found = preview(board_of(JOB, carriers), moved, hz)
    whole = check_carriers(JOB, {**carriers, moved: hz})
    ours = {v.text for v in found.violations}
    theirs = {v.text for v in whole if moved in (v.victim, *v.sources)}
    assert ours <= theirs
    assert found.ok is not bool(theirs)
    authority(
        "Whether a carrier moved by hand breaks a rule",
        source="the check of the whole list (brute force over all links)",
        kind="arithmetic",
        ours=found.ok,
        theirs=not theirs,
    )


@pytest.mark.parametrize("seed", range(12))
def test_those_affected_are_the_links_whose_verdict_differs(seed):
    carriers = random_carriers(seed)
    moved, hz = "L01", int(GRID[seed * 20])
    found = preview(board_of(JOB, carriers), moved, hz)
    before, after = (
        {name for v in check_carriers(JOB, listed) if v.rule in ("spacing", "product") for name in _worse(v)}
        for listed in (carriers, {**carriers, moved: hz})
    )
    others = set(carriers) - {moved}
    assert {item.link for item in found.affected if not item.ok} == (after - before) & others
    assert {item.link for item in found.affected if item.ok} == (before - after) & others


def _worse(violation):
    return (violation.victim, *violation.sources) if violation.rule == "spacing" else (violation.victim,)


@pytest.mark.parametrize("seed", range(6))
def test_what_comes_closest_is_what_the_whole_verifier_finds(seed):
    carriers = random_carriers(seed)
    found = preview(board_of(JOB, carriers), "L01", carriers["L01"]).closest
    problem = seats_problem(JOB, JOB.links)
    whole = nearest(problem, np.array(list(carriers.values()), np.int64))[0]
    other = abs(carriers["L01"] - 611_300_000) - (12_500 + 350_000 + 1) // 2
    assert found.slack_hz == min(whole.offset_hz - whole.required_hz, other)


def test_a_carrier_outside_the_permit_is_told_as_such():
    found = preview(board_of(JOB, random_carriers(1)), "L01", 700_000_000)
    assert {"permit", "tuning"} <= {violation.rule for violation in found.violations}


def test_a_link_that_is_not_on_the_board_is_refused():
    with pytest.raises(KeyError):
        preview(board_of(JOB, {"M1": 606_700_000}), "L01", 607_000_000)
