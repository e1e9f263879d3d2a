"""How much room there is, in words and as a table."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bandwright.core.planning.plan import Reason
from bandwright.core.planning.room import Capacity, Eased, Room, by_gain
from bandwright.sheets.room_text import room_text


def count(found, upper, method="counting differences"):
    carriers = tuple(606_700_000 + 350_000 * n for n in range(found))
    return Capacity(carriers_hz=carriers, upper_bound=upper, method=method, stopped="effort")


def eased(code, change, found, upper):
    return Eased(code=code, change=change, capacity=count(found, upper))


ROOM = Room(
    radio_id="heron",
    radio_name="Heron (invented)",
    place_name="Quay stage",
    capacity=count(3, 3, "exact search"),
    eased=by_gain(
        [
            eased("spacing", "spacing 325 kHz in place of 350 kHz", 3, 4),
            eased("noise", "noisy slots of the sweep opened", 3, 3),
            eased("tv", "TV channel 39 as well (beside shared licence)", 6, 8),
        ]
    ),
)


def test_a_proven_count_its_carriers_and_what_each_change_gains():
    assert room_text(ROOM, columns=110).split("\n") == [
        "Heron (invented) at Quay stage, alone: the links of the brief do not count",
        "",
        "3 links of this type fit here at once, and no set of 4 exists under these rules (proven: exact search).",
        "",
        "For example on 606.700, 607.050, 607.400 MHz.",
        "",
        "One change alone                                found  at most   gain",
        "TV channel 39 as well (beside shared licence)       6        8     +3",
        "spacing 325 kHz in place of 350 kHz                 3        4      0",
        "noisy slots of the sweep opened                     3        3   none",
        "",
        "A gain of 0 means that no more was found and more is not ruled out; none is proven to gain nothing.",
        "",
    ]


def test_what_a_gain_of_0_means_is_said_only_where_there_is_one():
    sure = replace(ROOM, eased=by_gain([eased("noise", "noisy slots of the sweep opened", 3, 3)]))
    assert "gain of 0" not in room_text(sure)


@pytest.mark.parametrize(
    ("found", "upper", "words"),
    [
        (
            1,
            2,
            "1 link of this type fits here at once; more than 2 are proven impossible (counting differences). Of 2 ",
        ),
        (
            5,
            9,
            "5 links of this type fit here at once; more than 9 are proven impossible (counting differences). "
            "Of 6 to 9 ",
        ),
        (0, 2, "No link of this type fits here; more than 2 are proven impossible (counting differences). Of 1 to 2 "),
    ],
)
def test_what_nobody_knows_is_said(found, upper, words):
    text = room_text(replace(ROOM, capacity=count(found, upper)), columns=200)
    assert f"{words}nobody knows: none was found, none is ruled out." in text


def test_beside_a_plan_the_plan_is_named():
    room = replace(ROOM, plan_number=2, plan_phrase="gabal-dopug", plan_carriers=23)
    text = room_text(room, columns=200)
    assert "beside the 23 carriers of plan 2 (gabal-dopug), which stay clean" in text
    assert "3 more links of this type fit here at once" in text
    assert "beside the 1 carrier of plan 2" in room_text(replace(room, plan_carriers=1), columns=200)


def test_what_closes_every_carrier_is_named_where_nothing_fits():
    closing = (Reason(code="permit", text="of the 10 carriers it can be set to, 10 are covered by no permit."),)
    room = replace(ROOM, capacity=count(0, 0, "open candidates"), eased=(), closing=closing)
    assert room_text(room).split("\n")[2:] == [
        "No link of this type fits here under these rules (proven: no link has a carrier open to it).",
        "  permit: of the 10 carriers it can be set to, 10 are covered by no permit.",
        "",
    ]


def test_no_line_is_wider_than_the_terminal():
    long = eased("tv", "TV channel 39 as well (beside a licence with a very long name that goes on and on)", 6, 8)
    text = room_text(replace(ROOM, radio_name="Heron " * 12, eased=(long,)), columns=60)
    assert max(len(line) for line in text.split("\n")) <= 60
