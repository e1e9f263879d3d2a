"""Drawings as SVG. Authorities: an XML parser of the standard library; contrast after WCAG 2.2."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pymupdf
import pytest

from bandwright.core.drawing import (
    Anchor,
    Area,
    Drawing,
    Group,
    Ink,
    Line,
    Mark,
    Pattern,
    Polyline,
    Rect,
    Shape,
    Text,
)
from bandwright.sheets.palette import PALETTES, Theme
from bandwright.sheets.svg import svg

NS = {"s": "http://www.w3.org/2000/svg"}
ALL_KINDS = Drawing(
    width=200,
    height=100,
    title='Quay <stage> & "barge"',
    description="Two permits & one carrier < 600 MHz",
    items=(
        Rect(x=0, y=0, width=50, height=50, fill=Ink.TAKEN, pattern=Pattern.HATCH, outline=Ink.TAKEN),
        Rect(x=0, y=0, width=50, height=50, fill=Ink.OURS, opacity=0.2),
        Area(points=((0, 0), (10, 0), (5, 8)), ink=Ink.UNMEASURED, pattern=Pattern.DOTS, opacity=0.5),
        Line(start=(0, 0), end=(9, 9), ink=Ink.GRID, dash=(4, 2)),
        Polyline(points=((0, 0), (3, 4), (9, 9)), ink=Ink.TRACE),
        *(Mark(at=(20, 20), shape=shape, ink=Ink.OURS) for shape in Shape),
        Group(
            title="<L02> & co",
            clip=Rect(x=0, y=0, width=100, height=50),
            items=(Text(at=(5, 5), text="Łukasz <Nguyễn> & \x0b\x00co", size=12, bold=True, anchor=Anchor.END),),
        ),
        Group(items=(Rect(x=0, y=0, width=5, height=5, fill=Ink.TAKEN, pattern=Pattern.CROSS),)),
    ),
)


@pytest.mark.parametrize("theme", list(Theme))
def test_every_kind_of_item_makes_well_formed_xml(theme):
    root = ElementTree.fromstring(svg(ALL_KINDS, theme=theme))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert root.get("viewBox") == "0 0 200 100"


def test_a_screen_reader_finds_title_and_description():
    root = ElementTree.fromstring(svg(ALL_KINDS, prefix="air"))
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "air-title air-description"
    assert root.find("s:title", NS).text == 'Quay <stage> & "barge"'
    assert root.find("s:desc", NS).text == "Two permits & one carrier < 600 MHz"


def test_markup_in_names_stays_text_and_characters_that_xml_forbids_are_left_out():
    root = ElementTree.fromstring(svg(ALL_KINDS))
    assert [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")] == ["Łukasz <Nguyễn> & co"]


def test_every_pattern_and_clip_that_is_used_is_defined_once():
    written = svg(ALL_KINDS, prefix="p")
    used = set(re.findall(r"url\(#([^)]+)\)", written))
    defined = re.findall(r'<(?:pattern|clipPath) id="([^"]+)"', written)
    assert used == set(defined)
    assert len(defined) == len(set(defined))
    assert used == {"p-hatch-taken", "p-dots-unmeasured", "p-cross-taken", "p-clip-1"}


def test_two_drawings_on_one_page_share_no_names():
    names = [set(re.findall(r'id="([^"]+)"', svg(ALL_KINDS, prefix=prefix))) for prefix in ("one", "two")]
    assert not names[0] & names[1]


def test_it_follows_the_readers_setting_and_prints_in_black_and_white():
    written = svg(ALL_KINDS)
    assert "@media (prefers-color-scheme:dark)" in written
    assert "@media print" in written
    assert "@media" not in svg(ALL_KINDS, theme=Theme.PRINT)


@pytest.mark.parametrize("theme", [Theme.AUTO, Theme.DARK, Theme.PRINT])
def test_a_viewer_without_style_sheets_shows_the_same_colours(theme):
    # MuPDF draws SVG and passes over style sheets: paper in the corner, our ink in the middle of a disc.
    disc = Mark(at=(20, 20), shape=Shape.DISC, ink=Ink.OURS, size=16)
    picture = pymupdf.open("svg", svg(replace(ALL_KINDS, items=(disc,)), theme=theme).encode())[0].get_pixmap()
    palette = PALETTES[Theme.LIGHT if theme is Theme.AUTO else theme]
    for (x, y), ink in {(190, 90): Ink.PAPER, (20, 20): Ink.OURS}.items():
        assert "#{:02x}{:02x}{:02x}".format(*picture.pixel(x, y)) == palette[ink]


def luminance(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, two: str) -> float:
    low, high = sorted((luminance(one), luminance(two)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", [Theme.LIGHT, Theme.DARK, Theme.PRINT])
@pytest.mark.parametrize(
    ("ink", "least"),
    [
        # WCAG 2.2, 1.4.3 (text) and 1.4.11 (graphics).
        (Ink.TEXT, 4.5),
        (Ink.MUTED, 4.5),
        (Ink.OURS, 4.5),
        (Ink.OTHER, 4.5),
        (Ink.TRACE, 3.0),
        (Ink.FLOOR, 3.0),
        (Ink.TAKEN, 3.0),
        (Ink.UNMEASURED, 3.0),
    ],
)
def test_what_carries_meaning_stands_out_from_its_ground(theme, ink, least):
    palette = PALETTES[theme]
    assert contrast(palette[ink], palette[Ink.PAPER]) >= least
    assert contrast(palette[ink], palette[Ink.OUTSIDE]) >= least


def test_every_theme_knows_every_ink_and_print_has_no_colour():
    for palette in PALETTES.values():
        assert set(palette) == set(Ink)
    assert all(colour[1:3] == colour[3:5] == colour[5:7] for colour in PALETTES[Theme.PRINT].values())
