"""Touchstone files beside a brief. Authorities: values of the files themselves, converted by hand."""

from __future__ import annotations

import math
import sys

import pytest
from brief_examples import changed
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reach_examples import REACH
from thorough import cases

from bandwright.cli import run
from bandwright.errors import InputError
from bandwright.readers.networks import read_network
from bandwright.service.context import Context
from bandwright.service.reach import reach_links
from bandwright.store import JobFile

TWO_PORTS = """\
! an invented cable; S11 S21 S12 S22 as decibels and degrees
# MHz S DB R 50
470  -30 0  -1.5 -40  -1.5 -40  -30 0
606.7  -28 0  -1.9 -80  -1.9 -80  -28 0
700  -26 0  -2.1 -120  -2.1 -120  -26 0
"""
LETTERS = "0123456789.-+eEnaifSYZRIDBMA#!|[] \n\x00"
ONE_PORT = "# GHz S RI R 50\n0.5 0.5 0\n0.7 0.0 0.1\n"


def in_folder(tmp_path, text, name, content):
    (tmp_path / "brief.toml").write_text(text)
    if content is not None:
        (tmp_path / name).write_text(content)
    return tmp_path / "brief.toml"


def reached(tmp_path, text, name="drum.s2p", content=TWO_PORTS):
    brief = in_folder(tmp_path, text, name, content)
    return reach_links(Context(), brief, link_ids=["L01"], every_s=600)


def with_file(name="drum.s2p"):
    return changed(
        '{ what = "cable", type = "rg-58", length_m = 8 }', f'{{ what = "cable", touchstone = "{name}" }}', text=REACH
    )


def test_gain_is_that_of_the_file_at_its_points_and_lies_on_a_line_between(tmp_path, authority):
    path = tmp_path / "drum.s2p"
    path.write_text(TWO_PORTS)
    found = read_network(path, name="drum.s2p", ports=2)
    for mhz, db in ((470, -1.5), (538.35, -1.7), (606.7, -1.9), (700, -2.1)):
        authority(
            "Gain of a measured cable",
            source="the file's own decibels; a straight line between two of them by hand",
            kind="arithmetic",
            ours=found.gain_db(mhz * 1e6),
            theirs=db,
            tolerance=1e-9,
            unit="dB",
        )
    assert not found.covers(469e6)
    with pytest.raises(ValueError, match="says nothing at"):
        found.gain_db(469e6)


def test_what_an_antenna_reflects_is_lost(tmp_path, authority):
    path = tmp_path / "east.s1p"
    path.write_text(ONE_PORT)
    found = read_network(path, name="east.s1p", ports=1)
    for hz, reflected in ((500e6, 0.25), (700e6, 0.01)):
        authority(
            "Mismatch loss of a one-port",
            source="10 log10(1 - |S11|^2), Pozar, Microwave Engineering, 4th ed., 2.3, by hand",
            kind="arithmetic",
            ours=found.gain_db(hz),
            theirs=10 * math.log10(1 - reflected),
            tolerance=1e-9,
            unit="dB",
        )


def test_a_brief_takes_a_cable_from_the_file_beside_it_and_names_it_among_its_inputs(tmp_path):
    found = reached(tmp_path, with_file())
    west = found.links[0].branches[1]
    assert west.chain.stages[0].gain_db == pytest.approx(-1.9)
    assert [item.name for item in found.inputs] == ["brief.toml", "drum.s2p"]


def test_an_antenna_loses_what_its_file_says(tmp_path):
    text = changed('id = "east"\ngain_dbi = 6', 'id = "east"\ngain_dbi = 6\ntouchstone = "east.s1p"', text=REACH)
    east = reached(tmp_path, text, "east.s1p", ONE_PORT).links[0].branches[0]
    mismatch = (10 * math.log10(0.75) * 93.3 + 10 * math.log10(0.99) * 106.7) / 200
    assert east.chain.antenna_gain_dbi == pytest.approx(6 + mismatch)


@pytest.mark.parametrize(
    ("name", "content", "code", "said"),
    [
        ("drum.s2p", None, "no-file", "there is no file drum.s2p beside the brief"),
        ("drum.s1p", ONE_PORT, "other-ports", "drum.s1p is of 1 port; what lies in a line has two"),
        ("drum.s2p", "no numbers at all\n", "bad-touchstone", "drum.s2p"),
        ("drum.s2p", "# MHz S DB R 50\n470 1 2 3\n", "bad-touchstone", "drum.s2p"),
        ("drum.s2p", "", "bad-touchstone", "drum.s2p"),
        ("drum.txt", TWO_PORTS, "bad-touchstone", "cannot be read as a Touchstone file"),
        (
            "drum.s2p",
            "# MHz S DB R 50\n-500 -30 0 -1 0 -1 0 -30 0\n600 -30 0 -1 0 -1 0 -30 0\n",
            "bad-touchstone",
            "finite",
        ),
        ("drum.s2p", "# MHz S DB R 50\n600 nan 0 -1 0 -1 0 -30 0\n", "bad-touchstone", "finite values"),
    ],
)
def test_a_file_that_is_missing_or_wrong_is_told_with_its_line(tmp_path, name, content, code, said):
    text = with_file(name)
    with pytest.raises(InputError, match=said) as raised:
        reached(tmp_path, text, name, content)
    (fault,) = raised.value.faults
    line = next(number for number, row in enumerate(text.splitlines(), start=1) if name in row)
    assert (fault.code, fault.line) == (code, line)
    assert fault.key is not None
    assert fault.key.endswith("touchstone")


def test_without_the_package_the_error_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "skrf", None)
    with pytest.raises(InputError, match=r'pip install "bandwright\[networks\]"') as raised:
        reached(tmp_path, with_file())
    assert raised.value.faults[0].code == "no-scikit-rf"


def test_a_file_is_of_a_size_that_a_measurement_has(tmp_path):
    path = tmp_path / "huge.s2p"
    with path.open("wb") as file:
        file.truncate(9 * 2**20)
    with pytest.raises(InputError, match="more than 8 MiB"):
        read_network(path, name="huge.s2p", ports=2)


def kept_rows(path, kind):
    with JobFile.open(path, read_only=True) as file:
        return [entry.value for entry in file.entries() if entry.kind == kind]


def test_a_job_keeps_the_points_of_a_file_that_its_brief_names(tmp_path, capsys):
    brief = in_folder(tmp_path, with_file(), "drum.s2p", TWO_PORTS)
    assert run(["job", "import", str(brief), str(tmp_path / "quay.bwjob")]) == 0, capsys.readouterr().err
    (part,) = [part for row in kept_rows(tmp_path / "quay.bwjob", "run") for part in row["parts"] if "points" in part]
    # The figures of the file itself.
    kept = [(float(point["mhz"]), float(point["db"])) for point in part["points"]]
    assert kept == [(470, -1.5), (606.7, -1.9), (700, -2.1)]
    assert "touchstone" not in part


def test_a_job_tells_the_same_of_a_file_as_its_brief(tmp_path):
    text = with_file().replace('id = "east"\ngain_dbi = 6', 'id = "east"\ngain_dbi = 6\ntouchstone = "east.s1p"')
    (tmp_path / "east.s1p").write_text(ONE_PORT)
    brief = in_folder(tmp_path, text, "drum.s2p", TWO_PORTS)
    assert run(["job", "import", str(brief), str(tmp_path / "quay.bwjob")]) == 0
    told = [
        [(branch.chain.antenna_gain_dbi, branch.chain.stages[0].gain_db) for branch in found.links[0].branches]
        for found in (
            reach_links(Context(), path, link_ids=["L01"], every_s=600) for path in (brief, tmp_path / "quay.bwjob")
        )
    ]
    assert told[1] == [pytest.approx(pair, abs=0.011) for pair in told[0]]  # thinned to 0.01 dB, three decimals


def test_an_antenna_without_a_gain_cannot_be_kept_and_the_error_says_what_to_state(tmp_path, capsys):
    text = with_file().replace('id = "east"\ngain_dbi = 6', 'id = "east"\ntouchstone = "east.s1p"')
    (tmp_path / "east.s1p").write_text(ONE_PORT)
    brief = in_folder(tmp_path, text, "drum.s2p", TWO_PORTS)
    assert run(["job", "import", str(brief), str(tmp_path / "quay.bwjob")]) == 2
    assert "State gain_dbi or points of the antenna." in capsys.readouterr().err
    assert not (tmp_path / "quay.bwjob").exists()


def test_a_curve_of_more_points_than_a_job_keeps_is_refused_in_words(tmp_path, capsys):
    rows = "\n".join(f"{470 + n / 10} -30 0 {-1 - n % 2} 0 -1 0 -30 0" for n in range(1001))
    brief = in_folder(tmp_path, with_file(), "drum.s2p", f"# MHz S DB R 50\n{rows}\n")
    assert run(["job", "import", str(brief), str(tmp_path / "quay.bwjob")]) == 2
    assert "drum.s2p takes 1,001 points; a job file keeps 1,000 of them at most." in capsys.readouterr().err


def test_a_file_of_0_hz_alone_has_nothing_for_a_job_to_keep(tmp_path, capsys):
    brief = in_folder(tmp_path, with_file(), "drum.s2p", "# MHz S DB R 50\n0 -30 0 -1 0 -1 0 -30 0\n")
    assert run(["job", "import", str(brief), str(tmp_path / "quay.bwjob")]) == 2
    assert "drum.s2p says nothing of any frequency above 0 Hz." in capsys.readouterr().err


def test_a_job_file_refuses_the_name_of_a_file_in_words(tmp_path):
    brief = in_folder(tmp_path, with_file(), "drum.s2p", TWO_PORTS)
    assert run(["job", "import", str(brief), str(tmp_path / "quay.bwjob")]) == 0
    with JobFile.open(tmp_path / "quay.bwjob") as file:
        (row,) = [row for row in file.entries() if row.kind == "run" and "points" in row.value["parts"][0]]
        value = {**row.value, "parts": [{"what": "cable", "touchstone": "drum.s2p"}]}
        file.change(lambda draft: draft.set(row.uid, value, id=row.id), who="Mara", what="Named a file")
    with pytest.raises(
        InputError, match=r'a job file keeps no Touchstone files, so "drum\.s2p" cannot be found from it'
    ):
        reach_links(Context(), tmp_path / "quay.bwjob", link_ids=["L01"], every_s=600)


@settings(max_examples=cases(150), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(["x.s1p", "x.s2p", "x.s3p", "x.ts", "x"]),
    ports=st.sampled_from([1, 2]),
    cuts=st.lists(st.tuples(st.integers(0, 260), st.text(LETTERS, max_size=6)), max_size=6),
    one=st.booleans(),
)
def test_whatever_a_file_holds_is_read_or_refused_in_words(tmp_path, name, ports, cuts, one):
    text = ONE_PORT if one else TWO_PORTS
    for at, piece in cuts:
        text = text[:at] + piece + text[at + len(piece) // 2 :]
    path = tmp_path / name
    path.write_text(text)
    try:
        found = read_network(path, name=name, ports=ports)
    except InputError:
        return
    for hz, db in found.points:
        assert math.isfinite(hz)
        assert -200 <= db < 10_000
