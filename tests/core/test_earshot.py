"""Who binds whom, against the nonlinearity itself, and contexts against every set of members at every half hour."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core.job import Binds, Isolation, Job, Place
from bandwright.core.kit import Direction, Emission, Link, Other, RadioType, Worn
from bandwright.core.planning.bridges import bridge_products, bridge_warnings
from bandwright.core.planning.earshot import PROTECTION_DB, binding, contexts_of, unasked_because, worth
from bandwright.core.when import TimeSpan

RADIO = RadioType(
    id="heron",
    name="Heron",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(("2A-B", 100_000),),
)
NOON = datetime(2027, 5, 14, 12, tzinfo=UTC)


def link(name, *earshots, **more):
    return Link(id=name, name=name, radio=RADIO, worn=Worn.BODY, earshots=frozenset(earshots), **more)


def job(links=(), isolations=(), places=("quay",), others=()):
    return Job(
        title="Test",
        places=tuple(Place(id=name, name=name, timezone="UTC") for name in places),
        permits=(),
        radios=(RADIO,),
        links=tuple(links),
        isolations=tuple(isolations),
        others=tuple(others),
    )


def apart(one, two, db=None, binds=None):
    return Isolation(one=one, two=two, isolation_db=db, binds=binds)


def text_of(reason):
    return reason and reason.text


def hours(*pairs):
    return tuple(TimeSpan(start=NOON + timedelta(hours=a), end=NOON + timedelta(hours=b)) for a, b in pairs)


def product_level_db(weak_db, doubled):
    """Level of 2A-B out of y = x + x^3 / 10 with one of the two tones weaker: from the spectrum, not from a formula."""
    n, a, b = 1 << 12, 400, 410
    t = 2 * np.pi * np.arange(n) / n
    low = 10 ** (-weak_db / 20)
    x = (low if doubled else 1) * np.cos(a * t) + (1 if doubled else low) * np.cos(b * t)
    return 20 * np.log10(np.abs(np.fft.rfft(x + x**3 / 10))[2 * a - b])


@pytest.mark.parametrize(("doubled", "times"), [(False, 1), (True, 2)])
def test_a_product_falls_with_its_weaker_carrier_and_twice_where_that_is_the_doubled_one(authority, doubled, times):
    authority(
        f"fall of a third-order product whose {'doubled' if doubled else 'single'} carrier is isolated, dB",
        source="spectrum of a cubic nonlinearity, computed in the test",
        ours=times * PROTECTION_DB,
        theirs=product_level_db(0, doubled) - product_level_db(PROTECTION_DB, doubled),
        tolerance=0.01,
        kind="arithmetic",
    )


def test_isolation_takes_the_products_first_and_the_spacing_later():
    levels = [worth(db) for db in range(-10, 100)]
    assert levels == sorted(levels, reverse=True)
    assert set(levels) == set(Binds)


@pytest.mark.parametrize(
    ("isolation", "binds", "words"),
    [
        ((), Binds.NOTHING, "no common earshot, and no isolation stated between theirs"),
        ((apart("a", "b", 20),), Binds.ALL, None),
        ((apart("b", "a", 45),), Binds.SPACING, "isolated by 45 dB between b and a"),
        ((apart("a", "b", 70),), Binds.NOTHING, "isolated by 70 dB between a and b"),
        ((apart("a", "b"),), Binds.NOTHING, "isolated altogether between a and b"),
        ((apart("a", "b", 20, Binds.SPACING),), Binds.SPACING, "isolated by 20 dB between a and b"),
        ((apart("a", "b", None, Binds.SPACING),), Binds.SPACING, "the brief says so between a and b"),
        ((apart("a", "b", 70), apart("b", "a", 45)), Binds.SPACING, "isolated by 45 dB between b and a"),
    ],
)
def test_two_earshots_bind_by_what_is_stated_between_them(isolation, binds, words):
    a_job = job(isolations=isolation)
    one, two = link("1", "a"), link("2", "b")
    assert binding(a_job, one, two) is binding(a_job, two, one) is binds
    assert text_of(unasked_because(a_job, one, two)) == words


def test_a_link_in_several_earshots_is_bound_as_its_nearest_one_says():
    a_job = job(isolations=[apart("a", "c", 45), apart("b", "c", 10)])
    assert binding(a_job, link("1", "a", "b"), link("2", "c")) is Binds.ALL
    assert binding(a_job, link("1", "a"), link("2", "c")) is Binds.SPACING
    assert binding(a_job, link("1"), link("2", "c")) is Binds.ALL


def test_other_places_and_other_times_bind_nothing_and_say_so():
    a_job = job(places=("quay", "hall"))
    early, late = link("1", on_air=hours((0, 2))), link("2", on_air=hours((2, 4)))
    assert unasked_because(a_job, early, late).text == "not on the air at the same time"
    assert unasked_because(a_job, early, replace(late, place="hall")).text == "at another place"
    assert unasked_because(a_job, early, replace(late, on_air=hours((1, 3)))) is None


def test_a_night_across_midnight_meets_the_morning_after_and_not_the_morning_before():
    zone = ZoneInfo("Europe/Lisbon")

    def at(day, hour):
        return datetime(2027, 5, day, hour, tzinfo=zone)

    night = link("night", on_air=(TimeSpan(start=at(14, 22), end=at(15, 2)),))
    before = link("before", on_air=(TimeSpan(start=at(14, 0), end=at(14, 2)),))
    after = link("after", on_air=(TimeSpan(start=at(15, 1), end=at(15, 3)),))
    a_job = job()
    assert binding(a_job, night, before) is Binds.NOTHING
    assert binding(a_job, night, after) is Binds.ALL
    shared = [set(c) for c in contexts_of(a_job, [night, before, after])]
    assert shared[0] & shared[2]
    assert not shared[0] & shared[1]


def test_a_spare_carrier_is_bound_to_everything():
    spare = link("spare", spare_at=("quay",))
    a_job = job(places=("quay", "hall"))
    assert binding(a_job, spare, link("1", "a", place="hall", on_air=hours((0, 1)))) is Binds.ALL


def together(a_job, members, moment):
    """Whether members make products together at a moment: one place, all on air, earshots that hear each other."""
    spares = [m for m in members if getattr(m, "spare_at", ())]
    rest = [m for m in members if m not in spares]
    if len({a_job.place_of(m).id for m in rest}) > 1:
        return False
    if any(m.on_air and not any(s.start <= moment < s.end for s in m.on_air) for m in members):
        return False
    loud = {frozenset((i.one, i.two)) for i in a_job.isolations if i.isolation_db is not None and i.isolation_db < 40}
    named = [sorted(m.earshots) for m in rest if m.earshots]
    return any(
        all(a == b or frozenset((a, b)) in loud for a, b in itertools.combinations(choice, 2))
        for choice in itertools.product(*named)
    )


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_members_share_a_context_exactly_when_they_are_together_at_some_half_hour(data):
    names = "abcd"
    pairs = data.draw(st.sets(st.sampled_from(list(itertools.combinations(names, 2))), max_size=5))
    isolations = [apart(*pair, data.draw(st.sampled_from([None, 10.0, 45.0, 90.0]))) for pair in sorted(pairs)]
    members = []
    for i in range(data.draw(st.integers(2, 7))):
        spans = data.draw(st.lists(st.tuples(st.integers(0, 10), st.integers(1, 6)), max_size=2))
        own = data.draw(st.sets(st.sampled_from(names), max_size=2))
        more = {
            "on_air": hours(*((a / 2, (a + n) / 2) for a, n in spans)),
            "place": data.draw(st.sampled_from(["quay", "quay", "hall"])),
        }
        if data.draw(st.integers(0, 9)) == 0:
            own, more = (), {"spare_at": ("quay",)}
        members.append(link(str(i), *own, **more))
    if data.draw(st.booleans()):
        members.append(
            Other(
                id="o",
                name="o",
                carrier_hz=1,
                bandwidth_hz=1,
                earshots=frozenset(data.draw(st.sets(st.sampled_from(names)))),
            )
        )
    a_job = job(isolations=isolations, places=("quay", "hall"))
    found = [set(c) for c in contexts_of(a_job, members)]
    moments = [NOON + timedelta(minutes=30 * k) for k in range(20)]
    for size in (1, 2, 3, 4):
        for some in itertools.combinations(range(len(members)), size):
            shared = set.intersection(*(found[i] for i in some))
            expected = any(together(a_job, [members[i] for i in some], moment) for moment in moments)
            assert bool(shared) == expected
    groups = [{i for i, own in enumerate(found) if c in own} for c in range(1 + max(max(own) for own in found))]
    assert not any(one < two for one in groups for two in groups)


def test_links_in_many_earshots_with_many_times_make_as_many_contexts_as_there_are_largest_sets():
    spans = [hours((k, k + 5)) for k in range(20)]
    members = [link(f"{e}.{i}", f"e{e}", on_air=spans[i % 20]) for e in range(16) for i in range(32)]
    found = contexts_of(job(), members)
    # 16 earshots; five hours from every full hour on: the largest sets are those that start with hours 4 to 19.
    assert len({c for own in found for c in own}) == 16 * 16
    assert max(len(own) for own in found) == 5


# ------------------------------------------------------------------------------------------- links between two earshots


def standing(family, ids):
    """Carriers that may change places in a family stand in the order of their ids."""
    return (family, (*sorted(ids[:2]), *ids[2:]) if family == "A+B-C" else tuple(ids))


def plainly_between(bridge, members, f, rules, *, loud):
    """Products at a link in two earshots, of carriers in both of them that are on the air at one half hour."""
    for family, c in (("2A-B", (2, -1)), ("A+B-C", (1, 1, -1))):
        for some in itertools.permutations(members, len(c)):
            if bridge in some and c[some.index(bridge)] == 1:
                continue  # carrier spacing under another name
            sides = {m.earshots for m in some if m is not bridge}
            moments = [NOON + timedelta(minutes=30 * k) for k in range(8)]
            at_once = any(all(not m.on_air or m.on_air[0].start <= t < m.on_air[0].end for m in some) for t in moments)
            product = sum(k * f[m.id] for k, m in zip(c, some, strict=True))
            if not loud and len(sides) > 1 and at_once and abs(product - f["t"]) < rules[family]:
                yield standing(family, [m.id for m in some])


@settings(max_examples=80, deadline=None)
@given(st.data())
def test_products_that_only_a_receiver_between_two_earshots_could_make_are_those_of_plain_enumeration(data):
    rules = {"2A-B": 120_000, "A+B-C": 90_000}
    radio = replace(RADIO, clearance_hz=tuple(rules.items()))
    own = data.draw(st.sampled_from([(), ("a", "b"), ("a",)]))
    bridge = replace(link("t", *own), radio=radio)
    db = data.draw(st.sampled_from([None, 20.0, 45.0]))
    members = [bridge]
    for i in range(data.draw(st.integers(2, 5))):
        span = hours((data.draw(st.integers(0, 2)), 3)) if data.draw(st.booleans()) else ()
        members.append(replace(link(str(i), data.draw(st.sampled_from("ab")), on_air=span), radio=radio))
    f = {m.id: 606_000_000 + 50_000 * data.draw(st.integers(0, 30)) for m in members}
    found = bridge_products(job(members, [apart("a", "b", db)]), bridge, members, f)
    expected = plainly_between(bridge, members, f, rules, loud=db == 20.0) if own != ("a",) else ()
    assert {standing(v.family, v.sources) for v in found} == set(expected)


def test_the_warning_names_the_links_between_and_the_nearest_product():
    radio = replace(RADIO, clearance_hz=(("2A-B", 100_000),))
    members = [
        replace(link("t"), radio=radio),
        replace(link("1", "a"), radio=radio),
        replace(link("2", "b"), radio=radio),
    ]
    a_job = job(members)
    f = {"t": 606_000_000, "1": 607_000_000, "2": 608_025_000}  # 2A-B of 1 and 2 falls on 605.975
    (warning,) = bridge_warnings(a_job, f)
    assert warning.where == "t"
    assert warning.text.startswith(
        "t hears carriers that do not hear each other. 1 IM product of those falls too near;"
    )
    assert "2 x 1 - 2 falls on 605.975 MHz, 25 kHz away." in warning.text
    assert not list(bridge_warnings(job(members, [apart("a", "b", 20)]), f))
    assert not list(bridge_warnings(a_job, {**f, "2": 609_000_000}))
