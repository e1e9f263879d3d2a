import csv
import io
from dataclasses import replace

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from sheet_examples import make_job, make_plan, with_name

from bandwright.documents.carriers import COLUMNS, carriers_csv, read_carriers
from bandwright.errors import InputError

KNOWN = ["L01", "L02", "L03", "heron-spare-1"]


def read(text, known=KNOWN):
    return read_carriers(text, file="list.csv", known=known)


def faults(text, known=KNOWN):
    with pytest.raises(InputError) as caught:
        read(text, known)
    return caught.value.faults


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_a_list_holds_links_in_the_order_of_the_job_and_then_spare_carriers():
    job = make_job(6)
    plan = make_plan(job, spares=2)
    rows = rows_of(carriers_csv(job, replace(plan, links=plan.links[::-1])))
    assert [row["id"] for row in rows] == ["L01", "L02", "L03", "L04", "L05", "L06", "S1", "S2"]
    assert [row["kind"] for row in rows] == ["link"] * 6 + ["spare"] * 2
    assert rows[5]["mhz"] == "486.1375"
    assert rows[4]["cautions"] == "thin-slack"
    assert rows[0]["power_mw"] == "50"


def test_every_carrier_that_is_written_is_read_back_exactly():
    job = make_job(40)
    plan = make_plan(job, unplaced=3)
    wanted = {item.id: item.carrier_hz for item in (*plan.links, *plan.spares)}
    assert read(carriers_csv(job, plan), known=wanted) == wanted


def test_unplaced_links_stand_in_no_list_of_carriers():
    job = make_job(4)
    assert [row["id"] for row in rows_of(carriers_csv(job, make_plan(job, unplaced=2, spares=0)))] == ["L01", "L02"]


# The characters that start a formula: OWASP, "CSV Injection", with their full-width forms; list from memory.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "＝", "＋", "－", "＠", "\t=", "\r=", " ="])
def test_no_cell_is_a_formula_to_a_spreadsheet(start):
    job = with_name(make_job(2), f'{start}HYPERLINK("x")')
    (name,) = (row["name"] for row in rows_of(carriers_csv(job, make_plan(job))) if row["id"] == "L01")
    assert name.lstrip().startswith("'")
    assert name.replace("'", "").strip() == f'{start.strip()}HYPERLINK("x")'


def test_no_formula_appears_when_a_spreadsheet_splits_at_semicolons():
    job = with_name(make_job(1), "Mara;=1+1")
    lines = carriers_csv(job, make_plan(job)).splitlines()
    assert all(not cell.startswith("=") for line in lines for cell in line.split(";"))


def test_a_name_with_a_line_break_stays_on_one_line():
    job = with_name(make_job(1), "Mara\nthe cook")
    assert len(carriers_csv(job, make_plan(job, spares=0)).splitlines()) == 2


@given(name=st.text(min_size=1, max_size=30))
def test_any_name_keeps_the_columns_apart(name):
    job = with_name(make_job(2), name)
    table = list(csv.reader(io.StringIO(carriers_csv(job, make_plan(job)))))
    assert {len(row) for row in table} == {len(COLUMNS)}
    assert len(table) == 7


@pytest.mark.parametrize(
    "text",
    [
        "link,mhz\nL01,606.7\nL02,607.0125\n",
        "id,mhz\nL01,606.7\nL02,607.0125\n",
        "ID;MHz\nL01;606,7\nL02;607,0125\n",
        "link\tmhz\nL01\t606,700\nL02\t607.0125\n",
        "\ufefflink,mhz\r\nL01,606.7\r\nL02,607.0125\r\n",
        'link,mhz\n"L01","606,7"\n"L02","607,0125"\n',
        "# office plan\n\nlink,mhz\n\n# stage left\nL01,606.7\n,,\nL02,607.0125",
        "sep=;\nlink;mhz\nL01;606,7\nL02;607,0125\n",
        "name, Link , MHZ \nMara, L01 , 606.700 MHz\nIda, L02 , 607.0125MHz \n",
        'note,link,mhz\n"two\nlines",L01,606.7\n,L02,607.0125\n',
        "link,mhz\rL01,606.70000000\rL02,0607.0125\r",
        "id,link,mhz\n1,L01,606.7\n2,L02,607.0125\n",
        "link,mhz\nL01,606.7,\nL02,607.0125,,\n",
    ],
)
def test_a_list_is_read_however_it_is_written(text):
    assert read(text) == {"L01": 606_700_000, "L02": 607_012_500}


def test_spare_carriers_are_read_with_the_links():
    assert read("kind,id,mhz\nlink,L01,606.7\nspare,heron-spare-1,612.3\n") == {
        "L01": 606_700_000,
        "heron-spare-1": 612_300_000,
    }


def test_an_id_that_was_guarded_against_formulas_is_read_as_it_is_called():
    assert read("id,mhz\n'-L9,606.7\n", known=["-L9"]) == {"-L9": 606_700_000}


def test_every_fault_of_a_list_is_told_at_once_with_its_line():
    found = faults(
        "# plan\n"
        "link,mhz\n"
        "L1,606.7\n"
        "L01,606.7\n"
        "L01,607\n"
        "L02,\n"
        "L03,six\n"
        ",606.9\n"
        "heron-spare-1,606.7000001\n"
        "L02,606700\n"
        "L03,607,125\n"
    )
    assert [(fault.line, fault.code) for fault in found] == [
        (3, "unknown-id"),
        (5, "id-twice"),
        (6, "missing-mhz"),
        (7, "not-a-number"),
        (8, "missing-id"),
        (9, "finer-than-1-hz"),
        (10, "id-twice"),
        (10, "out-of-range"),
        (11, "too-many-cells"),
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "link,mhz\nL1,606.7\n",
            'list.csv:2: "L1" is no link or spare carrier of the brief. Did you mean "L01"?',
        ),
        (
            "link,mhz\nzebra,606.7\n",
            'list.csv:2: "zebra" is no link or spare carrier of the brief. Known: L01, L02, L03, heron-spare-1.',
        ),
        (
            "link,mhz\nL01,606.7\nL01,606.7\n",
            'list.csv:3: "L01" stands twice, first in line 2; a link has one carrier.',
        ),
        ("link,mhz\nL01,\n", 'list.csv:2: "mhz" is empty in this row.'),
        ("link,mhz\nL01\n", 'list.csv:2: "mhz" is empty in this row.'),
        (
            "id,mhz\n,606.7\n",
            'list.csv:2: "id" is empty in this row. Start the line with # when it is a note.',
        ),
        (
            "link,mhz\nL01,NaN\n",
            'list.csv:2: "NaN" is no number of MHz; allowed is a number of MHz, at most six decimals, such as 606.700.',
        ),
        (
            'link,mhz\nL01,"1,785.5"\n',
            'list.csv:2: "1,785.5" is no number of MHz; '
            "allowed is a number of MHz, at most six decimals, such as 606.700.",
        ),
        (
            "link,mhz\nL01,606.7000001\n",
            'list.csv:2: "606.7000001" MHz is finer than 1 Hz; '
            "allowed is a number of MHz, at most six decimals, such as 606.700.",
        ),
        (
            "link,mhz\nL01,606700\n",
            'list.csv:2: "606700" is no carrier of a radio link (MHz are asked for, not kHz or Hz); '
            "allowed is a number of MHz, at most six decimals, such as 606.700. Did you mean 606.700?",
        ),
        (
            "link,mhz\nL01,606,7\n",
            "list.csv:2: this row has 3 cells, the header 2. "
            "Put a cell that holds a comma in quotes, or separate cells with semicolons.",
        ),
        (
            "name;carrier\nMara;606,7\n",
            'list.csv:1: a list of carriers needs a column link or id and mhz; the columns here are "name", "carrier".',
        ),
        (
            "links,mhz\nL01,606.7\n",
            'list.csv:1: a list of carriers needs a column link or id; the columns here are "links", "mhz". '
            'Did you mean "link"?',
        ),
        (
            "link,mhz,MHz\nL01,606.7,607\n",
            'list.csv:1: the column "mhz" stands 2 times in the header; it must stand there once.',
        ),
        ("link,mhz\n", "list.csv: this list holds no carriers: nothing stands below its header."),
        (
            "# nothing\n\n",
            "list.csv: this list is empty; a header with a column link or id, and a column mhz is needed.",
        ),
    ],
)
def test_a_fault_says_what_stands_there_and_what_to_do(text, told):
    assert [str(fault) for fault in faults(text)] == [told]


def test_a_quote_that_never_closes_hides_no_rows():
    found = faults('link,mhz,note\nL01,606.7,fine\nL02,607,"lost\nL03,608,\n')
    assert [(fault.line, fault.code) for fault in found] == [(3, "not-csv")]


@given(st.text(max_size=200))
@example("link,mhz\n" + "0" * 200_000)
@example('link,mhz\n"')
@example("link,mhz\n\x00,\x00\n")
@example("\ud800,link,mhz\n\ud800,L01,\ud800")
def test_any_text_is_a_list_or_an_error_in_words(text):
    for start in ("", "link,mhz\n", "id;mhz\nL01;606,7\n"):
        found, told = outcome(start + text)
        assert all(fault.text and fault.file == "list.csv" for fault in told)
        assert bool(found) is not bool(told)
        assert set(found) <= set(KNOWN)
        assert all(isinstance(hz, int) and hz > 0 for hz in found.values())


def outcome(text):
    try:
        return read(text), ()
    except InputError as error:
        return {}, error.faults


# Written with Python's csv module: a general-purpose library that knows nothing of this reader.
@given(
    carriers=st.dictionaries(st.sampled_from(KNOWN), st.integers(1, 6_000_000_000), min_size=1),
    separator=st.sampled_from(",;\t"),
    comma=st.booleans(),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    note=st.text(st.characters(exclude_categories=["Cs"]), max_size=20).filter(lambda text: "#" not in text),
)
def test_what_another_program_writes_is_read_exactly(carriers, separator, comma, quoting, end, note):
    # What ends lines, but not those of this file, is written without quotes unless all is: nobody can tell it apart.
    assume(quoting == csv.QUOTE_ALL or all(mark in end for mark in "\r\n" if mark in note))
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, quoting=quoting, lineterminator=end)
    writer.writerow(["link", "note", "MHz"])
    for name, hz in carriers.items():
        number = f"{hz // 1_000_000}.{hz % 1_000_000:06d}"
        writer.writerow([name, note, number.replace(".", ",") if comma else number])
    assert read(out.getvalue()) == carriers


@pytest.mark.parametrize(
    "first",
    [
        "2027-05-14, 08:10:00, 470000000, 472000000, 25000.00, 8, -124.1, -123.9",
        "470.000,-110.5",
        "470,0;-110,5",
        "MHz,dBm",
        "Frequency;Level",
    ],
)
def test_a_sweep_in_the_place_of_a_list_is_called_one(first):
    with pytest.raises(InputError, match="looks like a sweep") as caught:
        read_carriers(f"{first}\n", file="base.csv", known=["L01"])
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("looks-like-a-sweep", 1)
    assert "--sweep" in fault.hint


def test_a_list_without_a_header_is_no_sweep():
    with pytest.raises(InputError, match="needs a column"):
        read_carriers("L01,606.700\n", file="list.csv", known=["L01"])
