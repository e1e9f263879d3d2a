"""Mixed kit in one problem: rules by pair, block, unit and earshot, against the definitions written out."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core.bands import Span
from bandwright.core.job import Block, Isolation, Job, PairRule, Place
from bandwright.core.kit import Direction, Emission, Link, Other, Preset, RadioType, TuningRange, Unit, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.assess import assess_plan
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.carriers import examine_carriers
from bandwright.core.planning.earshot import isolation_warnings
from bandwright.core.planning.pairs import asked_of, far_matrix, near_matrix, rule_between, spacing_hz
from bandwright.core.planning.units import unit_warnings
from bandwright.core.products import FAMILIES
from bandwright.core.when import TimeSpan
from bandwright.engines.solve import solve

KHZ = 1000
MHZ = 1_000_000
NOON = datetime(2027, 5, 14, 12, tzinfo=UTC)


def radio(name, **more):
    return RadioType(
        **{
            "id": name,
            "name": name,
            "direction": Direction.FROM_PERSON,
            "emission": Emission.FM,
            "bandwidth_hz": 200 * KHZ,
            "spacing_hz": 350 * KHZ,
            "clearance_hz": (("2A-B", 100 * KHZ), ("A+B-C", 50 * KHZ)),
            "tuning": (TuningRange(low_hz=606 * MHZ, high_hz=614 * MHZ, step_hz=25 * KHZ),),
            **more,
        }
    )


MICROPHONE = radio("heron")
IN_EAR = radio("siskin", direction=Direction.TO_PERSON, spacing_hz=500 * KHZ)
PERMIT = Permit(id="p", reference="p", state=PermitState.GRANTED, windows=(Span(600 * MHZ, 640 * MHZ),))


def link(name, kind=MICROPHONE, **more):
    return Link(id=name, name=name, radio=kind, worn=Worn.BODY, **more)


def job(links=(), **more):
    return Job(
        **{
            "title": "Test",
            "places": (Place(id="quay", name="quay", timezone="UTC"),),
            "permits": (PERMIT,),
            "radios": (MICROPHONE, IN_EAR),
            "links": tuple(links),
            **more,
        }
    )


# --------------------------------------------------------------------------------------------------------- pair rules


def test_an_in_ear_stays_eight_megahertz_from_the_microphone_on_the_same_belt():
    wide = (TuningRange(low_hz=606 * MHZ, high_hz=618 * MHZ, step_hz=25 * KHZ),)
    belts = [
        (
            link(f"m{i}", replace(MICROPHONE, tuning=wide), wearer=f"w{i}"),
            link(f"e{i}", replace(IN_EAR, tuning=wide), wearer=f"w{i}"),
        )
        for i in range(3)
    ]
    rule = PairRule(id="belt", one="siskin", two="heron", spacing_hz=8 * MHZ, where="same-wearer")
    a_job = job([item for belt in belts for item in belt], pairs=(rule,))
    compiled = compile_job(a_job)
    found = dict(
        zip([seat.id for seat in compiled.seats], solve(compiled.problem, time_limit_s=30).carriers_hz, strict=True)
    )
    assert min(found.values()) > 0
    assert all(abs(found[f"m{i}"] - found[f"e{i}"]) >= 8 * MHZ for i in range(3))
    closer = {**found, "e0": found["m0"] + 7_975_000}
    told = {(v.rule, v.victim, v.sources, v.required_hz) for v in check_carriers(a_job, closer)}
    assert ("spacing", "m0", ("e0",), 8 * MHZ) in told or ("spacing", "e0", ("m0",), 8 * MHZ) in told


def test_the_most_specific_pair_rule_counts_whatever_the_order():
    narrow = radio("heron/narrow")
    one = link("a", narrow, role="lead", wearer="Mara", rack="A")
    two = link("b", IN_EAR, role="ears", wearer="Mara", rack="A")
    ascending = [
        ("heron", "siskin", "anywhere", 1),
        ("heron", "siskin", "anywhere", 2),  # of equals the larger spacing
        ("heron/narrow", "siskin", "anywhere", 3),
        ("lead", "siskin", "anywhere", 4),
        ("lead", "ears", "anywhere", 5),
        ("a", "siskin", "anywhere", 6),
        ("a", "ears", "anywhere", 7),
        ("a", "b", "anywhere", 8),
        ("heron", "siskin", "same-rack", 9),
        ("b", "a", "same-wearer", 10),
    ]
    rules = [
        PairRule(id=f"r{i}", one=x, two=y, spacing_hz=mhz * MHZ, where=where)
        for i, (x, y, where, mhz) in enumerate(ascending)
    ]
    for some in itertools.combinations(rules, 2):
        for order in (some, some[::-1]):
            a_job = job([one, two], radios=(MICROPHONE, narrow, IN_EAR), pairs=order)
            assert rule_between(a_job, one, two) is rule_between(a_job, two, one) is some[1]
            assert asked_of(a_job, one, two).by == f"pair rule {some[1].id}"


def test_a_pair_rule_asks_nothing_of_links_it_does_not_name_or_that_are_worn_elsewhere():
    rule = PairRule(id="r", one="lead", two="siskin", spacing_hz=8 * MHZ, where="same-rack")
    units = (Unit(id="u", name="u", radio="heron", rack="A"), Unit(id="v", name="v", radio="siskin", rack="A"))
    a_job = job(pairs=(rule,), units=units)
    lead = link("a", role="lead", unit="u")
    assert spacing_hz(a_job, lead, link("b", IN_EAR, unit="v")) == 8 * MHZ  # the rack of their units
    assert spacing_hz(a_job, lead, link("b", IN_EAR, rack="B", unit="v")) == 500 * KHZ
    assert spacing_hz(a_job, link("a", unit="u"), link("b", IN_EAR, unit="v")) == 500 * KHZ
    assert spacing_hz(a_job, link("a"), link("b", IN_EAR)) == 500 * KHZ


def test_a_lead_and_its_backup_lie_four_megahertz_apart_whatever_else_is_asked():
    lead, backup = link("a", apart_from=("b",)), link("b")
    rule = PairRule(id="r", one="a", two="b", spacing_hz=1)
    assert spacing_hz(job(pairs=(rule,)), lead, backup) == 4 * MHZ
    assert "apart_from" in asked_of(job(), backup, lead).by


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_the_matrix_of_spacings_is_what_is_asked_of_each_two_links(data):
    names = st.sampled_from(["heron", "siskin", "lead", "L0", "L1"])
    pairs = tuple(
        PairRule(
            id=f"r{i}",
            one=data.draw(names),
            two=data.draw(names),
            spacing_hz=data.draw(st.integers(1, 9)) * 100 * KHZ,
            where=data.draw(st.sampled_from(["anywhere", "same-wearer", "same-rack"])),
        )
        for i in range(data.draw(st.integers(0, 3)))
    )
    links = [
        link(
            f"L{i}",
            data.draw(st.sampled_from([MICROPHONE, IN_EAR])),
            role=data.draw(st.sampled_from([None, "lead"])),
            wearer=data.draw(st.sampled_from([None, "Mara", "Ines"])),
            rack=data.draw(st.sampled_from([None, "A"])),
            earshots=frozenset(data.draw(st.sets(st.sampled_from("ab"), max_size=1))),
            apart_from=data.draw(st.sampled_from([(), ("L0",), ("L2",)])),
            spare_at=data.draw(st.sampled_from([(), (), ("quay",)])),
        )
        for i in range(data.draw(st.integers(2, 6)))
    ]
    a_job = job(links, pairs=pairs, isolations=(Isolation(one="a", two="b", isolation_db=45),))
    near = near_matrix(a_job, links, 1)
    for i, j in itertools.product(range(len(links) + 1), repeat=2):
        both = i != j and max(i, j) < len(links)
        assert near[i, j] == (spacing_hz(a_job, links[i], links[j]) if both else 0)


# -------------------------------------------------------------------------------------------------------------- units


def test_receiver_channels_of_one_box_share_its_front_end_window_where_the_type_says_so():
    window = replace(MICROPHONE, front_end_window_hz=2 * MHZ)
    seats = [link("a", window, unit="u"), link("b", window, unit="u"), link("c", window, unit="v"), link("d", unit="u")]
    assert far_matrix(seats, 1)[:3, :3].tolist() == [[0, 2 * MHZ, 0], [2 * MHZ, 0, 0], [0, 0, 0]]
    own = replace(window, front_end_shared=False)
    assert not far_matrix([link("a", own, unit="u"), link("b", own, unit="u")], 0).any()
    late = link("b", window, unit="u", on_air=(TimeSpan(start=NOON, end=NOON + timedelta(hours=1)),))
    early = link("a", window, unit="u", on_air=(TimeSpan(start=NOON - timedelta(hours=1), end=NOON),))
    assert not far_matrix([early, late], 0).any()


def test_a_plan_keeps_the_receiver_channels_of_a_box_inside_its_window():
    window = replace(MICROPHONE, front_end_window_hz=2 * MHZ)
    links = [link(f"{u}{i}", window, unit=u) for u in "uv" for i in range(3)]
    a_job = job(links, units=(Unit(id="u", name="u", radio="heron"), Unit(id="v", name="v", radio="heron")))
    compiled = compile_job(a_job)
    found = solve(compiled.problem, time_limit_s=30)
    assert found.placed == 6
    for three in (found.carriers_hz[:3], found.carriers_hz[3:]):
        assert max(three) - min(three) <= 2 * MHZ
    wide = {item.id: hz for item, hz in zip(links, found.carriers_hz, strict=True)}
    wide["u0"] = wide["u1"] + 2_025_000
    assert ("unit", 2 * MHZ) in {(v.rule, v.required_hz) for v in check_carriers(a_job, wide)}


# ------------------------------------------------------------------------------------------------------------- blocks


@pytest.mark.parametrize(
    ("name", "hz", "closed"),
    [
        ("ears", 606_575_000, True),
        ("ears", 606_600_000, False),  # its whole bandwidth, the edge included
        ("ears", 610_000_000, True),
        ("mic", 606_400_000, False),
        ("mic", 606_425_000, True),
        ("mic", 608_600_000, False),
        ("mic", 610_900_000, False),
    ],
)
def test_a_block_holds_those_it_names_and_keeps_others_out(name, hz, closed):
    block = Block(id="B", names=("in-ear",), windows=(Span(606_500_000, 608_500_000),), keep_out=True)
    hall = Block(id="H", names=("mic",), windows=(Span(1, 2),), place="hall")
    a_job = job([link("ears", role="in-ear"), link("mic")], blocks=(block, hall))
    subject = {item.id: item for item in a_job.links}[name]
    assert examine_carriers(a_job, subject, [hz]).closed["block"].tolist() == [closed]
    told = [v for v in check_carriers(a_job, {name: hz}) if v.rule == "block"]
    assert bool(told) == closed
    if closed:
        assert told[0].sources == ("B",)
        word = "lies outside 606.500-608.500 MHz, where in-ear must be" if name == "ears" else "kept for in-ear"
        assert word in told[0].text


# ------------------------------------------------------------------------------- everything at once, by definition


MOMENTS = [NOON + timedelta(minutes=30 * k) for k in range(12)]


def at_once(*items):
    return any(
        all(not item.on_air or any(span.start <= moment < span.end for span in item.on_air) for item in items)
        for moment in MOMENTS
    )


def heard_db(a_job, one, two):
    """Isolation between two links of at most one earshot each."""
    if not one.earshots or not two.earshots or one.earshots & two.earshots:
        return 0.0
    pair = {*one.earshots, *two.earshots}
    return min((i.isolation_db for i in a_job.isolations if {i.one, i.two} == pair), default=1e9)


def plainly_asked(a_job, one, two):
    asked = max(one.radio.spacing_hz, two.radio.spacing_hz)
    for rule in a_job.pairs:  # one at most
        kinds = {(one.radio.id, two.radio.id), (two.radio.id, one.radio.id)}
        worn = rule.where == "anywhere" or (one.wearer is not None and one.wearer == two.wearer)
        asked = rule.spacing_hz if (rule.one, rule.two) in kinds and worn else asked
    if two.id in one.apart_from or one.id in two.apart_from:
        asked = max(asked, 4 * MHZ)
    return max(asked, (one.radio.bandwidth_hz + two.radio.bandwidth_hz) / 2)


def plainly_broken_pairs(a_job, carriers):
    links = [item for item in a_job.links if item.id in carriers]
    for one, two in itertools.combinations(links, 2):
        gap = abs(carriers[one.id] - carriers[two.id])
        if not at_once(one, two):
            continue
        if gap < plainly_asked(a_job, one, two) and heard_db(a_job, one, two) < 60:
            yield "spacing", frozenset((one.id, two.id))
        elif one.unit is not None and one.unit == two.unit and gap > (one.radio.front_end_window_hz or 1e12):
            yield "unit", frozenset((one.id, two.id))  # of a pair that is both too near and too far the first is told


def plainly_broken_products(a_job, carriers):
    others = {item.id: item for item in a_job.others}
    everyone = {**{item.id: item for item in a_job.links if item.id in carriers}, **others}
    f = {**carriers, **{name: item.carrier_hz for name, item in others.items()}}
    for victim in carriers:
        for family, clearance in everyone[victim].radio.clearance_hz:
            c = FAMILIES[family].coefficients
            for some in itertools.permutations(everyone, len(c)):
                if victim in some and c[some.index(victim)] == 1:
                    continue  # carrier spacing under another name
                items = [everyone[name] for name in {*some, victim}]
                near = all(heard_db(a_job, x, y) < 40 for x, y in itertools.combinations(items, 2))
                product = sum(k * f[n] for k, n in zip(c, some, strict=True))
                if near and at_once(*items) and abs(product - f[victim]) < clearance:
                    yield family, victim, standing(family, some)


def standing(family, some):
    """Carriers that may change places in a family stand in the order of their ids."""
    return (*sorted(some[:2]), *some[2:]) if family == "A+B-C" else tuple(some)


def plainly_broken(a_job, carriers):
    """The rules between links, written out from the words of the brief."""
    return {*plainly_broken_pairs(a_job, carriers), *plainly_broken_products(a_job, carriers)}


@st.composite
def small_jobs(draw):
    step = draw(st.sampled_from([25, 40, 50])) * KHZ
    kinds = [
        radio(
            "heron",
            tuning=(TuningRange(low_hz=606 * MHZ, high_hz=606 * MHZ + draw(st.integers(0, 5)) * step, step_hz=step),),
            clearance_hz=(("2A-B", draw(st.integers(1, 300)) * KHZ), ("A+B-C", draw(st.integers(1, 200)) * KHZ)),
            bandwidth_hz=25 * KHZ,
            spacing_hz=draw(st.integers(1, 4)) * 25 * KHZ,
            front_end_window_hz=draw(st.sampled_from([None, 100 * KHZ, 500 * KHZ])),
        ),
        radio(
            "siskin",
            tuning=(),
            presets=tuple(
                Preset(label=str(i), carrier_hz=hz * 12_500)
                for i, hz in enumerate(sorted(draw(st.sets(st.integers(48_480, 48_520), min_size=1, max_size=5))))
            ),
            clearance_hz=(("3A-2B", draw(st.integers(1, 200)) * KHZ),),
            bandwidth_hz=50 * KHZ,
            spacing_hz=draw(st.integers(2, 6)) * 25 * KHZ,
        ),
    ]
    names = [f"L{i}" for i in range(draw(st.integers(2, 4)))]
    links = []
    for name in names:
        kind = draw(st.sampled_from(kinds))
        start = draw(st.integers(0, 3))
        span = TimeSpan(
            start=NOON + timedelta(hours=start), end=NOON + timedelta(hours=start + draw(st.integers(1, 2)))
        )
        links.append(
            link(
                name,
                kind,
                earshots=frozenset(draw(st.sets(st.sampled_from("abc"), max_size=1))),
                on_air=draw(st.sampled_from([(), (span,)])),
                wearer=draw(st.sampled_from([None, "Mara"])),
                unit=draw(st.sampled_from([None, "u"])) if kind.id == "heron" else None,
                apart_from=draw(st.sampled_from([(), (), (), ("L0",)])) if name != "L0" else (),
            )
        )
    pairs = draw(
        st.sampled_from(
            [
                (),
                (PairRule(id="r", one="siskin", two="heron", spacing_hz=300 * KHZ, where="same-wearer"),),
                (PairRule(id="r", one="heron", two="heron", spacing_hz=30 * KHZ),),
            ]
        )
    )
    others = draw(
        st.sampled_from([(), (Other(id="o", name="o", carrier_hz=606_130_000, bandwidth_hz=1, keep_away_hz=1),)])
    )
    return job(
        links,
        radios=tuple(kinds),
        pairs=pairs,
        isolations=tuple(
            Isolation(one=x, two=y, isolation_db=draw(st.sampled_from([10.0, 45.0, 80.0]))) for x, y in ("ab", "bc")
        ),
        units=(Unit(id="u", name="u", radio="heron"),),
        others=others,
        permits=(PERMIT,),
    )


def as_plain(violations):
    products = {(v.family, v.victim, standing(v.family, v.sources)) for v in violations if v.family}
    pairs = [v for v in violations if v.rule in ("spacing", "unit") and v.offset_hz is not None]
    return {*products, *((v.rule, frozenset((v.victim, *v.sources))) for v in pairs)}


@settings(max_examples=80, deadline=None)
@given(small_jobs(), st.data())
def test_what_check_names_is_what_the_definitions_break(a_job, data):
    carriers = {
        item.id: data.draw(st.integers(48_480, 48_520)) * 12_500 for item in a_job.links if data.draw(st.integers(0, 5))
    }
    assert as_plain(check_carriers(a_job, carriers)) == plainly_broken(a_job, carriers)


@settings(max_examples=15, deadline=None)
@given(small_jobs())
def test_the_search_places_as_many_of_mixed_kit_as_any_choice_that_the_definitions_let_stand(a_job):
    compiled = compile_job(a_job)
    outcome = solve(compiled.problem, time_limit_s=60, polish=False)
    placed = {seat.id: hz for seat, hz in zip(compiled.seats, outcome.carriers_hz, strict=True) if hz >= 0}
    assert not plainly_broken(a_job, placed)
    options = [[-1, *compiled.problem.choices[q].carriers_hz.tolist()] for q in compiled.choice_of]
    ids = [seat.id for seat in compiled.seats]
    for some in itertools.product(*options):
        more = {name: hz for name, hz in zip(ids, some, strict=True) if hz >= 0}
        assert len(more) <= len(placed) or plainly_broken(a_job, more)


# ---------------------------------------------------------------------------------------------- many earshots and times


def least_offsets(f):
    """Least spacing, and least offset of 2A-B and A+B-C products from any carrier, by arrays of all of them."""
    f = np.sort(np.array(f))
    n = np.arange(len(f))
    a, b, v = np.meshgrid(n, n, n, indexing="ij")
    two = np.abs(2 * f[a] - f[b] - f[v])[(a != b) & (a != v)]  # the victim may be B
    sums = (f[:, None] + f[None, :])[np.triu_indices(len(f), 1)]
    rows = np.array(np.triu_indices(len(f), 1))
    apart = np.abs(sums[:, None] - sums[None, :])
    # A + B - C on V, where V may be C (A + B - 2C): all pairs of sums that share no carrier, and doubled carriers.
    shared = (rows[:, :, None] == rows[:, None, :]).any(0) | (rows[::-1, :, None] == rows[:, None, :]).any(0)
    doubled = np.abs(sums[:, None] - 2 * f[None, :])[~((rows[0][:, None] == n) | (rows[1][:, None] == n))]
    return np.diff(f).min(), two.min(), min(apart[~shared].min(), doubled.min())


@pytest.mark.parametrize("timed", [False, True])
def test_sixteen_earshots_of_thirty_two_links_in_138_megahertz_are_planned_and_hold(timed):
    wide = replace(MICROPHONE, tuning=(TuningRange(low_hz=470_100 * KHZ, high_hz=607_900 * KHZ, step_hz=25 * KHZ),))
    permit = replace(PERMIT, windows=(Span(470 * MHZ, 608 * MHZ),))

    def span(i):  # twenty distinct times, most of them across midnight
        return (TimeSpan(start=NOON + timedelta(hours=i % 20), end=NOON + timedelta(hours=i % 20 + 12)),)

    links = [
        link(f"e{e}.{i}", wide, earshots=frozenset({f"e{e}"}), on_air=span(i) if timed else ())
        for e in range(16)
        for i in range(32)
    ]
    a_job = job(links, radios=(wide,), permits=(permit,))
    compiled = compile_job(a_job)
    assert compiled.problem.contexts == (16 * 9 if timed else 16)  # those on air after hours 11 to 19 are largest
    outcome = solve(compiled.problem, time_limit_s=120, polish=False)
    found = {seat.id: hz for seat, hz in zip(compiled.seats, outcome.carriers_hz, strict=True)}
    assert min(found.values()) > 0
    assert not check_carriers(a_job, found)
    for e in range(16):
        hour = 16
        f = [found[item.id] for item in links if item.id.startswith(f"e{e}.") and (not timed or on_air_at(item, hour))]
        spacing, two, three = least_offsets(f)
        assert spacing >= 350 * KHZ
        assert two >= 100 * KHZ
        assert three >= 50 * KHZ


def on_air_at(item, hour):
    return item.on_air[0].start <= NOON + timedelta(hours=hour) < item.on_air[0].end


# ------------------------------------------------------------------------------------- what no choice of carriers mends


def test_a_lead_and_its_backup_on_one_box_break_a_rule_that_the_plan_warns_of():
    links = [link("lead", apart_from=("backup",), unit="u"), link("backup", unit="u"), link("c", unit="u")]
    a_job = job(links, units=(Unit(id="u", name="u", radio="heron"),))
    told = check_carriers(a_job, {"lead": 607 * MHZ, "backup": 613 * MHZ, "c": 608 * MHZ})
    assert [(v.rule, v.victim, v.sources, v.offset_hz) for v in told] == [("unit", "lead", ("backup",), None)]
    elsewhere = job([links[0], replace(links[1], unit="v"), links[2]])
    assert not check_carriers(elsewhere, {"lead": 607 * MHZ, "backup": 613 * MHZ, "c": 608 * MHZ})
    compiled = compile_job(a_job)
    plan = assess_plan(compiled, solve(compiled.problem, time_limit_s=30).carriers_hz)
    assert len(plan.links) == 3
    assert [w.where for w in plan.warnings if w.code == "same-unit"] == ["lead"]


def test_more_links_at_once_than_a_box_has_receiver_channels_are_named():
    double = replace(MICROPHONE, channels_per_unit=2)
    early, late = ((TimeSpan(start=NOON + timedelta(hours=h), end=NOON + timedelta(hours=h + 2)),) for h in (0, 2))
    links = [
        link("a", double, unit="u"),
        link("b", double, unit="u", on_air=early),
        link("c", double, unit="u", on_air=late),
    ]
    a_job = job(links, radios=(double,), units=(Unit(id="u", name="u", radio="heron"),))
    assert not list(unit_warnings(a_job))
    crowded = replace(a_job, links=(*links, link("d", double, unit="u", on_air=early)))
    (warning,) = unit_warnings(crowded)
    assert (warning.code, warning.where) == ("unit-full", "u")
    assert "2 receiver channels (channels_per_unit of heron), but a, b and d are on the air" in warning.text


def test_check_and_plan_say_what_isolation_they_rest_on():
    links = [link("a", earshots=frozenset({"main"})), link("b", earshots=frozenset({"hall"}))]
    isolations = (
        Isolation(one="main", two="hall", isolation_db=40),
        Isolation(one="main", two="yard", isolation_db=70),
    )
    texts = [w.text for w in isolation_warnings(job(links, isolations=isolations), links)]
    assert texts == ["Between main and hall only the carrier spacing is asked: isolated by 40 dB."]
    loud = (Isolation(one="main", two="hall", isolation_db=20),)
    assert not list(isolation_warnings(job(links, isolations=loud), links))
