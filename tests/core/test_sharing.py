"""Carriers that links share because the brief keeps them apart: held against the definition, pair by pair."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandwright.core.bands import Span
from bandwright.core.job import Isolation, Job, Place
from bandwright.core.kit import Direction, Emission, Link, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.assess import assess_plan
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.sharing import overlapping, sharing_notes
from bandwright.core.sheet import SheetFacts, build_sheet
from bandwright.core.when import TimeSpan
from bandwright.documents.carriers import carriers_csv

NOON = datetime(2027, 5, 14, 12, tzinfo=UTC)
TIMES = {
    "always": (),
    "noon": (TimeSpan(start=NOON, end=NOON + timedelta(hours=1)),),
    "night": (TimeSpan(start=NOON + timedelta(hours=10), end=NOON + timedelta(hours=11)),),
}
PLACES = tuple(Place(id=name, name=name.title(), timezone="UTC") for name in ("quay", "yard"))


def radio(bandwidth_hz):
    return RadioType(
        id=f"r{bandwidth_hz}",
        name="Heron (invented)",
        direction=Direction.FROM_PERSON,
        emission=Emission.FM,
        bandwidth_hz=bandwidth_hz,
        spacing_hz=350_000,
        clearance_hz=(),
        tuning=(TuningRange(low_hz=606_000_000, high_hz=608_000_000, step_hz=25_000),),
    )


def link(name, *, bandwidth_hz=200_000, **more):
    return Link(id=name, name=f"Person {name}", radio=radio(bandwidth_hz), worn=Worn.BODY, place="quay", **more)


def job(links, **more):
    permit = Permit(id="p", reference="licence", state=PermitState.GRANTED, windows=(Span(606_000_000, 608_000_000),))
    radios = tuple({item.radio.id: item.radio for item in links}.values())
    return Job(title="Test", places=PLACES, permits=(permit,), radios=radios, links=tuple(links), **more)


STAGE, BARGE = frozenset({"stage"}), frozenset({"barge"})


@given(
    st.lists(
        st.tuples(
            st.integers(0, 20),
            st.sampled_from([12_500, 200_000, 400_000]),
            st.sampled_from([frozenset(), STAGE, BARGE, STAGE | BARGE]),
            st.sampled_from(sorted(TIMES)),
            st.sampled_from(["quay", "yard"]),
        ),
        max_size=7,
    )
)
def test_what_overlaps_unasked_is_what_the_definition_names(drawn):
    links = [
        replace(link(f"L{n}", bandwidth_hz=width, earshots=heard, on_air=TIMES[when]), place=place)
        for n, (_, width, heard, when, place) in enumerate(drawn)
    ]
    carriers = {f"L{n}": 606_500_000 + 25_000 * step for n, (step, *_) in enumerate(drawn)}
    expected = {}
    for one, two in combinations(links, 2):
        near = abs(carriers[one.id] - carriers[two.id]) * 2 < one.radio.bandwidth_hz + two.radio.bandwidth_hz
        deaf = bool(one.earshots and two.earshots and not one.earshots & two.earshots)
        times = {one.on_air, two.on_air}
        never = times == {TIMES["noon"], TIMES["night"]}
        if near and one.place == two.place and (deaf or never):
            expected[one.id, two.id] = "not on the air at the same time" if never else "do not hear each other"
    found = overlapping(job(links), carriers)
    assert list(found) == list(expected)
    assert all(found[pair].endswith(words) for pair, words in expected.items())


def test_an_isolation_that_is_stated_is_told_and_one_that_binds_leaves_nothing_to_tell():
    links = [link("L1", earshots=STAGE), link("L2", earshots=BARGE)]
    carriers = {"L1": 607_000_000, "L2": 607_000_000}
    far, near = (job(links, isolations=(Isolation(one="barge", two="stage", isolation_db=db),)) for db in (60.0, 45.0))
    assert overlapping(far, carriers) == {("L1", "L2"): "the brief says they are isolated by 60 dB"}
    assert overlapping(near, carriers) == {}


@pytest.fixture
def shared():
    links = [link("L1", earshots=STAGE), link("L2", earshots=BARGE), link("L3", earshots=BARGE), link("L4")]
    a_job = job(links)
    carriers = (607_000_000, 607_000_000, 607_500_000, 606_300_000)
    return a_job, assess_plan(compile_job(a_job), carriers)


def test_the_plan_says_who_shares_a_carrier_and_it_stays_no_caution(shared):
    _, plan = shared
    notes = {item.id: [(note.code, note.text, note.sources) for note in item.notes] for item in plan.links}
    words = "shares 607.000 MHz with {} (the brief says they do not hear each other)"
    assert notes == {
        "L1": [("shares-carrier", words.format("L2"), ("L2",))],
        "L2": [("shares-carrier", words.format("L1"), ("L1",))],
        "L3": [],
        "L4": [],
    }
    assert all(item.cautions == ("unmeasured",) for item in plan.links)


def test_the_sheet_says_who_shares_a_carrier_and_where_each_is_heard(shared):
    a_job, plan = shared
    rows = {row.label: row for row in build_sheet(a_job, plan, SheetFacts(made=NOON)).rows}
    assert any(mark.startswith("shares 607.000 MHz with L2") for mark in rows["L1"].marks)
    assert {label: row.where for label, row in rows.items()} == {
        "L1": "body, Quay, stage",
        "L2": "body, Quay, barge",
        "L3": "body, Quay, barge",
        "L4": "body, Quay",
    }
    assert (
        carriers_csv(a_job, plan)
        .splitlines()[1]
        .endswith(",shares 607.000 MHz with L2 (the brief says they do not hear each other)")
    )


def test_a_job_with_one_earshot_does_not_repeat_it():
    a_job = job([link("L1", earshots=STAGE), link("L2")])
    plan = assess_plan(compile_job(a_job), (607_000_000, 607_500_000))
    assert [row.where for row in build_sheet(a_job, plan, SheetFacts(made=NOON)).rows] == ["body, Quay", "body, Quay"]


def test_several_on_one_carrier_are_named_together():
    links = [link("L1", earshots=STAGE), link("L2", earshots=BARGE), link("L3", earshots=frozenset({"pier"}))]
    notes = sharing_notes(job(links), dict.fromkeys(("L1", "L2", "L3"), 607_000_000))
    assert [note.sources for note in notes["L1"]] == [("L2", "L3")]
    assert notes["L1"][0].text.startswith("shares 607.000 MHz with L2 and L3 (")
