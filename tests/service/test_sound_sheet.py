"""Sound on paper: the sheet of its own, read back by another program (pymupdf), and two columns of the wall sheet."""

from __future__ import annotations

import pymupdf
import pytest
from brief_examples import library
from sound_examples import AES, EARS, HEAD, HERON, L01, L02, OSPREY, RECORDER, VOICE, WHOLE

from bandwright.cli import run
from bandwright.core.sheet import LineUp
from bandwright.core.sound.sheet_lines import sheet_lines
from bandwright.documents.brief import read_brief
from bandwright.reference import sound_tables


def sheet(tmp_path, text, *options):
    (tmp_path / "brief.toml").write_text(text)
    out = tmp_path / "sound.pdf"
    code = run(["sound", str(tmp_path / "brief.toml"), "--pdf", str(out), *options])
    return code, pymupdf.open(out) if out.exists() else None


def words_of(page):
    return " ".join(page.get_text().split())


def test_the_table_comes_first_then_diagrams_then_what_goes_together(tmp_path):
    code, document = sheet(tmp_path, WHOLE + EARS)
    assert code == 0
    assert document is not None
    table, *diagrams, rest = document
    assert "Lantern Quay: sound" in words_of(table)
    assert "L01 Mara recorder -18 0 0 6.5" in words_of(table)
    assert "+4.0 dBu" in words_of(table)
    told = " ".join(map(words_of, diagrams))
    assert "L01 to recorder" in told
    assert "clips 130.0" in told
    assert "-20.0" in told
    assert "Companding of the kit" in words_of(rest)
    assert "voice by L01: after 0.88 ms; add 2.99 ms = 144 samples at 48 kHz = 1.03 m." in words_of(rest)
    for page in document:
        assert "In-ear levels can harm hearing" in words_of(page)


def test_words_stay_on_their_page_with_long_names_and_many_links(tmp_path):
    long = "The understudy of the lamplighter, second cast, in the heavy coat with the brass buttons"
    links = "".join(
        L01.replace('"L01"', f'"M{n:02}"').replace('"Mara"', f'"{long} {n}"').replace("0.2", f"0.{n + 10}")
        for n in range(40)
    )
    text = (
        HEAD
        + HERON
        + OSPREY
        + VOICE
        + L01
        + L02
        + RECORDER.replace('for = ["L01"]\n', f'name = "{long}"\n')
        + AES
        + links
    )
    _, document = sheet(tmp_path, text, "--paper", "letter", "--names", "roles")
    assert document is not None
    assert len(document) > 10
    for page in document:
        for word in page.get_text("words"):
            left, top, right, bottom = word[:4]
            assert 17 <= left < right <= page.rect.width - 17 + 1, word
            assert 10 <= top < bottom <= page.rect.height - 10, word
    assert not any(long in words_of(page) for page in document[:2])  # names are not shown


def test_the_same_brief_gives_the_same_bytes_but_for_the_minute(tmp_path, monkeypatch):
    one, two = (tmp_path / name for name in ("one", "two"))
    for folder in (one, two):
        folder.mkdir()
        sheet(folder, WHOLE)
    first, second = ((folder / "sound.pdf").read_bytes() for folder in (one, two))
    assert len(first) == len(second)


@pytest.mark.parametrize(("name", "told"), [("sound.txt", "does not end with .pdf"), ("there.pdf", "there.pdf")])
def test_a_sheet_is_a_new_pdf(tmp_path, capsys, name, told):
    (tmp_path / "brief.toml").write_text(WHOLE)
    (tmp_path / "there.pdf").write_text("kept")
    assert run(["sound", str(tmp_path / "brief.toml"), "--pdf", str(tmp_path / name)]) == 2
    assert told in capsys.readouterr().err
    assert (tmp_path / "there.pdf").read_text() == "kept"


def line_ups(text):
    return sheet_lines(read_brief(text, file="quay.toml", library=library()), sound_tables())


def test_the_wall_sheet_has_gain_and_companding_of_links_that_state_enough():
    assert line_ups(WHOLE) == (LineUp(link="L01", gain="-18 dB", companding="full"), LineUp(link="L02", gain="-6 dB"))
    set_by_hand = WHOLE.replace("from_source_m = 0.2", 'from_source_m = 0.2\ngain_db = -12\ncompanding = "flat"')
    assert line_ups(set_by_hand)[0] == LineUp(link="L01", gain="-12 dB", companding="flat")
    bridged = WHOLE.replace("from_source_m = 0.2", 'from_source_m = 0.2\nreceiver_companding = "flat"')
    assert line_ups(bridged)[0].companding == "full / flat"
    bare = HEAD + HERON.split("companding")[0] + '[[link]]\nid = "L01"\nradio = "heron"\n'
    assert line_ups(bare) == ()
    assert line_ups(bare + "gain_db = 12\n") == (LineUp(link="L01", gain="+12 dB"),)


def test_a_plan_prints_them(tmp_path):
    (tmp_path / "brief.toml").write_text(WHOLE)
    run(["plan", str(tmp_path / "brief.toml"), "--out", str(tmp_path / "out")])
    (page,) = pymupdf.open(tmp_path / "out" / "sheet.pdf")
    assert "Gain, companding" in words_of(page)
    assert "-18 dB" in words_of(page)
