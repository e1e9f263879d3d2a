"""How good a plan is, in words: bounds, and wishes that cannot hold together."""

from __future__ import annotations

import pytest
from brief_examples import SAMPLE, job_of

from bandwright.core.planning.bounds import Bound as Ceiling
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.plan import Bound, BoundStatus
from bandwright.core.planning.quality import conflict_of, links_of, plan_bound

EAR = """
[[radio]]
id = "ear"
direction = "to-person"
tuning = [{ low_mhz = 606.6, high_mhz = 613.4, step_khz = 25 }]
emission = "fm-stereo"
bandwidth_khz = 200
power_mw = 10
spacing_khz = 500
clearance_khz = { "2A-B" = 150 }
"""


def compiled(links, *, text=SAMPLE, radio="heron"):
    wanted = "".join(f'[[link]]\nid = "L{number:02}"\nradio = "{radio}"\n' for number in range(2, links + 1))
    return compile_job(job_of(text + EAR + wanted))


def found(upper, method, status):
    return Bound(about="links placed", status=status, found=2, upper_bound=upper, method=method)


def test_all_links_placed_need_no_bound_and_missing_spare_carriers_do_not_count():
    bound = plan_bound(compiled(2), [606_700_000, 607_300_000, -1, -1])
    assert bound == found(2, "all are placed", BoundStatus.PROVEN)


def test_where_others_have_no_open_carrier_no_larger_plan_exists():
    shut = SAMPLE.replace('worn = "body"', 'worn = "body"\nhold_mhz = 611.3')  # on the house talkback
    bound = plan_bound(compiled(3, text=shut), [-1, 606_700_000, 607_300_000, -1, -1])
    assert bound == found(2, "open candidates", BoundStatus.PROVEN)


def test_the_lower_of_what_is_counted_and_what_is_known_already_bounds_the_plan():
    problem = compiled(30)
    carriers = [606_700_000, 607_300_000, *[-1] * 30]
    counted = plan_bound(problem, carriers)
    assert (counted.status, counted.method) == (BoundStatus.BOUNDED, "counting differences")
    assert 11 <= counted.upper_bound < 20
    assert plan_bound(problem, carriers, Ceiling(upper_bound=30, method="other")) == counted
    assert plan_bound(problem, carriers, Ceiling(upper_bound=4, method="exact search")) == found(
        4, "exact search", BoundStatus.BOUNDED
    )
    assert plan_bound(problem, carriers, Ceiling(upper_bound=2, method="exact search")).status is BoundStatus.PROVEN


def test_links_are_told_from_spare_carriers():
    assert links_of(compiled(3)) == (0, 1, 2)


WHERE = "606.500-613.500 MHz under spacing 350 kHz, 2A-B 100 kHz, A+B-C 50 kHz and 3A-2B 50 kHz"


@pytest.mark.parametrize(
    ("members", "proven", "remedies", "text"),
    [
        ((0,), True, (), f"L01 (heron) cannot be placed in {WHERE} (proven)."),
        (
            (0, 1),
            True,
            ("TV channel 37 as well (beside P)",),
            f"These 2 links of heron (L01 and L02) cannot share {WHERE} (proven); either of them can. "
            "All of them fit with TV channel 37 as well (beside P).",
        ),
        (
            (0, 1, 2, 3, 4, 5, 6, 7),
            False,
            ("family 2A-B off", "A+B-C at 25 kHz in place of 50 kHz"),
            f"These 8 links of heron (L01, L02, L03, L04, L05 and others) found no room together in {WHERE} "
            "(suspected: none was found, none is ruled out); any 7 of them can. "
            "All of them fit with family 2A-B off; or with A+B-C at 25 kHz in place of 50 kHz.",
        ),
        (
            (0, 8),
            True,
            (),
            f"These 2 carriers of heron (L01 and heron-spare-1) cannot share {WHERE} (proven); either of them can.",
        ),
    ],
)
def test_wishes_that_cannot_hold_together_are_told_as_a_sentence(members, proven, remedies, text):
    conflict = conflict_of(compiled(8), members, proven=proven, remedies=remedies)
    assert conflict.text == text
    assert (len(conflict.links), conflict.proven, conflict.remedies) == (len(members), proven, remedies)


def test_several_types_are_counted_apart_and_windows_are_those_that_are_open_to_any_of_them():
    text = SAMPLE.replace("[[606.5, 613.5]]", "[[470, 478], [500, 501], [606.5, 613.5]]").replace("470.1", "500.1")
    mixed = compile_job(job_of(f'{text}{EAR}[[link]]\nid = "E01"\nradio = "ear"\n'))
    conflict = conflict_of(mixed, (0, 1), proven=True, remedies=())
    assert conflict.text == (
        "These 2 links (1 of heron and 1 of ear: L01 and E01) cannot share 500.000-501.000 MHz and "
        "606.500-613.500 MHz under the rules of their types (proven); either of them can."
    )


def test_many_windows_are_counted_and_none_is_said_so():
    many = SAMPLE.replace("[[606.5, 613.5]]", "[[500, 501], [520, 521], [530, 531], [540, 541]]")
    assert " share 4 windows under " in conflict_of(compiled(2, text=many), (0, 1), proven=True, remedies=()).text
    shut = SAMPLE.replace("[[606.5, 613.5]]", "[[700, 701]]")
    told = conflict_of(compiled(2, text=shut), (0,), proven=True, remedies=()).text
    assert " cannot be placed in the permits: no carrier is open to it (proven)." in told
    told = conflict_of(compiled(2, text=shut), (0, 1), proven=True, remedies=()).text
    assert " cannot share the permits: no carrier is open to them (proven)" in told
