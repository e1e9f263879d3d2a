"""A plan in words for a page: the same sentences as on the sheets."""

from dataclasses import replace

from bandwright.core.planning.plan import (
    Bound,
    BoundStatus,
    Closest,
    Kept,
    Moved,
    Noise,
    NoiseState,
    PlacedLink,
    Plan,
    Spare,
    Status,
)
from bandwright.service.plan_words import plan_words

CLOSEST = Closest(
    rule="product",
    family="2A-B",
    sources=("L03", "L07"),
    product_hz=606_825_000,
    offset_hz=125_000,
    required_hz=100_000,
)
QUIET = Noise(state=NoiseState.QUIET, value=-98.4, unit="dBm", over_hz=200_000)


def plan_of(link: PlacedLink, *spares: Spare) -> Plan:
    bound = Bound(about="links placed", status=BoundStatus.PROVEN, found=12, upper_bound=12, method="all are placed")
    return Plan(number=1, links=(link,), spares=spares, unplaced=(), bound=bound, warnings=())


def placed(**wishes) -> PlacedLink:
    return PlacedLink(id="L01", name="Mara", radio="heron", carrier_hz=606_700_000, status=Status.CAUTION, **wishes)


def test_each_carrier_says_what_is_closest_what_the_sweep_shows_and_why_it_asks_for_caution():
    words = plan_words(plan_of(placed(closest=CLOSEST, noise=QUIET, cautions=("thin-slack", "unmeasured"))))
    link = words.carriers["L01"]
    assert link.closest == "2 x L03 - L07, 125 kHz away (asks 100)"
    assert link.noise == "quiet to -98 dBm"
    assert link.cautions == ("thin slack", "not measured")


def test_a_plan_says_how_many_carriers_of_an_earlier_one_it_keeps_and_whether_more_could_be():
    assert plan_words(plan_of(placed())).kept is None
    moved = (Moved(id="L03", from_hz=606_725_000, to_hz=607_100_000),)
    kept = Kept(of="Plan 3", status=BoundStatus.PROVEN, had=30, moved=moved, new=())
    told = plan_words(replace(plan_of(placed()), kept=kept)).kept
    assert told.startswith("29 of 30 carriers of Plan 3 are kept, and no plan that places as much keeps more (proven).")


def test_what_is_not_known_has_no_words_and_spare_carriers_have_theirs():
    spare = Spare(id="heron-spare-1", radio="heron", carrier_hz=607_000_000, noise=QUIET)
    words = plan_words(plan_of(placed(), spare))
    assert (words.carriers["L01"].closest, words.carriers["L01"].noise) == (None, None)
    assert words.carriers["heron-spare-1"].noise == "quiet to -98 dBm"
    assert words.carriers["heron-spare-1"].closest is None


def test_how_good_the_plan_is_stands_in_one_sentence():
    words = plan_words(plan_of(placed()))
    assert words.bound == "12 links placed; no larger plan exists under these rules (proven: all are placed)."
