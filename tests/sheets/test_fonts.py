"""The embedded faces hold what names need, and say what they do not hold."""

import string
from importlib import resources

import pytest

from bandwright.sheets.fonts import FOR_NAMES, Face, printable, register_faces, text_width

# Languages that crews' names come from; the letters are from the Unicode charts Latin-1, Latin Extended-A/B and
# Latin Extended Additional (Vietnamese), Greek and Cyrillic.
NAMES = [
    "Łukasz Nguyễn",
    "Þórunn Ægisdóttir",
    "Ștefan Țurcanu",
    "Ğülşen Işık",
    "Dvořák Žižka",
    "Őri Ű",
    "Ωμέγα",
    "Жанна",
]


@pytest.mark.parametrize("face", FOR_NAMES)
@pytest.mark.parametrize("name", NAMES)
def test_the_faces_of_names_hold_the_letters_of_a_crews_names(face, name):
    assert printable(name, face) == (name, frozenset())


def test_the_face_of_figures_holds_carriers_and_every_check_phrase():
    text = f"0123456789. {string.ascii_letters}-!×"
    assert printable(text, Face.FIGURES) == (text, frozenset())


@pytest.mark.parametrize("face", list(Face))
def test_all_figures_have_one_width_so_that_columns_of_carriers_line_up(face):
    assert len({text_width(figure, face, 10.0) for figure in "0123456789"}) == 1


def test_a_character_that_the_face_lacks_is_seen_and_reported():
    assert printable("Mara 漢", Face.TEXT) == ("Mara ?", frozenset("漢"))


def test_separate_accents_are_composed_into_one_letter():
    assert printable("Nguye\u0302\u0303n", Face.TEXT) == ("Nguyễn", frozenset())


def test_line_breaks_become_spaces_and_invisible_characters_vanish():
    assert printable("a\nb\u200bc\u202ed", Face.TEXT) == ("a bcd", frozenset())


def test_faces_can_be_registered_twice():
    register_faces()
    register_faces()


def test_the_licence_of_the_faces_is_shipped_beside_them():
    folder = resources.files("bandwright.sheets") / "fonts"
    assert "Apache License" in (folder / "LICENSE.txt").read_text(encoding="utf-8")


def test_a_joiner_is_nothing_to_print_and_nothing_that_lacks():
    text, missing = printable("a\u200db", Face.TEXT)
    assert (text, missing) == ("ab", frozenset())
