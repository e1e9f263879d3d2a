"""The page of comparisons, from records of a test run."""

from __future__ import annotations

import json

import pytest

from tools import make_validation

ROW = {
    "computation": "Free-space loss",
    "source": "Rec. ITU-R P.525",
    "ours": 68.1000000001,
    "theirs": 68.1,
    "tolerance": 0.01,
    "kind": "published",
    "unit": "dB",
    "test": "tests/core/test_loss.py::test_loss",
}


def test_a_row_shows_both_values_the_source_and_the_tolerance():
    assert make_validation.line(ROW) == "| Free-space loss | Rec. ITU-R P.525 | 68.1 dB | 68.1 dB | 0.01 dB |"


def test_rounding_noise_below_the_tolerance_is_not_shown():
    row = {**ROW, "ours": -1.1e-15, "theirs": 0, "tolerance": 1e-12, "unit": ""}
    assert "| 0 | 0 | 1e-12 |" in make_validation.line(row)


def test_a_bar_in_a_name_does_not_break_the_table():
    assert "A \\| B" in make_validation.line({**ROW, "computation": "A | B"})


def test_rows_stand_under_their_kind_and_those_of_the_fixture_itself_are_left_out(tmp_path):
    records = tmp_path / "records.jsonl"
    rows = [ROW, {**ROW, "kind": "memory", "computation": "Width"}, {**ROW, "test": "tests/test_authority.py::test_x"}]
    records.write_text("".join(f"{json.dumps(row)}\n" for row in rows), encoding="utf-8")
    page = make_validation.page(make_validation.read(records))
    published, memory = page.split("## Against values from memory")
    assert published.count("Free-space loss") == 1
    assert "Width" in memory


def test_a_check_that_the_page_lacks_is_named_and_a_row_that_was_skipped_is_let_be(monkeypatch, tmp_path):
    shown = tmp_path / "validation.md"
    skipped = {**ROW, "computation": "From a recording"}
    shown.write_text(make_validation.page([ROW, skipped]), encoding="utf-8")
    monkeypatch.setattr(make_validation, "PAGE", shown)
    make_validation.check(make_validation.page([ROW]))
    with pytest.raises(SystemExit, match="run `make docs`"):
        make_validation.check(make_validation.page([ROW, {**ROW, "computation": "New"}]))
