"""Why: every rule with its culprits, what asks, what would help; the fewest that must move against every subset."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.job import Block, Isolation, Job, PairRule, Place
from bandwright.core.kit import Direction, Emission, Link, MakesProducts, Other, RadioType, TuningRange, Unit, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.explain import explain
from bandwright.core.when import TimeSpan
from bandwright.sheets.why_text import why_text

MHZ = 1_000_000
RADIO = RadioType(
    id="heron",
    name="Heron",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(("2A-B", 100_000), ("A+B-C", 50_000)),
    tuning=(TuningRange(low_hz=606 * MHZ, high_hz=630 * MHZ, step_hz=25_000),),
    front_end_window_hz=6 * MHZ,
)
RASTER = TvRaster(
    id="r",
    name="r",
    source="test",
    channels=tuple(
        TvChannel(label=str(n), span=Span((606 + 8 * i) * MHZ, (614 + 8 * i) * MHZ)) for i, n in enumerate((38, 39, 40))
    ),
)
PLACE = Place(id="quay", name="quay", timezone="UTC", raster=RASTER, tv_closed=("40",))
PERMIT = Permit(
    id="p", reference="LQ-1", state=PermitState.GRANTED, windows=(Span(606_500_000, 629_000_000),), grid_hz=25_000
)


def link(name, **more):
    return Link(**{"id": name, "name": name, "radio": RADIO, "worn": Worn.BODY, **more})


def job(links=(), **more):
    return Job(
        **{"title": "T", "places": (PLACE,), "permits": (PERMIT,), "radios": (RADIO,), "links": tuple(links), **more}
    )


def stops(found):
    return [finding for finding in found.findings if finding.stops]


@pytest.mark.parametrize(
    ("hz", "more", "rule", "remedy"),
    [
        (606_550_000, {}, "permit", "a permit that covers 606.450-606.650 MHz"),
        (607_012_500, {}, "grid", "a carrier on the grid: 607.000 MHz or 607.025 MHz"),
        (607_012_500, {}, "tuning", "a carrier it can be set to: 607.000 MHz or 607.025 MHz"),
        (623_000_000, {}, "tv", "TV channel 40 off the air, and out of tv_closed"),
        (611_400_000, {}, "other", "House talkback off the air, or a smaller keep_away_khz agreed with them"),
        (607_000_000, {"hold_hz": 608 * MHZ}, "hold", "its hold_mhz taken away"),
        (609_000_000, {}, "block", "block B changed"),
    ],
)
def test_each_rule_says_what_it_takes(hz, more, rule, remedy):
    other = Other(id="talk", name="House talkback", carrier_hz=611_300_000, bandwidth_hz=12_500)
    block = Block(id="B", names=("ears",), windows=(Span(608_500_000, 609_500_000),), keep_out=True)
    subject = link("a", **more)
    a_job = job([subject, link("b", role="ears")], others=(other,), blocks=(block,))
    found = explain(a_job, subject, hz)
    told = {finding.rule: finding for finding in stops(found)}
    assert told[rule].remedy == remedy
    assert rule in found.opening.stays


def test_the_law_comes_first_then_what_others_do_then_what_our_links_break_worst_first():
    links = [link(f"L{i}") for i in range(5)]
    placed = {"L1": 629_200_000, "L2": 628_800_000, "L3": 628_900_000, "L4": 629_050_000}
    found = explain(job(links), links[0], 629_050_000, placed=placed)
    rules = [finding.rule for finding in stops(found)]
    assert rules[:2] == ["permit", "tv"]
    assert rules[2] == "spacing"
    slacks = [f.offset_hz - f.required_hz for f in stops(found) if f.rule == "spacing"]
    assert slacks == sorted(slacks)
    assert len(slacks) == 4


def test_spacing_says_what_asks_for_it_and_products_whose_clearance():
    rule = PairRule(id="belt", one="a", two="b", spacing_hz=8 * MHZ)
    a_job = job([link("a"), link("b"), link("c")], pairs=(rule,))
    found = explain(a_job, a_job.links[0], 612 * MHZ, placed={"b": 610 * MHZ, "c": 611 * MHZ})
    assert {(f.rule, f.family, f.asked_by) for f in stops(found)} == {
        ("spacing", None, "pair rule belt"),
        ("product", "2A-B", "the 2A-B clearance of Heron"),
        ("product", "A+B-C", "the A+B-C clearance of Heron"),
    }


def test_links_on_one_box_say_whose_window_it_is():
    a_job = job([link("a", unit="u"), link("b", unit="u")], units=(Unit(id="u", name="u", radio="heron"),))
    (finding,) = stops(explain(a_job, a_job.links[0], 607 * MHZ, placed={"b": 613_025_000}))
    assert (finding.rule, finding.asked_by) == ("unit", "the front-end window of unit u")
    assert finding.remedy == "b moved, or received by another box"


def test_a_lead_and_its_backup_on_one_box_are_stopped_on_every_carrier_as_check_says():
    lead, backup = link("lead", unit="u", apart_from=("backup",)), link("backup", unit="u")
    a_job = job((lead, backup, link("third", unit="u")), units=(Unit(id="u", name="Unit", radio="heron"),))
    placed = {"lead": 607 * MHZ, "backup": 613 * MHZ, "third": 610 * MHZ}
    for item, other, mhz in ((lead, "backup", 612), (backup, "lead", 611)):
        found = explain(a_job, item, mhz * MHZ, placed=placed)
        (stop,) = [finding for finding in stops(found) if finding.offset_hz is None]
        assert (stop.rule, stop.sources, found.opening.stays) == ("unit", (other,), ("unit",))
        assert stop.remedy == f"another unit for {item.id} or {other}"
        broken = check_carriers(a_job, {**placed, item.id: mhz * MHZ})
        assert ("unit", "lead", ("backup",)) in [(v.rule, v.victim, v.sources) for v in broken]
    assert not stops(explain(a_job, a_job.links[2], 609_400_000, placed=placed))


def test_without_a_plan_the_links_that_the_brief_holds_count():
    a_job = job([link("a"), link("b", hold_hz=607 * MHZ), link("c")])
    found = explain(a_job, a_job.links[0], 607_200_000)
    assert found.beside == "held links"
    assert [(f.rule, f.sources) for f in stops(found)] == [("spacing", ("b",))]
    assert found.opening.links is None
    assert found.opening.immovable == ("b",)
    assert "Nothing of ours that moves opens it: spacing (b, held or never moved)" in why_text(found)


def test_what_is_not_asked_says_why():
    noon = datetime(2027, 5, 14, 12, tzinfo=UTC)
    hours = [(TimeSpan(start=noon.replace(hour=h), end=noon.replace(hour=h + 2)),) for h in (8, 10)]
    links = [
        link("a", earshots=frozenset({"main"}), on_air=hours[0]),
        link("b", earshots=frozenset({"hall"})),
        link("c", earshots=frozenset({"main"}), on_air=hours[1]),
        link("d", earshots=frozenset({"yard"})),
    ]
    a_job = job(links, isolations=(Isolation(one="main", two="hall", isolation_db=65),))
    found = explain(a_job, links[0], 610 * MHZ, placed={"b": 610_100_000, "c": 610_200_000, "d": 609_700_000})
    assert found.allowed
    assert {(item.sources, item.reason.text) for item in found.unasked if item.family is None} == {
        (("b",), "isolated by 65 dB between main and hall"),
        (("c",), "not on the air at the same time"),
        (("d",), "no common earshot, and no isolation stated between theirs"),
    }
    assert "b on 610.100 MHz is 100 kHz away; not asked: isolated by 65 dB" in " ".join(why_text(found).split())


def test_across_a_modest_isolation_spacing_still_stops_and_products_are_not_asked():
    links = [link("a", earshots=frozenset({"main"})), *(link(n, earshots=frozenset({"hall"})) for n in "bc")]
    a_job = job(links, isolations=(Isolation(one="main", two="hall", isolation_db=40),))
    placed = {"b": 610 * MHZ, "c": 611 * MHZ}
    found = explain(a_job, links[0], 612 * MHZ, placed=placed)  # 2A-B of c and b
    assert found.allowed
    assert found.unasked[0].reason.text == "isolated by 40 dB between main and hall"
    assert [f.rule for f in stops(explain(a_job, links[0], 610_300_000, placed=placed))] == ["spacing"]


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_those_named_to_move_open_the_carrier_and_no_fewer_do(data):
    steps = st.integers(0, 60).map(lambda k: 607 * MHZ + 100_000 * k)
    links = [link(f"L{i}", movable=data.draw(st.sampled_from(["now", "now", "break", "never"]))) for i in range(6)]
    a_job = job(links)
    placed = {item.id: data.draw(steps) for item in links[1:]}
    hz = data.draw(steps)
    found = explain(a_job, links[0], hz, placed=placed)

    def opens(gone):
        rest = {name: at for name, at in placed.items() if name not in gone}
        broken = check_carriers(a_job, {**rest, "L0": hz})
        return not any("L0" in (v.victim, *v.sources) for v in broken)

    may = [item.id for item in links[1:] if item.movable != "never"]
    ways = [some for n in range(len(may) + 1) for some in itertools.combinations(may, n) if opens(some)]
    if found.allowed:
        assert found.opening is None
        assert ways[0] == ()
    elif not ways:
        assert found.opening.links is None
        assert set(found.opening.immovable) <= {item.id for item in links if item.movable == "never"}
    else:
        assert found.opening.proven
        assert opens(found.opening.links)
        assert len(found.opening.links) == len(ways[0])


def test_many_broken_products_are_cut_short_on_screen_and_nowhere_else():
    links = [link(f"L{i}") for i in range(12)]
    a_job = job(links)
    placed = {item.id: 607 * MHZ + 400_000 * i for i, item in enumerate(links)}
    found = explain(a_job, links[0], 607_000_000, placed=placed)
    assert len(stops(found)) > 12
    assert f"and {len(stops(found)) - 12} more; --json lists them all" in why_text(found)
    assert max(map(len, why_text(found, columns=70).split("\n"))) <= 70


def test_a_spare_carrier_of_the_plan_may_have_to_move_too():
    spare = replace(link("heron-spare-1"), spare_at=("quay",), priority=-1_000_000)
    a_job = job([link("a")])
    found = explain(a_job, a_job.links[0], 610 * MHZ, placed={"heron-spare-1": 610_100_000}, more=(spare,))
    assert found.opening.links == ("heron-spare-1",)


def test_every_rule_that_a_carrier_breaks_is_told_among_many_links_that_are_in_each_others_way():
    links = [link(f"L{i:02}") for i in range(24)]
    a_job = job(links)
    placed = {item.id: 607 * MHZ + 25_000 * i for i, item in enumerate(links)}  # far too near to each other
    found = explain(a_job, links[0], 620 * MHZ, placed=placed)
    others = check_carriers(a_job, {**placed, "L00": 620 * MHZ})
    assert len([v for v in others if v.rule in ("product", "spacing")]) == 2_000  # all that check lists at most
    plain = [
        (family, victim, (a, b, *rest))
        for family, more in (("2A-B", 0), ("A+B-C", 1))
        for a, b, *rest in itertools.permutations(placed, 2 + more)
        for victim in placed
        if "L00" in (a, b, *rest, victim) and breaks(family, victim, (a, b, *rest), {**placed, "L00": 620 * MHZ})
    ]
    assert len([f for f in stops(found) if f.rule == "product"]) == len(plain)


def breaks(family, victim, some, f):
    c = {"2A-B": (2, -1), "A+B-C": (1, 1, -1)}[family]
    if (victim in some and c[some.index(victim)] == 1) or (family == "A+B-C" and some[0] > some[1]):
        return False
    return abs(sum(k * f[n] for k, n in zip(c, some, strict=True)) - f[victim]) < dict(RADIO.clearance_hz)[family]


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_what_stops_a_carrier_beside_others_is_what_check_finds_with_the_link_in_it(data):
    steps = st.integers(0, 40).map(lambda k: 607 * MHZ + 100_000 * k)
    links = [link(f"L{i}", earshots=frozenset(data.draw(st.sets(st.sampled_from("ab"))))) for i in range(5)]
    others = tuple(
        Other(
            id=f"o{i}",
            name=f"o{i}",
            carrier_hz=data.draw(steps) + 12_500,
            bandwidth_hz=12_500,
            keep_away_hz=1,
            makes_products=data.draw(st.sampled_from(list(MakesProducts))),
            level_dbm=data.draw(st.sampled_from([None, -70.0, -50.0])),
            protect=data.draw(st.booleans()),
            clearance_hz=(("2A-B", 60_000), ("A+B-C", 60_000)),
        )
        for i in range(data.draw(st.integers(0, 2)))
    )
    a_job = job(links, others=others)
    placed = {item.id: data.draw(steps) for item in links[1:]}
    hz = data.draw(steps)
    found = explain(a_job, links[0], hz, placed=placed)
    broken = check_carriers(a_job, {**placed, "L0": hz})
    theirs = [v for v in broken if v.rule in ("product", "spacing") and "L0" in (v.victim, *v.sources)]
    pairs = {frozenset((v.victim, *v.sources)) for v in theirs if v.rule == "spacing"}
    assert sorted(f.text for f in stops(found) if f.rule == "product") == sorted(
        v.text for v in theirs if v.rule == "product"
    )
    assert {frozenset(("L0", *f.sources)) for f in stops(found) if f.rule == "spacing"} == pairs
