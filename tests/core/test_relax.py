"""What could be made easier: one rule at a time, each as the whole job with that one thing changed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from brief_examples import SAMPLE, job_of

from bandwright.core.planning.relax import ladders, relaxations

MORE = SAMPLE.replace('tv_closed = ["23", "26"]', 'tv_closed = ["23", "26", "39"]').replace(
    "high_mhz = 613.9", "high_mhz = 629.9"
)


@pytest.fixture
def job():
    return job_of(SAMPLE)


def changes(job, sweeps=()):
    return {item.code: item for item in relaxations(job, job.radio("heron"), job.places[0], sweeps)}


def test_every_rule_that_can_be_made_easier_is_named_once_in_words(job):
    assert [item.change for item in changes(job).values()] == [
        "TV channel 37 as well (beside shared licence)",
        "family 2A-B off",
        "family A+B-C off",
        "family 3A-2B off",
        "spacing 325 kHz in place of 350 kHz",
        "products of other users off",
        "other users off the air",
    ]


def test_a_change_touches_its_rule_wherever_that_stands_and_nothing_else(job):
    eased = changes(job)["family A+B-C"].job
    asked = (("2A-B", 100_000), ("3A-2B", 50_000))
    assert [radio.clearance_hz for radio in (*eased.radios, *(link.radio for link in eased.links))] == [asked] * 2
    assert replace(eased, radios=job.radios, links=job.links) == job


def test_a_tv_channel_beside_the_permit_widens_that_permit(job):
    eased = changes(job)["tv"].job
    assert [str(window) for window in eased.permits[0].windows] == ["598.000-606.000 MHz", "606.500-613.500 MHz"]


def test_a_closed_tv_channel_is_not_taken_for_one_beside_the_permit():
    # 37 opens as many carriers as 39 would, but 37 is out of reach here and 39 is closed.
    job = job_of(MORE.replace("low_mhz = 470.1", "low_mhz = 606.1"))
    assert "tv" not in changes(job)


def test_a_closed_tv_channel_inside_the_permit_can_be_opened():
    job = job_of(MORE.replace("[[606.5, 613.5]]", "[[606.5, 622]]").replace("low_mhz = 470.1", "low_mhz = 606.1"))
    found = changes(job)["tv"]
    assert found.change == "TV channel 39 as well (closed in the brief)"
    assert found.job.places[0].tv_closed == ("23", "26")


def test_ladders_go_down_in_tuning_steps_from_the_least_change(job):
    found = {ladder[0].code: [item.change for item in ladder] for ladder in ladders(job, job.radios[0], job.places[0])}
    assert found["family 2A-B"] == [
        "2A-B at 75 kHz in place of 100 kHz",
        "2A-B at 50 kHz in place of 100 kHz",
        "2A-B at 25 kHz in place of 100 kHz",
        "family 2A-B off",
    ]
    assert found["spacing"][0] == "spacing 325 kHz in place of 350 kHz"
    assert found["spacing"][-1] == "spacing 200 kHz in place of 350 kHz"  # the bandwidth


def test_what_is_not_asked_for_cannot_be_made_easier():
    text = SAMPLE.replace("spacing_khz = 350", "spacing_khz = 200").split("[[other]]", maxsplit=1)[0]
    text = text.replace('tv_raster = "region1"', "").replace('tv_closed = ["23", "26"]', "")
    assert set(changes(job_of(text))) == {"family 2A-B", "family A+B-C", "family 3A-2B"}


def test_guards_and_unmeasured_slots_can_be_opened_where_the_brief_closes_them():
    text = SAMPLE.replace('unmeasured = "avoid"', 'unmeasured = "close"')
    job = job_of(text.replace("tv_raster", "tv_guard_khz = 300\ntv_raster"))
    found = changes(job)
    assert found["unmeasured"].job.wishes.unmeasured == "avoid"
    assert found["tv-guard"].change == "no guard beside closed TV channels in place of 300 kHz"
    assert found["tv-guard"].job.places[0].tv_guard_hz == 0
