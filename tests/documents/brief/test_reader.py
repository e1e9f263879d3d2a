from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from brief_examples import SAMPLE, SMALL, changed, faults_of, job_of, library

from bandwright.core.bands import Span
from bandwright.core.job import Binds, Block, Isolation, PairRule
from bandwright.core.kit import Direction, Emission, MakesProducts, PowerKind, Preset, TuningRange, Worn
from bandwright.core.permits import PermitState, PowerLimit
from bandwright.documents.brief import init_text, read_brief, read_kit
from bandwright.errors import InputError
from bandwright.reference import generic_classes
from bandwright.reference.demo import demo_brief_text

LISBON = ZoneInfo("Europe/Lisbon")


def link_with(keys: str):
    return job_of(f'{SMALL}[[link]]\nid = "L01"\nradio = "heron"\n{keys}').links[0]


def radio_with(keys: str, *, radio_id: str = "r"):
    return job_of(f'{SMALL}[[radio]]\nid = "r"\n{keys}').radio(radio_id)


def permit_with(keys: str):
    return job_of(SMALL.replace('state = "granted"\n', f'state = "granted"\n{keys}\n')).permits[0]


def other_with(keys: str):
    return job_of(f'{SMALL}[[other]]\nid = "o"\ncarrier_mhz = 611.3\nbandwidth_khz = 12.5\n{keys}').others[0]


# ------------------------------------------------------------------------------------------------ the sample


def test_the_sample_of_the_design_reads_as_it_says():
    job = job_of(SAMPLE)
    assert (job.title, job.dates) == ("Lantern Quay", (date(2027, 5, 14), date(2027, 5, 15)))
    (place,) = job.places
    assert (place.id, place.name, place.timezone, place.tv_closed) == (
        "quay",
        "Quay stage",
        "Europe/Lisbon",
        ("23", "26"),
    )
    assert place.raster is not None
    assert place.raster.id == "region1"
    (permit,) = job.permits
    assert permit.state is PermitState.GRANTED
    assert permit.windows == (Span(606_500_000, 613_500_000),)
    assert permit.max_bandwidth_hz == 200_000
    assert permit.max_power == PowerLimit(kind=PowerKind.ERP, bodyworn_mw=50, handheld_mw=10)
    assert permit.confirmed
    (heron,) = job.radios
    assert heron.direction is Direction.FROM_PERSON
    assert heron.tuning == (TuningRange(low_hz=470_100_000, high_hz=613_900_000, step_hz=25_000),)
    assert (heron.emission, heron.bandwidth_hz, heron.spacing_hz) == (Emission.FM, 200_000, 350_000)
    assert (heron.power_mw, heron.power_kind) == ((10, 50), PowerKind.ERP)
    assert heron.clearance_hz == (("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000))
    assert heron.assumed == ()
    (link,) = job.links
    assert (link.id, link.name, link.radio, link.worn) == ("L01", "Mara", heron, Worn.BODY)
    (other,) = job.others
    assert (other.id, other.carrier_hz, other.bandwidth_hz) == ("house-talkback", 611_300_000, 12_500)
    assert other.makes_products is MakesProducts.AUTO
    wishes = job.wishes
    assert (wishes.spares, wishes.unmeasured, wishes.seed) == ((("heron", 2),), "avoid", 1)
    assert (wishes.close_above_floor_db, wishes.time_limit_s) == (10, 10)


def test_the_tables_that_the_brief_to_start_from_holds_as_remarks_can_be_taken_as_they_are():
    text = init_text()
    low, high = text.index("# [[isolation]]"), text.index("# ---- Transmitters")
    lines = [line for line in text[low:high].splitlines() if not line.startswith("# ----")]
    taken = "".join(f"{line.removeprefix('# ')}\n" for line in lines)
    earshots = '[[earshot]]\nid = "stage"\n[[earshot]]\nid = "foyer"\n'
    job = job_of(text[:low] + earshots + taken + text[high:])
    assert [(item.one, item.two, item.isolation_db) for item in job.isolations] == [("stage", "foyer", 45)]
    assert [(rule.one, rule.two, rule.where) for rule in job.pairs] == [("L01", "pack", "same-wearer")]
    assert [(block.names, block.keep_out) for block in job.blocks] == [(("pack",), True)]
    assert [(run.antenna.id, len(run.parts), run.feeds) for run in job.runs] == [("east", 2, ())]
    assert [item.id for item in (*job.microphones, *job.sources, *job.feeds)] == ["lavalier", "voice", "recorder"]


@pytest.mark.parametrize("text", [init_text(), demo_brief_text(), SMALL], ids=["init", "demo", "small"])
def test_the_briefs_that_we_give_away_read_without_faults(text):
    assert faults_of(text) == ()


def test_the_brief_of_init_counts_its_ensemble_and_says_what_it_assumes():
    job = job_of(init_text())
    assert [link.id for link in job.links] == ["L01", "M.1", "M.2", "M.3", "M.4", "M.5"]
    assert job.radio("pack").assumed == ("spacing_hz", "clearance_hz", "noise_figure_db", "needs_cn_db")


def test_without_a_place_there_is_one_unnamed_place_in_utc():
    job = job_of(SMALL.replace('[[place]]\nid = "quay"\ntimezone = "Europe/Lisbon"\n', ""))
    assert [(place.timezone, place.raster) for place in job.places] == [("UTC", None)]


def test_only_a_job_a_permit_and_a_radio_type_are_needed():
    assert job_of(SMALL).links == ()


# ------------------------------------------------------------------------------------------------ exact numbers


def test_every_25_khz_carrier_of_470_to_694_mhz_is_read_to_the_hz(authority):
    # 8,960 carriers on the grid of 25 kHz from 470.000 MHz: (694 - 470) MHz / 25 kHz.
    carriers_hz = [470_000_000 + 25_000 * k for k in range(8_960)]
    texts = [f"{hz // 1_000_000}.{hz % 1_000_000:06d}".rstrip("0") + "0" for hz in carriers_hz]
    windows = ", ".join(f"[{text}, {text}1]" for text in texts)
    job = job_of(SMALL.replace("[[606.5, 613.5]]", f"[{windows}]"))
    read = [window.low_hz for window in job.permits[0].windows]
    off = sum(a != b for a, b in zip(read, carriers_hz, strict=True))
    authority("carriers read to the Hz", source="whole-number arithmetic", ours=off, theirs=0, kind="arithmetic")
    # the trap this is about: binary floats miss some of them
    assert any(int(float(text) * 1e6) != hz for text, hz in zip(texts, carriers_hz, strict=True))


@pytest.mark.parametrize(
    ("written", "hz"),
    [("606.7", 606_700_000), ("606.712500", 606_712_500), ("607", 607_000_000), ("6.067e2", 606_700_000)],
)
def test_a_held_carrier_is_exact_however_it_is_written(written, hz):
    assert link_with(f"hold_mhz = {written}").hold_hz == hz


def test_a_step_of_six_and_a_quarter_khz_is_exact():
    radio = radio_with(
        'defaults = "talkback-narrow"\ntuning = [{ low_mhz = 446.00625, high_mhz = 446.09375, step_khz = 6.25 }]'
    )
    assert radio.tuning == (TuningRange(low_hz=446_006_250, high_hz=446_093_750, step_hz=6_250),)


# ------------------------------------------------------------------------------------------------ links


def test_a_count_makes_numbered_links_of_one_kind():
    job = job_of(f'{SMALL}[[link]]\nid = "M"\nname = "Choir"\nradio = "heron"\ncount = 3\npriority = 2')
    assert [(link.id, link.name, link.priority) for link in job.links] == [
        ("M.1", "Choir 1", 2),
        ("M.2", "Choir 2", 2),
        ("M.3", "Choir 3", 2),
    ]


def test_to_stay_apart_from_a_counted_link_means_from_each_of_them_but_not_from_oneself():
    text = (
        f'{SMALL}[[link]]\nid = "M"\nradio = "heron"\ncount = 2\napart_from = ["M"]\n'
        '[[link]]\nid = "L"\nradio = "heron"\napart_from = "M"\n'
    )
    assert {link.id: link.apart_from for link in job_of(text).links} == {
        "M.1": ("M.2",),
        "M.2": ("M.1",),
        "L": ("M.1", "M.2"),
    }


def test_every_key_of_a_link_arrives():
    text = SMALL + (
        '[[unit]]\nid = "R1"\nname = "Receiver 1"\nradio = "heron"\nserial = "0451"\nrack = "A"\nantenna = "east"\n'
        '[[link]]\nid = "L02"\nradio = "heron"\n'
        '[[link]]\nid = "L01"\nradio = "heron"\nworn = "hand"\nhold_mhz = 606.7\npriority = -3\n'
        'earshot = ["main", "hall"]\npower_mw = 10\nunit = "R1"\nplace = "quay"\nrole = "Pilot"\nwearer = "mara"\n'
        'rack = "A"\napart_from = ["L02"]\nmovable = "break"\ndesk_input = "7"\nreceiver = "R1.2"\nantenna = "west"\n'
        'note = "sewn in"\n'
    )
    job = job_of(text)
    link = job.links[1]
    assert (link.worn, link.hold_hz, link.priority, link.power_mw) == (Worn.HAND, 606_700_000, -3, 10)
    assert (link.earshots, link.unit, link.place, link.role) == (frozenset({"main", "hall"}), "R1", "quay", "Pilot")
    assert (link.wearer, link.rack, link.apart_from, link.movable) == ("mara", "A", ("L02",), "break")
    assert (link.desk_input, link.receiver, link.antenna, link.note) == ("7", "R1.2", "west", "sewn in")
    (unit,) = job.units
    assert (unit.name, unit.radio, unit.serial, unit.rack, unit.antenna) == ("Receiver 1", "heron", "0451", "A", "east")


@pytest.mark.parametrize(
    ("direction", "worn"), [("from-person", Worn.BODY), ("to-person", Worn.RACK), ("both", Worn.BODY)]
)
def test_where_nothing_says_how_it_is_worn_the_direction_does(direction, worn):
    text = SMALL.replace("spacing_khz = 350\n", f'spacing_khz = 350\ndirection = "{direction}"\n')
    assert job_of(f'{text}[[link]]\nid = "L"\nradio = "heron"').links[0].worn is worn


def test_a_single_earshot_needs_no_brackets():
    assert link_with('earshot = "main"').earshots == frozenset({"main"})


# ------------------------------------------------------------------------------------------------ times


def test_a_time_of_the_day_counts_on_every_date_in_the_zone_of_the_place():
    spans = link_with('on_air = [{ start = "19:30", end = "23:00" }]').on_air
    # Lisbon keeps summer time (UTC+1) in May: common knowledge, and what the time zone database says.
    assert [(span.start.astimezone(UTC), span.end.astimezone(UTC)) for span in spans] == [
        (datetime(2027, 5, 14, 18, 30, tzinfo=UTC), datetime(2027, 5, 14, 22, 0, tzinfo=UTC)),
        (datetime(2027, 5, 15, 18, 30, tzinfo=UTC), datetime(2027, 5, 15, 22, 0, tzinfo=UTC)),
    ]


def test_a_time_on_air_may_run_past_midnight():
    spans = link_with('on_air = [{ start = "22:00", end = "01:30" }]').on_air
    assert [(span.start, span.end) for span in spans] == [
        (datetime(2027, 5, 14, 22, 0, tzinfo=LISBON), datetime(2027, 5, 15, 1, 30, tzinfo=LISBON)),
        (datetime(2027, 5, 15, 22, 0, tzinfo=LISBON), datetime(2027, 5, 16, 1, 30, tzinfo=LISBON)),
    ]


def test_midnight_ends_a_day():
    spans = link_with("on_air = [{ start = 18:00:00, end = 00:00:00 }]").on_air
    assert spans[0].end == datetime(2027, 5, 15, 0, 0, tzinfo=LISBON)


def test_a_date_with_time_counts_once_in_the_zone_of_the_place_or_in_its_own():
    keys = "on_air = [{ start = 2027-05-14T19:00:00, end = 2027-05-14T20:00:00Z }]"
    (span,) = link_with(keys).on_air
    assert span.end - span.start == timedelta(hours=2)


def test_a_date_that_ends_a_time_counts_whole():
    permit = permit_with("valid = [{ start = 2027-05-14, end = 2027-05-15 }]")
    (span,) = permit.valid
    assert (span.start, span.end) == (
        datetime(2027, 5, 14, tzinfo=LISBON),
        datetime(2027, 5, 16, tzinfo=LISBON),
    )


def test_a_permit_for_one_day_is_valid_on_that_day():
    (span,) = permit_with("valid = [{ start = 2027-05-14, end = 2027-05-14 }]").valid
    assert span.end == datetime(2027, 5, 15, tzinfo=LISBON)


# In Lisbon the clocks go back from 02:00 (UTC+1) to 01:00 (UTC) on 2027-10-31, so 01:30 is 00:30 and 01:30 UTC; in the
# Azores from 01:00 (UTC) to 00:00 (UTC-1). They go forward on 2027-03-28. Source: the EU's rule (last Sundays of March
# and October, 01:00 UTC, Directive 2000/84/EC; from memory), as the time zone database has it.
AUTUMN = SMALL.replace("dates = [2027-05-14, 2027-05-15]", "dates = [2027-10-30]")


def in_utc(spans):
    return [f"{span.start.astimezone(UTC):%d %H:%M}-{span.end.astimezone(UTC):%d %H:%M}" for span in spans]


@pytest.mark.parametrize(
    ("start", "end", "on_air", "permitted"),
    [
        ('"22:00"', '"01:30"', "30 21:00-31 01:30", "30 21:00-31 00:30"),
        ("2027-10-31T01:30:00", "2027-10-31T03:00:00", "31 00:30-31 03:00", "31 01:30-31 03:00"),
        ("2027-10-31T01:30:00+01:00", "2027-10-31T01:30:00+00:00", "31 00:30-31 01:30", "31 00:30-31 01:30"),
        ("2027-10-31", "2027-10-31", "30 23:00-01 00:00", "30 23:00-01 00:00"),
        ('"20:00"', '"23:00"', "30 19:00-30 22:00", "30 19:00-30 22:00"),
        ("2027-03-28T01:30:00", "2027-03-28T03:00:00", "28 00:30-28 02:00", "28 01:30-28 02:00"),
    ],
)
def test_an_hour_that_the_clock_shows_twice_is_on_air_as_long_as_it_may_be_and_permitted_while_it_is_certain(
    start, end, on_air, permitted
):
    times = f"[{{ start = {start}, end = {end} }}]"
    link = job_of(f'{AUTUMN}[[link]]\nid = "L"\nradio = "heron"\non_air = {times}').links[0]
    assert in_utc(link.on_air) == [on_air]
    permit = job_of(AUTUMN.replace("[[radio]]", f"valid = {times}\n[[radio]]", 1)).permits[0]
    assert in_utc(permit.valid) == [permitted]


@pytest.mark.parametrize(
    ("day", "expected"), [("2027-10-31", "31 00:00-01 01:00"), ("2027-03-28", "28 01:00-29 00:00")]
)
def test_a_day_whose_midnight_the_clock_shows_twice_or_never_is_that_day(day, expected):
    text = SMALL.replace("Europe/Lisbon", "Atlantic/Azores")
    permit = job_of(text.replace("[[radio]]", f"valid = [{{ start = {day}, end = {day} }}]\n[[radio]]", 1)).permits[0]
    assert in_utc(permit.valid) == [expected]


def test_a_permit_within_the_doubled_hour_must_say_which_one():
    times = "[{ start = 2027-10-31T01:15:00, end = 2027-10-31T01:45:00 }]"
    with pytest.raises(InputError, match="while the clocks change") as caught:
        job_of(SMALL.replace("[[radio]]", f"valid = {times}\n[[radio]]", 1))
    assert [fault.code for fault in caught.value.faults] == ["clock-change"]
    assert "+01:00" in str(caught.value.faults[0].allowed)


# ------------------------------------------------------------------------------------------------ permits


def test_every_key_of_a_permit_arrives():
    permit = permit_with(
        'reference = "LQ-0451"\nplace = "quay"\ngrid_khz = 25\ngrid_anchor_mhz = 606.5\ninside = "carrier"\n'
        'closed_mhz = [[610, 610.2]]\nmax_bandwidth_khz = 180\nsource = "letter"\nconfirmed = false\n'
        'max_power = { any_mw = 25, kind = "eirp" }'
    )
    assert (permit.reference, permit.place, permit.grid_hz, permit.grid_anchor_hz) == (
        "LQ-0451",
        "quay",
        25_000,
        606_500_000,
    )
    assert (permit.inside_carrier, permit.closed) == (True, (Span(610_000_000, 610_200_000),))
    assert (permit.max_bandwidth_hz, permit.source, permit.confirmed) == (180_000, "letter", False)
    assert permit.max_power == PowerLimit(kind=PowerKind.EIRP, any_mw=25)


@pytest.mark.parametrize("rules", [table.id for table in library().rules])
def test_a_shipped_rule_table_makes_permits_that_are_never_confirmed(rules):
    permits = job_of(SMALL.replace("windows_mhz = [[606.5, 613.5]]", f'rules = "{rules}"')).permits
    (table,) = (table for table in library().rules if table.id == rules)
    assert permits
    assert not any(permit.confirmed for permit in permits)
    assert sum(span.width_hz for permit in permits for span in permit.windows) == sum(
        w.span.width_hz for w in table.windows
    )
    for permit in permits:
        assert table.edition in (permit.source or "")
    for window in table.windows:
        (permit,) = (item for item in permits if any(span.holds(window.span) for span in item.windows))
        assert (permit.max_power, permit.max_bandwidth_hz) == (window.max_power, window.max_bandwidth_hz)


def test_who_has_held_a_rule_table_against_the_licence_may_say_so():
    text = SMALL.replace("windows_mhz = [[606.5, 613.5]]", 'rules = "uk-shared-606-613"\nconfirmed = true')
    assert [permit.confirmed for permit in job_of(text).permits] == [True]


# ------------------------------------------------------------------------------------------------ radio types


def test_a_variant_inherits_what_it_does_not_say():
    text = SMALL + (
        '[[radio]]\nid = "r"\nname = "Rook"\ntuning = [{ low_mhz = 500, high_mhz = 510, step_khz = 25 }]\n'
        'emission = "fm"\nbandwidth_khz = 200\nspacing_khz = 350\npower_mw = 50\nclearance_khz = { "2A-B" = 100 }\n'
        '[[radio.variant]]\nid = "narrow"\nbandwidth_khz = 125\nspacing_khz = 225\n'
        '[[radio.variant]]\nid = "fixed"\npresets = [{ label = "A1", mhz = 863.1 }]\n'
    )
    job = job_of(text)
    base, narrow, fixed = job.radio("r"), job.radio("r/narrow"), job.radio("r/fixed")
    changes = {"id": "r/narrow", "name": "Rook narrow", "bandwidth_hz": 125_000, "spacing_hz": 225_000}
    assert narrow == replace(base, **changes)
    assert (fixed.tuning, fixed.presets) == ((), (Preset(label="A1", carrier_hz=863_100_000),))


# Common practice: no source beyond it.
@pytest.mark.parametrize(
    ("name", "spacing_khz", "clearances_khz"),
    [
        ("analogue-fm-wide", 350, {"2A-B": 100, "A+B-C": 50, "3A-2B": 50}),
        ("analogue-fm-narrow", 225, {"2A-B": 50, "A+B-C": 25, "3A-2B": 25}),
        ("in-ear-fm", 500, {"2A-B": 150, "A+B-C": 100, "3A-2B": 50}),
        ("talkback-narrow", 25, {"2A-B": 25}),
        ("digital", 375, {}),
    ],
)
def test_a_generic_class_completes_a_radio_type_and_is_marked_as_assumed(name, spacing_khz, clearances_khz, authority):
    tuning = "tuning = [{ low_mhz = 500, high_mhz = 510, step_khz = 25 }]"
    radio = radio_with(f'defaults = "{name}"\n{tuning}')
    ours = [radio.spacing_hz // 1000, *(hz // 1000 for _, hz in radio.clearance_hz)]
    theirs = [spacing_khz, *clearances_khz.values()]
    authority(f"class {name}", source="common practice", ours=ours, theirs=theirs, kind="common practice", unit="kHz")
    assert {"emission", "bandwidth_hz", "spacing_hz"} <= set(radio.assumed)
    stated = radio_with(f'defaults = "{name}"\n{tuning}\nspacing_khz = 1000\nemission = "fm"\nbandwidth_khz = 100')
    assert stated.spacing_hz == 1_000_000
    assert not {"emission", "bandwidth_hz", "spacing_hz"} & set(stated.assumed)


def test_a_power_without_a_kind_is_taken_as_erp_and_marked_as_assumed():
    radio = radio_with(
        'defaults = "digital"\ntuning = [{ low_mhz = 500, high_mhz = 510, step_khz = 25 }]\npower_mw = 25'
    )
    assert (radio.power_mw, radio.power_kind) == ((25,), PowerKind.ERP)
    assert "power_kind" in radio.assumed


def test_every_key_of_a_radio_type_arrives():
    radio = radio_with(
        'name = "Rook"\ndirection = "both"\nemission = "fm-stereo"\nbandwidth_khz = 180\nspacing_khz = 400\n'
        'presets = [{ label = "A1", mhz = 863.1 }, { label = "A2", mhz = 864.9 }]\npower_mw = [50, 10, 10]\n'
        'power_kind = "conducted"\nclearance_khz = { "4A-3B" = 12.5, "2A-B" = 0.001 }\nfront_end_window_mhz = 24\n'
        'designator = "180KF8E"\npeak_deviation_khz = 50\nchannels_per_unit = 2\ninvented = true\nnote = "old"\n'
    )
    assert (radio.name, radio.direction, radio.emission) == ("Rook", Direction.BOTH, Emission.FM_STEREO)
    assert [preset.carrier_hz for preset in radio.presets] == [863_100_000, 864_900_000]
    assert (radio.power_mw, radio.power_kind) == ((10, 50), PowerKind.CONDUCTED)
    assert radio.clearance_hz == (("4A-3B", 12_500), ("2A-B", 1))
    assert (radio.front_end_window_hz, radio.designator, radio.peak_deviation_hz) == (24_000_000, "180KF8E", 50_000)
    assert (radio.channels_per_unit, radio.invented, radio.note) == (2, True, "old")


# ------------------------------------------------------------------------------------------------ the kit library


def test_a_type_of_the_kit_library_comes_with_its_variants():
    job = job_of(f'{SMALL}[[radio]]\nid = "pack"\nkit = "heron"')
    (heron,) = (radio for radio in library().kit if radio.id == "heron")
    (narrow,) = (radio for radio in library().kit if radio.id == "heron/narrow")
    assert job.radio("pack") == replace(heron, id="pack")
    assert job.radio("pack/narrow") == replace(narrow, id="pack/narrow")


def test_what_a_brief_states_goes_before_the_kit_library():
    job = job_of(f'{SMALL}[[radio]]\nid = "pack"\nkit = "heron"\npower_mw = [5]\nspacing_khz = 400')
    assert job.radio("pack").spacing_hz == 400_000
    assert job.radio("pack").power_mw == job.radio("pack/narrow").power_mw == (5,)
    # where the library's variant differs from its base, the variant knows better
    assert job.radio("pack/narrow").spacing_hz == 225_000


def test_what_a_kit_type_took_from_a_class_stays_marked_as_assumed():
    receiver = ("noise_figure_db", "needs_cn_db")
    assert radio_with('kit = "egret"').assumed == ("spacing_hz", "clearance_hz", *receiver)
    assert radio_with('kit = "egret"\nspacing_khz = 300\nneeds_cn_db = 25').assumed == ("clearance_hz", receiver[0])


KIT = '[[radio]]\nid = "teal"\ndefaults = "digital"\ntuning = [{ low_mhz = 500, high_mhz = 510, step_khz = 25 }]\n'


def test_an_own_kit_file_reads_like_the_radio_tables_of_a_brief():
    kit = read_kit(KIT, file="own.toml", classes=generic_classes())
    assert [radio.id for radio in kit] == ["teal"]
    own = replace(library(), kit=(*library().kit, *kit))
    text = f'{SMALL}[[radio]]\nid = "r"\nkit = "teal"\n'
    assert read_brief(text, file="b.toml", library=own).radio("r").tuning == kit[0].tuning


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "own.toml: [[radio]] is missing (the facts of a transmitter and receiver family)."),
        (KIT + KIT, 'own.toml:6: radio "teal": the id "teal" stands twice in this file.'),
        (KIT + "[job]\n", 'own.toml:5: there is no table "job" here; known: radio.'),
        (KIT + "spacing = 1\n", 'own.toml:5: radio "teal": there is no key "spacing". Did you mean "spacing_khz"?'),
    ],
)
def test_a_bad_kit_file_is_refused_by_its_own_name(text, message):
    with pytest.raises(InputError) as caught:
        read_kit(text, file="own.toml", classes=generic_classes())
    (fault,) = caught.value.faults
    assert str(fault).startswith(message)


# ------------------------------------------------------------------------------------------------ others and pairs


def test_every_key_of_another_user_arrives():
    other = other_with(
        'name = "Talkback"\nkeep_away_khz = 400\nprotect = true\nclearance_khz = { "2A-B" = 25 }\nlevel_dbm = -68.5\n'
        'earshot = ["main"]\nplace = "quay"\non_air = [{ start = "08:00", end = "18:00" }]'
    )
    assert (other.name, other.keep_away_hz, other.protect, other.level_dbm) == ("Talkback", 400_000, True, -68.5)
    assert (other.clearance_hz, other.earshots, other.place) == ((("2A-B", 25_000),), frozenset({"main"}), "quay")
    assert len(other.on_air) == 2


@pytest.mark.parametrize(
    ("written", "meant"), [("true", MakesProducts.YES), ("false", MakesProducts.NO), ('"auto"', MakesProducts.AUTO)]
)
def test_whether_another_user_makes_products_is_said_in_three_ways(written, meant):
    assert other_with(f"makes_products = {written}").makes_products is meant


def test_pairs_name_types_roles_or_links_and_isolations_name_earshots():
    text = SMALL + (
        '[[link]]\nid = "L01"\nradio = "heron"\nrole = "Pilot"\nearshot = ["main"]\n'
        '[[pair]]\nid = "p"\none = "Pilot"\ntwo = "heron"\nspacing_khz = 3000\nwhere = "same-wearer"\n'
        '[[earshot]]\nid = "main"\nname = "Main"\n[[earshot]]\nid = "hall"\n'
        '[[isolation]]\nbetween = ["main", "hall"]\ndb = 40\n'
    )
    job = job_of(text)
    assert job.pairs == (PairRule(id="p", one="Pilot", two="heron", spacing_hz=3_000_000, where="same-wearer"),)
    assert job.isolations == (Isolation(one="main", two="hall", isolation_db=40),)


@pytest.mark.parametrize(
    ("written", "binds"), [("", None), ('binds = "spacing"', Binds.SPACING), ('binds = "nothing"', Binds.NOTHING)]
)
def test_what_binds_between_two_earshots_may_be_said_outright(written, binds):
    text = SMALL + f'[[earshot]]\nid = "a"\n[[earshot]]\nid = "b"\n[[isolation]]\nbetween = ["a", "b"]\n{written}\n'
    assert job_of(text).isolations == (Isolation(one="a", two="b", isolation_db=None, binds=binds),)


@pytest.mark.parametrize(("written", "names"), [('"ears"', ("ears",)), ('["heron", "L01"]', ("heron", "L01"))])
def test_a_block_is_for_a_role_a_radio_type_or_a_link(written, names):
    text = SMALL + (
        '[[link]]\nid = "L01"\nradio = "heron"\nrole = "ears"\n'
        f'[[block]]\nid = "B"\nfor = {written}\nwindows_mhz = [[606.5, 608.5]]\nkeep_out = true\nplace = "quay"\n'
    )
    windows = (Span(606_500_000, 608_500_000),)
    assert job_of(text).blocks == (Block(id="B", names=names, windows=windows, keep_out=True, place="quay"),)


def test_a_front_end_window_is_shared_by_the_receiver_channels_of_a_box_unless_the_type_says_no():
    window = "spacing_khz = 350\nfront_end_window_mhz = 24\n"
    assert job_of(SMALL.replace("spacing_khz = 350\n", window)).radios[0].shared_window_hz == 24_000_000
    own = f"{window}front_end_shared = false\n"
    assert job_of(SMALL.replace("spacing_khz = 350\n", own)).radios[0].shared_window_hz is None


def test_no_spare_carriers_are_the_same_as_no_wish_for_them():
    assert job_of(changed("heron = 2", "heron = 0")).wishes.spares == ()


# ------------------------------------------------------------------------------------------------ ways of writing


def test_dotted_keys_inline_tables_and_sub_tables_mean_the_same():
    plain = changed('max_power = { bodyworn_mw = 50, handheld_mw = 10, kind = "erp" }', "")
    dotted = changed(
        'max_power = { bodyworn_mw = 50, handheld_mw = 10, kind = "erp" }',
        'max_power.bodyworn_mw = 50\nmax_power."handheld_mw" = 10\nmax_power.kind = "erp"',
    )
    table = changed(
        "[[radio]]", '[permit.max_power]\nkind = "erp"\nbodyworn_mw = 50\nhandheld_mw = 10\n[[radio]]', text=plain
    )
    spread = changed(
        "tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]",
        "tuning = [\n  # one range\n  { low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 },\n]",
    )
    assert job_of(dotted) == job_of(table) == job_of(spread) == job_of(SAMPLE)


@pytest.mark.parametrize("ending", ["\r\n", "\n"])
def test_line_ends_and_a_byte_order_mark_change_nothing(ending):
    assert job_of("\ufeff" + SAMPLE.replace("\n", ending)) == job_of(SAMPLE)


def test_what_the_job_says_of_itself_arrives():
    job = job_of(changed("dates =", 'hours = "10-23"\nnote = "Use the east gate"\ninvented = true\ndates ='))
    assert (job.hours, job.note, job.invented) == ("10-23", "Use the east gate", True)


def test_the_guard_of_closed_tv_channels_arrives():
    assert job_of(changed("tv_closed", "tv_guard_khz = 300\ntv_closed")).places[0].tv_guard_hz == 300_000


def test_the_order_of_tables_does_not_matter():
    head, *tables = SAMPLE.split("\n[")
    assert job_of("\n[".join([head, *reversed(tables)])) == job_of(SAMPLE)


def test_other_alphabets_stay_as_they_are():
    assert job_of(changed('"Mara"', '"Łukasz Nguyễn"')).links[0].name == "Łukasz Nguyễn"
