"""What a report holds when nobody asked for more."""

from __future__ import annotations

import traceback
from decimal import Decimal

import pytest

from bandwright.service.redaction import Keep, outline, redacted_text

LOG = """\
2027-05-14 15:40:01,123 INFO bandwright.web.serve serving on port 8377, open to paired devices
2027-05-14 15:40:02,001 INFO bandwright.web.app PATCH /api/entries/{uid} 409 0.004 s
2027-05-14 15:40:03,500 ERROR bandwright.web.app POST /api/entries made a mistake
Traceback (most recent call last):
  File "/home/ana/.venv/lib/python3.11/site-packages/bandwright/service/entries.py", line 73, in add_entry
    return desk.change(make, who=who, client_key=client_key)
           ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  File "C:\\Users\\ana\\bandwright\\units.py", line 5, in hz_from
    raise ValueError(text)
ValueError: Mara Lind on 606.700 MHz
    and Ola on 611.3 MHz
2027-05-14 15:40:04,000 INFO bandwright.other Mara was here
2027-05-14 15:40:05,000 INFO bandwright.web.serve stopped
"""


def test_a_log_keeps_its_forms_and_loses_every_message():
    text = redacted_text(LOG, keep=Keep(), known={})
    for name in ("Mara", "Ola", "606", "611", "ana"):
        assert name not in text
    assert text.splitlines() == [
        "2027-05-14 15:40:01,123 INFO bandwright.web.serve serving on port 8377, open to paired devices",
        "2027-05-14 15:40:02,001 INFO bandwright.web.app PATCH /api/entries/{uid} 409 0.004 s",
        "2027-05-14 15:40:03,500 ERROR bandwright.web.app POST /api/entries made a mistake",
        "Traceback (most recent call last):",
        '  File "bandwright/service/entries.py", line 73, in add_entry',
        "    return desk.change(make, who=who, client_key=client_key)",
        "           ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^",
        '  File "bandwright/units.py", line 5, in hz_from',
        "    raise ValueError(text)",
        "ValueError: (withheld)",
        "(2 lines withheld)",
        "2027-05-14 15:40:05,000 INFO bandwright.web.serve stopped",
    ]


def test_names_and_frequencies_stay_where_they_are_asked_for():
    names = redacted_text(LOG, keep=Keep(names=True), known={"ana": "(user)"})
    assert "Mara Lind on # MHz" in names
    assert "/home/(user)/" in names
    assert "PATCH /api/entries/{uid} 409 0.004 s" in names
    assert redacted_text(LOG, keep=Keep(names=True, frequencies=True), known={}) == LOG


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        (
            "bandwright plan quay.toml --sweep 'harbour 606.csv' --out Mara",
            "bandwright plan ....toml --sweep ....csv --out ...",
        ),
        ("why quay.bwjob 606.7 --link=Mara", "why ....bwjob ... --link=(withheld)"),
        ("serve PATCH '/api/entries/{uid}'", "serve PATCH /api/entries/{uid}"),
        ("plan 'unclosed", "(withheld)"),
    ],
)
def test_a_command_line_keeps_its_words_and_options(given, kept):
    assert redacted_text(f"arguments: {given}", keep=Keep(), known={}) == f"arguments: {kept}\n"


def fail() -> None:
    try:
        int("606.7 Mara")
    except ValueError as error:
        raise RuntimeError("Mara\n  File is missing\n    Ola") from error


def test_a_real_traceback_keeps_where_it_happened_and_not_what_was_said():
    with pytest.raises(RuntimeError) as caught:
        fail()
    text = redacted_text("".join(traceback.format_exception(caught.value)), keep=Keep(), known={})
    assert "test_redaction.py" in text
    assert "RuntimeError: (withheld)" in text
    assert "direct cause" in text
    said = [line.strip() for line in text.splitlines() if "Mara" in line or "Ola" in line]
    assert said == [
        'int("606.7 Mara")',
        'raise RuntimeError("Mara\\n  File is missing\\n    Ola") from error',
    ]  # our code


def test_a_job_keeps_its_shape_and_loses_names_times_and_frequencies():
    tables = [
        ("job", {"title": "Lantern Quay", "dates": ["2027-05-14"]}),
        (
            "permit",
            {"id": "shared", "state": "granted", "windows_mhz": [[Decimal("606.5"), 614]], "valid": [{"start": "x"}]},
        ),
        ("place", {"id": "quay", "tv_closed": ["23"], "tv_raster": "region1", "timezone": "Europe/Lisbon"}),
        ("radio", {"id": "heron", "clearance_khz": {"2A-B": 100}, "tuning": [{"low_mhz": 470, "step_khz": 25}]}),
        (
            "link",
            {"id": "L01", "name": "Mara", "radio": "heron/narrow", "hold_mhz": 606.7, "Ola": "Nord", "wearer": "Mara"},
        ),
        ("plan", {"spares": {"heron": 2}}),
    ]
    job, permit, place, radio, link, plan = outline(tables, keep=Keep())
    written = str([job, permit, place, radio, link, plan])
    for secret in (
        "Lantern",
        "Mara",
        "Ola",
        "Nord",
        "Lisbon",
        "606",
        "614",
        "470",
        "23",
        "heron",
        "shared",
        "quay",
        "2027",
    ):
        assert secret not in written, secret
    assert permit["state"] == "granted"
    assert permit["windows_mhz"] == [[None, None]]
    assert place["tv_raster"] == "region1"
    assert (radio["clearance_khz"], radio["tuning"]) == ({"2A-B": 100}, [{"low_mhz": None, "step_khz": 25}])
    assert link["radio"].startswith(f"{radio['id']}/")
    assert link["name"] == link["wearer"]
    assert plan["spares"] == {radio["id"]: 2}


def test_a_job_keeps_what_is_asked_for():
    tables = [("link", {"id": "L01", "name": "Mara", "hold_mhz": Decimal("606.700")})]
    assert outline(tables, keep=Keep(names=True, frequencies=True)) == [
        {"table": "link", "id": "L01", "name": "Mara", "hold_mhz": "606.700"}
    ]
    assert outline(tables, keep=Keep(frequencies=True))[0]["hold_mhz"] == "606.700"
    assert outline(tables, keep=Keep(names=True))[0]["hold_mhz"] is None
