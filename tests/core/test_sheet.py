"""What stands on a sheet, before it is laid out."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from sheet_examples import HERON, TERN, make_facts, make_job, make_link, make_plan, with_name

from bandwright.core.bands import Span
from bandwright.core.job import Place
from bandwright.core.kit import Unit, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.plan import Reason, Status, Unplaced
from bandwright.core.sheet import build_sheet
from bandwright.core.sheet_names import initials
from bandwright.core.when import TimeSpan
from bandwright.sheets.text import plan_text


def sheet_of(job, *, names="full", **plan_options):
    return build_sheet(job, make_plan(job, **plan_options), make_facts(job), names=names)


def everything_written(sheet):
    return repr(sheet)


def test_links_stand_in_groups_by_the_way_the_sound_goes():
    sheet = sheet_of(make_job(12))
    assert [group.name for group in sheet.groups] == ["Microphones", "In-ears", "Talkback"]
    assert {row.label for row in sheet.rows} == {f"L{k:02d}" for k in range(1, 13)}


def test_a_group_without_links_is_not_there():
    assert [group.name for group in sheet_of(make_job(3)).groups] == ["Microphones"]


def test_mhz_has_three_decimals_and_more_only_where_exactness_needs_them():
    rows = {row.label: row for row in sheet_of(make_job(12)).rows}
    assert rows["L01"].mhz == "470.500"
    assert rows["L06"].mhz == "486.1375"


def test_the_stamp_holds_number_phrase_and_minute():
    job = make_job(3)
    plan = make_plan(job)
    sheet = build_sheet(job, plan, make_facts(job))
    assert sheet.head.stamp == f"Plan 3 · {plan.check_phrase} · 2027-05-14 05:12 UTC+01:00"


@pytest.mark.parametrize(
    ("zone", "shown"),
    [
        (UTC, " UTC"),
        (timezone(timedelta(hours=-3, minutes=-30)), " UTC-03:30"),
        (timezone(timedelta(minutes=30)), " UTC+00:30"),
        (None, ""),
    ],
)
def test_the_minute_names_its_offset_from_utc_where_there_is_one(zone, shown):
    job = make_job(1)
    facts = replace(make_facts(job), made=datetime(2027, 5, 14, 5, 12, tzinfo=zone))
    assert build_sheet(job, make_plan(job), facts).head.stamp.endswith(f" · 2027-05-14 05:12{shown}")


def test_do_not_use_lists_closed_tv_channels_those_a_sweep_found_and_closed_windows():
    job = make_job(3)
    facts = replace(make_facts(job), taken_tv={job.places[0].id: ("24", "25", "23")})
    head = build_sheet(job, make_plan(job), facts).head
    assert head.do_not_use == ("TV 23–26", "608.000–614.000 MHz")


def test_do_not_use_names_the_place_where_there_are_several():
    job = make_job(2)
    two = replace(job, places=(*job.places, Place(id="hall", name="Hall", timezone="Europe/Lisbon", tv_closed=("9A",))))
    assert sheet_of(two).head.do_not_use[:2] == ("TV 23, 26 at Quay stage", "TV 9A at Hall")


def test_no_sweep_is_said_in_words():
    job = make_job(2)
    head = build_sheet(job, make_plan(job), replace(make_facts(job), sweep=None)).head
    assert head.sweep == "no sweep: nobody measured what is on the air"


@pytest.mark.parametrize(
    ("state", "confirmed", "words"),
    [
        (PermitState.APPLIED, True, "SL-1: applied for, NOT granted"),
        (PermitState.GRANTED, True, "SL-1: granted"),
        (PermitState.EXEMPT, False, "SL-1: exempt, unconfirmed figures"),
    ],
)
def test_a_permit_tells_its_state(state, confirmed, words):
    permit = Permit(
        id="shared", reference="SL-1", state=state, confirmed=confirmed, windows=(Span(470_000_000, 694_000_000),)
    )
    assert sheet_of(make_job(2, permits=(permit,))).head.permits == (words,)


def test_a_permit_only_applied_for_that_no_carrier_uses_is_named():
    job = make_job(2)
    idle = replace(job.permits[0], id="more", reference="SM-119", state=PermitState.APPLIED)
    exempt = replace(idle, id="free", reference="SL-2", state=PermitState.EXEMPT)
    more = replace(job, permits=(*job.permits, idle, exempt))
    told = ("shared licence SL-0417: granted", "SM-119 applied for: not used")
    assert sheet_of(more).head.permits == told
    assert "; ".join(told) in plan_text(more, make_plan(more), make_facts(more))


def test_an_unplaced_link_stands_on_the_sheet_with_its_reason():
    row = next(row for row in sheet_of(make_job(12), unplaced=1).rows if row.label == "L12")
    assert row.mhz is None
    assert row.marks == ("UNPLACED",)
    assert row.reason == "Ferryman is held on 615 MHz, which no permit of this place allows."


def test_a_link_the_plan_forgot_is_not_lost():
    job = make_job(2)
    plan = replace(make_plan(job), links=make_plan(job).links[:1])
    row = build_sheet(job, plan, make_facts(job)).rows[1]
    assert (row.mhz, row.reason) == (None, "this plan does not hold the link")


def test_a_wished_spare_carrier_that_does_not_exist_is_told():
    job = make_job(2)
    gap = Unplaced(id="heron-spare-3", name="Spare carrier 3", reasons=(Reason(code="full", text="No room."),))
    sheet = build_sheet(job, replace(make_plan(job), unplaced=(gap,)), make_facts(job))
    assert sheet.missing_spares == ("heron-spare-3: unplaced. No room.",)


def test_a_spare_carrier_that_is_missing_for_the_reason_of_a_link_says_so_and_does_not_repeat_it():
    job = make_job(2)
    plan = make_plan(job)
    full, none = (Reason(code="full", text="No room."),), (Reason(code="none", text="No permit."),)
    unplaced = (
        Unplaced(id=plan.links[1].id, name="Link", reasons=full),
        Unplaced(id="heron-spare-1", name="Spare carrier 1", reasons=full),
        Unplaced(id="heron-spare-2", name="Spare carrier 2", reasons=full),
        Unplaced(id="siskin-spare-1", name="Spare carrier", reasons=none),
    )
    sheet = build_sheet(job, replace(plan, links=plan.links[:1], unplaced=unplaced), make_facts(job))
    assert sheet.missing_spares == (
        f"heron-spare-1 and heron-spare-2: unplaced, for the same reason as {plan.links[1].id}.",
        "siskin-spare-1: unplaced. No permit.",
    )


def test_a_caution_that_every_carrier_has_is_said_once():
    job = make_job(3)
    plan = make_plan(job)
    links = tuple(replace(link, status=Status.CAUTION, cautions=("unmeasured",)) for link in plan.links)
    links = (replace(links[0], cautions=("unmeasured", "thin-slack")), *links[1:])
    sheet = build_sheet(job, replace(plan, links=links), make_facts(job))
    assert sheet.head.common == ("not measured",)
    assert [row.marks for row in sheet.rows] == [("thin slack",), (), ()]
    assert {row.status for row in sheet.rows} == {"caution"}


def test_blocked_stays_on_every_row():
    job = make_job(3)
    plan = make_plan(job)
    links = tuple(replace(link, status=Status.BLOCKED, cautions=()) for link in plan.links)
    sheet = build_sheet(job, replace(plan, links=links), make_facts(job))
    assert [row.marks for row in sheet.rows] == [("BLOCKED",)] * 3


def test_a_caution_without_a_code_is_still_marked():
    job = make_job(1)
    plan = make_plan(job)
    links = (replace(plan.links[0], status=Status.CAUTION, cautions=()),)
    assert build_sheet(job, replace(plan, links=links), make_facts(job)).rows[0].marks == ("caution",)


@pytest.mark.parametrize(
    ("name", "letters"),
    [("Łukasz Nguyễn", "ŁN"), ("Björk-Åse Ødegård", "BÅØ"), ("Mara", "M"), ("(spare)", "")],
)
def test_initials_are_the_first_letters(name, letters):
    assert initials(name) == letters


@pytest.mark.parametrize("names", ["initials", "roles"])
def test_who_is_not_shown_by_name_is_named_nowhere_on_the_sheet(names):
    job = replace(make_job(12), note="Łukasz Nguyễn comes late.")
    job = replace(job, links=(replace(job.links[0], receiver="Rack of Łukasz Nguyễn"), *job.links[1:]))
    written = everything_written(sheet_of(job, names=names, unplaced=1))
    assert [link.name for link in job.links if link.name in written] == []


def test_initials_stand_where_the_name_stood():
    sheet = sheet_of(replace(make_job(2), note="Łukasz Nguyễn comes late."), names="initials")
    assert sheet.rows[0].who == "ŁN"
    assert sheet.notes == ("ŁN comes late.",)


def test_a_name_inside_another_word_is_left_alone():
    job = replace(with_name(make_job(1), "Mara"), note="Marathon with Mara.")
    assert sheet_of(job, names="initials").notes == ("Marathon with M.",)


def test_roles_that_several_links_have_are_numbered():
    job = make_job(4)
    shown = [row.who for row in sheet_of(job, names="roles").rows]
    assert len(set(shown)) == len(shown)
    generic = [who for who in shown if who.startswith("microphone")]
    assert generic == [f"microphone {number}" for number in range(1, len(generic) + 1)]
    assert len(generic) > 1


def test_roles_fall_back_to_what_the_link_is():
    assert [row.who for row in sheet_of(make_job(2), names="roles").rows] == ["lead", "microphone"]


def test_a_name_without_letters_falls_back_to_its_label():
    assert sheet_of(with_name(make_job(1), "(?)"), names="initials").rows[0].who == "L01"


def test_an_unknown_way_to_print_names_lists_the_known_ones():
    with pytest.raises(KeyError, match="unknown way to print names 'nicknames'; known: full, initials, roles"):
        sheet_of(make_job(1), names="nicknames")


def test_spare_carriers_of_the_own_type_are_given_in_turn():
    sheet = sheet_of(make_job(6), spares=2)
    assert [(row.spare, row.spare_mhz) for row in sheet.rows[:3]] == [
        ("S1", "686.100"),
        ("S2", "687.400"),
        ("S1", "686.100"),
    ]


def test_another_radio_type_has_no_spare_carrier_of_this_one():
    row = next(row for row in sheet_of(make_job(8)).rows if row.label == "L07")
    assert row.spare is None


def test_a_row_tells_power_with_its_kind_and_the_tuning_range():
    row = sheet_of(make_job(1)).rows[0]
    assert (row.power, row.power_kind, row.band, row.radio) == ("50 mW", "ERP", "470.1–693.9", "Heron")


def test_a_preset_is_found_by_its_carrier():
    job = make_job(1)
    tern = replace(job.links[0], radio=TERN)
    plan = make_plan(job)
    on_preset = replace(plan.links[0], carrier_hz=606_700_000, radio="tern", preset=None)
    row = build_sheet(replace(job, links=(tern,)), replace(plan, links=(on_preset,)), make_facts(job)).rows[0]
    assert (row.preset, row.band) == ("A1", None)


def test_where_tells_wear_hold_and_times_on_air():
    start, end = datetime(2027, 5, 14, 19, 0, tzinfo=UTC), datetime(2027, 5, 14, 21, 30, tzinfo=UTC)
    night = TimeSpan(start=start, end=datetime(2027, 5, 15, 1, 0, tzinfo=UTC))
    link = replace(make_link(0), worn=Worn.HAND, on_air=(TimeSpan(start=start, end=end), night))
    assert sheet_of(make_job(1, links=(link,))).rows[0].where == "hand, held, 14 May 19:00–21:30, 14 May 19:00–01:00"


def test_a_unit_gives_receiver_and_antenna_where_the_link_does_not():
    link = replace(make_link(1), unit="u1", receiver=None, antenna=None)
    unit = Unit(id="u1", name="Rack 1 upper", radio=HERON.id, antenna="Bow")
    row = sheet_of(make_job(1, links=(link,), units=(unit,))).rows[0]
    assert (row.receiver, row.antenna) == ("Rack 1 upper", "Bow")


def test_consecutive_days_are_a_span():
    days = tuple(date(2027, 5, day) for day in (14, 15, 16))
    assert sheet_of(make_job(1, dates=days)).head.dates == "2027-05-14 to 2027-05-16"
    assert sheet_of(make_job(1)).head.dates == "2027-05-14, 2027-05-15"
