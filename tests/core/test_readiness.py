from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bandwright.core.permits import PermitState
from bandwright.core.readiness import POINTS, readiness
from bandwright.core.readiness_facts import (
    LinkFacts,
    PermitFacts,
    PlanFacts,
    ReadinessFacts,
    Said,
    SoundFacts,
    SpareFacts,
    StrongFacts,
    SweepFacts,
    how_old,
)

NOON = datetime(2027, 5, 14, 12, 0, tzinfo=UTC)
DONE = frozenset({"set", "heard", "walked"})
LINKS = tuple(
    LinkFacts(
        uid=f"u{n}", id=f"L{n:02d}", name=f"L{n:02d}", carrier_hz=606_700_000, status="clear", permit="p", ticked=DONE
    )
    for n in range(1, 7)
)
PERMIT = PermitFacts(uid="up", id="p", reference="LQ-0451", state=PermitState.GRANTED)


def said(who="Ines", note=""):
    return Said(uid="s", who=who, at=NOON, note=note)


ALL_DONE = ReadinessFacts(
    permits=(PERMIT,),
    links=LINKS,
    sweep=SweepFacts(name="base.csv", own_transmitters="off", age="3 hours old"),
    plan=PlanFacts(number=3, check_phrase="dofim-lugos", made=NOON),
    spares=(SpareFacts(radio="heron", wished=2, left=2),),
    printed=said(),
    statements=tuple((point, said()) for point in ("strong", "sounding-right", "powered")),
)


def point(facts, name):
    return next(item for item in readiness(facts).points if item.point == name)


def link(number, **changes):
    links = list(ALL_DONE.links)
    links[number] = replace(links[number], **changes)
    return replace(ALL_DONE, links=tuple(links))


def test_when_everything_is_done_each_point_is_one_line_and_nobody_is_waited_for():
    found = readiness(ALL_DONE)
    assert [(item.point, item.state, item.text) for item in found.points] == [
        ("legal", "fine", "Every carrier of the plan lies inside LQ-0451 (granted)."),
        ("clean", "fine", "All 6 links keep every rule; base.csv (3 hours old, own transmitters off)."),
        ("strong", "stated", "Stated by Ines at 12:00 on 2027-05-14."),
        ("sounding-right", "stated", "Stated by Ines at 12:00 on 2027-05-14."),
        ("powered", "stated", "Stated by Ines at 12:00 on 2027-05-14."),
        ("set-and-tested", "fine", "All 6 links are set, heard and walked."),
        ("kept", "fine", "Spare carriers, clean together with everything: 2 for heron."),
        ("on-paper", "fine", "Plan 3 (dofim-lugos) was printed by Ines at 12:00 on 2027-05-14."),
    ]
    assert (found.next.waits_for, found.next.text) == (
        "nobody",
        "Nothing stands open here: every point is fine or stated.",
    )
    assert list(POINTS) == [item.point for item in found.points]


def test_nothing_on_the_page_promises_more_than_is_known():
    for facts in (ALL_DONE, ReadinessFacts(), replace(ALL_DONE, plan=None)):
        told = " ".join([readiness(facts).next.text, *(item.text for item in readiness(facts).points)]).casefold()
        assert not any(word in told for word in ("optimal", "safe", "guarantee", "perfect"))


def test_a_point_that_nothing_computes_is_never_fine_by_itself():
    bare = replace(ALL_DONE, statements=())
    assert [point(bare, name).state for name in ("strong", "sounding-right", "powered")] == ["not known"] * 3
    assert readiness(bare).next.waits_for == "whoever walks the area with a receiver"
    noted = replace(ALL_DONE, statements=(("powered", said("Tom", "change at the interval")),))
    assert point(noted, "powered").text == "Stated by Tom at 12:00 on 2027-05-14: change at the interval."


@pytest.mark.parametrize(
    ("strong", "state", "text"),
    [
        (StrongFacts(pending=True), "not known", "How strongly links arrive is being worked out."),
        (
            StrongFacts(enough=3, least_db=4.4, least="L02", where="at the worst point of Stage"),
            "fine",
            "All 3 links have the margin that fading asks for, L02 the least: 4.4 dB over it at the worst point of "
            "Stage.",
        ),
        (
            StrongFacts(short=("L02 Theo",), least_db=-3.2, least="L02", where="at 30 m"),
            "open",
            "L02 Theo falls short of what fading asks for by 3.2 dB at 30 m.",
        ),
        (
            StrongFacts(short=("L02 Theo", "E01"), least_db=-3.2, least="L02", where="at the worst point of Stage"),
            "open",
            "L02 Theo and E01 fall short of what fading asks for, L02 most: by 3.2 dB at the worst point of Stage.",
        ),
        (
            StrongFacts(enough=1, short=("L02 Theo", "E01")),
            "open",
            "L02 Theo and E01 fall short of what fading asks for.",
        ),
        (
            StrongFacts(short=("L02 Theo",), untold=("E01",)),
            "open",
            "L02 Theo falls short of what fading asks for; of E01 it cannot be told, since facts are missing.",
        ),
        (StrongFacts(enough=1, untold=("E01",)), "not known", "Of E01 it cannot be told, since facts are missing."),
    ],
)
def test_whether_the_signal_is_strong_is_told_from_reach_and_anybody_may_state_it_besides(strong, state, text):
    worked_out = replace(ALL_DONE, strong=strong, statements=())
    assert (point(worked_out, "strong").state, point(worked_out, "strong").text) == (state, text)
    stated = point(replace(worked_out, statements=(("strong", said()),)), "strong")
    assert stated.state == "stated"
    assert stated.text.startswith("Stated by Ines at 12:00 on 2027-05-14.")
    assert (text in stated.text) == bool(strong.short or strong.untold)


@pytest.mark.parametrize(
    ("sound", "text"),
    [
        (
            SoundFacts(fits=3, wrong=("L08 Piet",), untold=("L09",), reason="The loudest peak clips by 1.5 dB."),
            "L08 Piet: The loudest peak clips by 1.5 dB.",
        ),
        (SoundFacts(fits=2, reason="two clocks meet in desk"), "Two clocks meet in desk."),
        (
            SoundFacts(fits=2, untold=("L09", "H04")),
            "L09 and H04: facts are missing to tell whether they will sound right; the other 2 fit.",
        ),
        (SoundFacts(untold=("L09",)), "L09: facts are missing to tell whether it will sound right."),
    ],
)
def test_what_is_known_of_sound_stands_open_and_beside_what_somebody_stated(sound, text):
    worked_out = replace(ALL_DONE, sound=sound, statements=())
    found = point(worked_out, "sounding-right")
    assert (found.state, found.text, found.href) == ("open", text, "#/sound")
    stated = point(replace(worked_out, statements=(("sounding-right", said()),)), "sounding-right")
    assert stated.state == "stated"
    assert stated.text == f"Stated by Ines at 12:00 on 2027-05-14. By reckoning: {text}"


def test_links_that_all_fit_are_one_line_and_cautions_are_named():
    fine = replace(ALL_DONE, sound=SoundFacts(fits=3, cautions=("E01",)), statements=())
    assert point(fine, "sounding-right").text == "All 3 links fit from mouth to recorder, E01 with a caution."
    one = replace(ALL_DONE, sound=SoundFacts(fits=1), statements=())
    assert (point(one, "sounding-right").state, point(one, "sounding-right").text) == (
        "fine",
        "The link fits from mouth to recorder.",
    )


# ------------------------------------------------------------------------------------------------- one thing open


@pytest.mark.parametrize(
    ("facts", "name", "text", "waits_for"),
    [
        (
            replace(ALL_DONE, faults=("link L01: there is no radio type.", "x")),
            "clean",
            "The brief cannot be planned yet: link L01: there is no radio type; and 1 more.",
            "whoever fills in the brief",
        ),
        (
            replace(ALL_DONE, permits=(replace(PERMIT, state=PermitState.APPLIED),)),
            "legal",
            "LQ-0451 is only applied for: nothing may go on air under it before it is granted "
            "(L01, L02, L03 and 3 more).",
            "the licensing authority",
        ),
        (
            replace(ALL_DONE, permits=(replace(PERMIT, ends=NOON - timedelta(days=1), over=True),)),
            "legal",
            "LQ-0451 ended 2027-05-13 12:00 (L01, L02, L03 and 3 more).",
            "whoever looks after the permits",
        ),
        (
            replace(ALL_DONE, permits=(replace(PERMIT, covers_dates=False),)),
            "legal",
            "LQ-0451 is not valid on every date of the job (L01, L02, L03 and 3 more).",
            "whoever looks after the permits",
        ),
        (
            replace(ALL_DONE, permits=(replace(PERMIT, confirmed=False),)),
            "legal",
            "Carriers under LQ-0451 are inside the shipped, unconfirmed figures; hold them against the regulator's "
            "current text, then state so in the permit.",
            "whoever looks after the permits",
        ),
        (
            link(0, cautions=("power-not-shown-to-be-within",)),
            "legal",
            "L01: the power is not shown to be within the permit.",
            "whoever looks after the permits",
        ),
        (
            replace(ALL_DONE, plan=replace(ALL_DONE.plan, unplaced=("L07",))),
            "clean",
            "L07 has no carrier in plan 3.",
            "you",
        ),
        (link(1, status="blocked"), "clean", "L02: on a carrier that breaks a rule.", "you"),
        (
            replace(ALL_DONE, plan=replace(ALL_DONE.plan, stale="The brief changed since (L01).")),
            "clean",
            "The brief changed since (L01). Plan 3 was made before: plan again, or move only what must move.",
            "you",
        ),
        (
            replace(ALL_DONE, sweep=None),
            "clean",
            "There is no sweep: nobody has looked at what is on the air here.",
            "whoever sweeps",
        ),
        (
            replace(ALL_DONE, sweep=replace(ALL_DONE.sweep, own_transmitters="unknown")),
            "clean",
            "base.csv: nobody said whether own transmitters were off.",
            "whoever sweeps",
        ),
        (
            replace(ALL_DONE, sweep=replace(ALL_DONE.sweep, age="from yesterday", old=True)),
            "clean",
            "base.csv is from yesterday: the air may have changed; sweep again on the day.",
            "whoever sweeps",
        ),
        (
            link(2, cautions=("unmeasured",)),
            "clean",
            "L03: the sweeps do not tell whether its carrier is quiet.",
            "whoever sweeps",
        ),
        (
            link(0, ticked=frozenset({"set"})),
            "set-and-tested",
            "Of 6 links: 1 not heard (L01), 1 not walked (L01).",
            "whoever listens at the rack",
        ),
        (
            replace(ALL_DONE, spares=(SpareFacts(radio="heron", wished=2, left=0),)),
            "kept",
            "Of 2 spare carriers wished for heron, none is left.",
            "whoever keeps the plan",
        ),
        (
            replace(ALL_DONE, spares=()),
            "kept",
            "No spare carrier is wished for: when the air changes, nothing stands ready. Say how many under Plan.",
            "whoever keeps the plan",
        ),
        (
            replace(ALL_DONE, printed=None),
            "on-paper",
            "Nobody has said that the sheet of plan 3 (dofim-lugos) hangs.",
            "whoever keeps the plan",
        ),
        (
            replace(ALL_DONE, since_print=("L01 moved from 606.7 to 607 MHz.", "x", "y")),
            "on-paper",
            "The printed sheet is out of date: L01 moved from 606.7 to 607 MHz and 2 more.",
            "whoever keeps the plan",
        ),
    ],
)
def test_what_is_open_is_a_sentence_and_the_next_thing_to_do(facts, name, text, waits_for):
    found = point(facts, name)
    assert (found.state, found.text) == ("open", text)
    assert readiness(facts).next.waits_for == waits_for


def test_before_there_is_anything_the_brief_comes_first_then_the_sweep_then_the_plan():
    assert readiness(ReadinessFacts(faults=("no permit is written down yet",))).next.href == "#/kit"
    assert readiness(ReadinessFacts(permits=(PERMIT,))).next.text == (
        "Write down who needs a link: there are none yet."
    )
    planless = ReadinessFacts(permits=(PERMIT,), links=LINKS)
    assert readiness(planless).next.text == (
        "Bring a sweep, or plan without one and check it on the day: there is no plan yet."
    )
    assert readiness(replace(planless, sweep=ALL_DONE.sweep)).next.href == "#/plan"


def test_a_permit_that_no_carrier_leans_on_stops_nobody():
    other = replace(PERMIT, id="q", reference="Other", state=PermitState.APPLIED)
    assert point(replace(ALL_DONE, permits=(PERMIT, other)), "legal").state == "fine"


def test_links_that_are_not_ticked_are_listed_by_name():
    found = readiness(link(3, ticked=frozenset()))
    assert [item.id for item in found.not_set] == ["L04"]
    assert [item.id for item in found.not_walked] == ["L04"]


@pytest.mark.parametrize(
    ("age", "words"),
    [
        (timedelta(seconds=20), ("1 minute old", False)),
        (timedelta(minutes=89), ("89 minutes old", False)),
        (timedelta(hours=2, minutes=40), ("3 hours old", False)),
        (timedelta(hours=13), ("from yesterday", True)),
        (timedelta(days=4), ("4 days old", True)),
        (timedelta(hours=-1), ("dated ahead of this clock", True)),
    ],
)
def test_how_old_a_sweep_is_in_words(age, words):
    assert how_old(NOON - age, NOON) == words
