from decimal import Decimal

import pytest

from bandwright.documents.brief import cell_value, table_faults
from bandwright.exact_json import loads

CELLS = [
    ("link", "hold_mhz", "606,7 MHz", Decimal("606.7")),
    ("link", "hold_mhz", "606.700", Decimal("606.700")),
    ("link", "count", "5", 5),
    ("link", "name", " Mara ", "Mara"),
    ("link", "earshot", "main; hall", ["main", "hall"]),
    ("link", "apart_from", "L01, L02", ["L01", "L02"]),
    (
        "link",
        "on_air",
        "9:30-23:00; 01:00 to 02:00",
        [{"start": "09:30", "end": "23:00"}, {"start": "01:00", "end": "02:00"}],
    ),
    (
        "link",
        "on_air",
        "2027-05-15T14:00:00+01:00 - 2027-05-15T23:30:00+01:00",
        [{"start": "2027-05-15T14:00:00+01:00", "end": "2027-05-15T23:30:00+01:00"}],
    ),
    ("permit", "valid", "2027-05-14 to 2027-05-15", [{"start": "2027-05-14", "end": "2027-05-15"}]),
    ("permit", "windows_mhz", "606.5 - 613.5; 614–622", [[Decimal("606.5"), Decimal("613.5")], [614, 622]]),
    ("permit", "windows_mhz", "[[606.5, 613.5]]", [[Decimal("606.5"), Decimal("613.5")]]),
    ("permit", "windows_mhz", "606,5-613,5", [[Decimal("606.5"), Decimal("613.5")]]),
    ("permit", "windows_mhz", "606,5 – 613,5; 614-622", [[Decimal("606.5"), Decimal("613.5")], [614, 622]]),
    (
        "permit",
        "windows_mhz",
        "606,5-613,5, 614-622,25",
        [[Decimal("606.5"), Decimal("613.5")], [614, Decimal("622.25")]],
    ),
    ("permit", "windows_mhz", "606.5-613.5,614-622", [[Decimal("606.5"), Decimal("613.5")], [614, 622]]),
    ("permit", "windows_mhz", "606,5-613,5,614-622", "606,5-613,5,614-622"),
    ("feed", "trims", "low_db -10, high_db 40,5; step_db 1", {"low_db": -10, "high_db": Decimal("40.5"), "step_db": 1}),
    ("feed", "earpiece", "ohm 32, loud 3", "ohm 32, loud 3"),
    ("permit", "max_power", "body 0,5", {"bodyworn_mw": Decimal("0.5")}),
    (
        "permit",
        "max_power",
        "body 12,5, hand 10,5 erp",
        {"bodyworn_mw": Decimal("12.5"), "handheld_mw": Decimal("10.5"), "kind": "erp"},
    ),
    ("permit", "max_power", "body 50, hand 10 erp", {"bodyworn_mw": 50, "handheld_mw": 10, "kind": "erp"}),
    ("permit", "max_power", "50 mW eirp", {"any_mw": 50, "kind": "eirp"}),
    (
        "radio",
        "tuning",
        "470.1-613.9/25",
        [{"low_mhz": Decimal("470.1"), "high_mhz": Decimal("613.9"), "step_khz": 25}],
    ),
    (
        "radio",
        "tuning",
        "470,1-613,9/12,5, 614-620/25",
        [
            {"low_mhz": Decimal("470.1"), "high_mhz": Decimal("613.9"), "step_khz": Decimal("12.5")},
            {"low_mhz": 614, "high_mhz": 620, "step_khz": 25},
        ],
    ),
    ("radio", "presets", "A1 863,1", [{"label": "A1", "mhz": Decimal("863.1")}]),
    ("radio", "presets", "A1 863,A2 864", [{"label": "A1", "mhz": 863}, {"label": "A2", "mhz": 864}]),
    ("radio", "clearance_khz", "2A-B 12,5", {"2A-B": Decimal("12.5")}),
    (
        "radio",
        "presets",
        "A1 863.1, A2 864.1",
        [{"label": "A1", "mhz": Decimal("863.1")}, {"label": "A2", "mhz": Decimal("864.1")}],
    ),
    ("radio", "clearance_khz", "2A-B 100, A+B-C = 50", {"2A-B": 100, "A+B-C": 50}),
    ("radio", "power_mw", "10/50", [10, 50]),
    ("radio", "front_end_shared", "no", False),
    ("other", "makes_products", "auto", "auto"),
    ("other", "makes_products", "no", False),
    ("other", "level_dbm", "−68 dBm", -68),
    ("plan", "spares", "heron 2, siskin/a 1", {"heron": 2, "siskin/a": 1}),
    ("job", "dates", "2027-05-14, 2027-05-15", ["2027-05-14", "2027-05-15"]),
]


@pytest.mark.parametrize(("kind", "key", "typed", "meant"), CELLS, ids=[f"{key}: {text}" for _, key, text, _ in CELLS])
def test_what_is_typed_into_a_cell_becomes_the_value_of_a_brief(kind, key, typed, meant):
    found = cell_value(kind, key, typed)
    assert found == meant
    assert str(found) == str(meant)


def test_texts_inside_tables_and_counts_are_read_like_cells():
    parts = cell_value(
        "run", "parts", [{"what": "cable", "length_m": "8,5", "type": " "}, {"what": "splitter", "ways": "4"}]
    )
    assert parts == [{"what": "cable", "length_m": Decimal("8.5")}, {"what": "splitter", "ways": 4}]
    assert cell_value("plan", "spares", {"heron": "2", "dunlin": "many"}) == {"heron": 2, "dunlin": "many"}


def test_each_text_of_a_variant_is_read_like_the_same_key_of_its_radio_type():
    typed = [{"id": "narrow", "bandwidth_khz": "125", "tuning": "470.1-613.9/25", "note": ""}, "rubbish"]
    assert cell_value("radio", "variant", typed) == [
        {
            "id": "narrow",
            "bandwidth_khz": 125,
            "tuning": [{"low_mhz": Decimal("470.1"), "high_mhz": Decimal("613.9"), "step_khz": 25}],
        },
        "rubbish",
    ]


def test_what_cannot_be_read_stays_text_and_an_empty_cell_says_nothing():
    assert cell_value("link", "hold_mhz", "606700 kHz") == "606700 kHz"
    assert cell_value("radio", "tuning", "somewhere") == "somewhere"
    assert cell_value("permit", "windows_mhz", "[1") == "[1"
    assert cell_value("link", "name", "  ") is None
    assert cell_value("link", "no-such-key", "x") == "x"
    assert cell_value("link", "hold_mhz", Decimal("606.7")) == Decimal("606.7")


def test_a_table_alone_tells_its_faults_with_their_places_and_no_talk_of_quotes():
    found = table_faults("link", {"id": "L 1", "hold_mhz": "x", "ra": 3}, file="quay.bwjob")
    assert [(item.path, item.fault.code) for item in found] == [
        (("link", 0, "id"), "bad-id"),
        (("link", 0, "hold_mhz"), "not-a-number"),
        (("link", 0, "ra"), "unknown-key"),
    ]
    number = found[1].fault
    assert number.text == 'link "L 1": hold_mhz is "x", but must be a number of MHz.'
    assert (number.allowed, number.hint) == ("a number of MHz", None)
    assert found[2].fault.hint == 'Did you mean "rack"?'


def test_what_is_not_written_yet_is_no_fault_of_a_table_but_half_an_entry_is():
    assert table_faults("link", {}, file="f") == ()
    assert [item.path for item in table_faults("radio", {"tuning": [{"low_mhz": 470}]}, file="f")] == [
        ("radio", 0, "tuning", 0, "high_mhz"),
        ("radio", 0, "tuning", 0, "step_khz"),
    ]


def test_tables_that_come_once_have_no_number_in_their_path():
    (found,) = table_faults("plan", {"seed": -1}, file="f")
    assert found.path == ("plan", "seed")


def test_numbers_from_json_and_from_cells_are_the_same():
    assert loads('{"a":606.70}') == {"a": cell_value("link", "hold_mhz", "606.70")}
