"""The sheet of reach as PDF, read back by another program (pymupdf)."""

from __future__ import annotations

import itertools

import pymupdf
import pytest
from brief_examples import changed
from reach_examples import REACH

from bandwright.cli import run

LONG = "The understudy of the lamplighter, second cast, in the heavy coat with the brass buttons"


def sheet(tmp_path, text, *options):
    (tmp_path / "brief.toml").write_text(text)
    out = tmp_path / "reach.pdf"
    code = run(["reach", str(tmp_path / "brief.toml"), "--pdf", str(out), *options])
    return code, pymupdf.open(out) if out.exists() else None


def words_of(page):
    return " ".join(page.get_text().split())


def many_links(count):
    links = "".join(
        f'\n[[link]]\nid = "M{n:02}"\nname = "{LONG} {n}"\nradio = "heron"\nunit = "R1"\ndistance_m = {10 + n}\n'
        for n in range(count)
    )
    parts = ", ".join(
        [
            '{ what = "filter", name = "the window filter on the mast", loss_db = 1, passband_mhz = [600, 614] }',
            '{ what = "amplifier", name = "booster of a long name", gain_db = 12, noise_figure_db = 4, iip3_dbm = 9 }',
            '{ what = "cable", type = "rg-213", length_m = 60 }',
            '{ what = "pad", loss_db = 6 }',
            '{ what = "splitter", ways = 8 }',
        ]
    )
    old = '{ what = "cable", length_m = 8, loss_db = 4.1 }, { what = "splitter", ways = 4 }'
    return changed(old, parts, text=REACH) + links


def test_margins_come_first_and_then_the_way_of_each_kind(tmp_path, capsys):
    code, document = sheet(tmp_path, REACH)
    assert code == 1
    assert capsys.readouterr().out.startswith("Label")
    first, microphone, in_ear = document
    assert "Lantern Quay: reach" in words_of(first)
    assert "no plan: carriers held" in words_of(first)
    assert "Mara 606.700 -55.8 57.2 37.1" in words_of(first)
    assert "To fill in" in words_of(first)
    assert "8 m of rg-58 -3.9 dB" in words_of(microphone)
    assert "-93.0 needed" in words_of(microphone)
    assert "4-way splitter costs 6.0 dB" in words_of(microphone)
    assert "in-ear receiver on the body -10.0 dB" in words_of(in_ear)
    for page in document:
        assert "Masts, work at height and mains" in words_of(page)


def test_names_stand_as_asked_for(tmp_path):
    _, document = sheet(tmp_path, REACH, "--names", "initials")
    assert "Mara" not in "".join(page.get_text() for page in document)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_everything_lies_on_the_paper_and_no_words_on_others(tmp_path, paper):
    _, document = sheet(tmp_path, many_links(45), "--paper", paper)
    assert len(document) == 4
    for page in document:
        boxes = [
            (pymupdf.Rect(span["bbox"]), span["text"])
            for block in page.get_text("dict")["blocks"]
            for line in block.get("lines", ())
            for span in line["spans"]
            if span["text"].strip()
        ]
        for box, text in boxes:
            assert page.rect.contains(box), text
        for (one, said), (two, other) in itertools.combinations(boxes, 2):
            shared = one & two
            if not shared.is_empty:
                assert shared.height < 0.45 * min(one.height, two.height) or shared.width < 1, (said, other)


def test_a_file_that_is_there_is_not_overwritten_and_another_kind_is_refused(tmp_path, capsys):
    sheet(tmp_path, REACH)
    capsys.readouterr()
    code, _ = sheet(tmp_path, REACH)
    assert code == 2
    assert "is not overwritten" in capsys.readouterr().err
    assert run(["reach", str(tmp_path / "brief.toml"), "--pdf", str(tmp_path / "reach.svg")]) == 2
    assert "does not end with .pdf" in capsys.readouterr().err
