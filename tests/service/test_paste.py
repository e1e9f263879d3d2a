from decimal import Decimal

import pytest
from desks import desk_of, entry_named, fault_at

from bandwright.errors import InputError
from bandwright.service.job_brief import CellFaults
from bandwright.service.paste import paste_entries


@pytest.fixture
def desk(tmp_path):
    with desk_of(tmp_path) as found:
        yield found


def paste(desk, text, *, kind="link", **more):
    return paste_entries(desk, who="Ines", kind=kind, text=text, **more)


def refused(desk, text, **more):
    with pytest.raises(InputError) as caught:
        paste(desk, text, **more)
    return caught.value


def test_rows_with_a_heading_become_tables_and_known_ids_change_theirs(desk):
    done = paste(desk, "ID\tWho\tRadio type\tHold MHz\tours\nL01\tIda\theron\t606,7\tx\n\tNoor\theron\t\t\n")
    assert done.what == "Pasted 1 new link entry and 1 that was there"
    assert entry_named(desk, "L01").value == {
        "id": "L01",
        "name": "Ida",
        "radio": "heron",
        "worn": "body",
        "hold_mhz": entry_named(desk, "L01").value["hold_mhz"],
    }
    assert str(entry_named(desk, "L01").value["hold_mhz"]) == "606.7"
    assert entry_named(desk, "L02").value == {"id": "L02", "name": "Noor", "radio": "heron"}
    assert done.faults == ()


def test_rows_without_a_heading_follow_the_columns_of_the_page(desk):
    paste(desk, "Noor;heron\nTeo;heron\n", columns=["name", "radio"])
    assert [link.name for link in desk.job().links] == ["Mara", "Noor", "Teo"]


def test_rows_go_behind_the_row_they_are_pasted_at(desk):
    paste(desk, "A1,a\nA2,b\n", kind="earshot")
    paste(desk, "A9,c\n", kind="earshot", after=entry_named(desk, "A1").uid)
    assert [entry.id for entry in desk.file.entries("earshot")] == ["A1", "A9", "A2"]


def test_one_bad_cell_refuses_the_whole_paste_and_names_its_row(desk):
    before = desk.seq
    error = refused(desk, "name\thold_mhz\nNoor\tx\nTeo\t607\nKit\t-1\n")
    assert isinstance(error, CellFaults)
    assert [(fault_at(cell), cell.fault.line) for cell in error.cells] == [
        (("not-a-number", "hold_mhz"), 2),
        (("not-above-zero", "hold_mhz"), 4),
    ]
    assert error.cells[0].fault.text == 'row 2: link[1]: hold_mhz is "x", but must be a number of MHz.'
    assert desk.seq == before


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("  \n\n", "empty", "there is nothing to paste."),
        ("a\n" * 501, "too-many", "501 rows are more than can be pasted at once."),
        ("a," * 30, "too-wide", "a row has 31 cells, and there are 2 columns to put them into."),
        ("x" * 1_000_001, "too-large", "a paste of more than 1000000 letters is not read; paste fewer rows at a time."),
        ("x" * 200_000, "no-table", "this is no table that can be read: field larger than field limit (131072)."),
    ],
)
def test_what_is_no_table_is_refused_in_words(desk, text, code, words):
    fault = refused(desk, text, kind="earshot").faults[0]
    assert (fault.code, fault.text) == (code, words)


def test_nothing_is_pasted_into_what_a_brief_has_once(desk):
    assert refused(desk, "a", kind="plan").faults[0].text == "Rows cannot be pasted into [plan]."


def test_ranges_with_decimal_commas_are_read_as_they_are_in_a_cell(desk):
    paste(
        desk, "id\tstate\twindows_mhz\nnear\tgranted\t606,5-613,5\nfar\tgranted\t470,1-480, 614-622,5\n", kind="permit"
    )
    windows = {name: entry_named(desk, name).value["windows_mhz"] for name in ("near", "far")}
    assert str(windows) == str(
        {"near": [[Decimal("606.5"), Decimal("613.5")]], "far": [[Decimal("470.1"), 480], [614, Decimal("622.5")]]}
    )
    error = refused(desk, "id\tstate\twindows_mhz\nx\tgranted\t606,5-613,5,614-622\n", kind="permit")
    assert error.cells[0].field == "windows_mhz"
