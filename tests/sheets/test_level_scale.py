"""The level scale and PNG pictures. Authorities: CIE L* (CIE 15), WCAG 2.2, Pillow's reader, and PyMuPDF for PDF."""

from __future__ import annotations

import re
from base64 import b64decode
from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pymupdf
import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from bandwright.core.drawing import Anchor, Drawing, Group, Ink, Line, Mark, Pattern, Raster, Rect, Shape, Text
from bandwright.sheets.level_scale import level_colours, raster_png
from bandwright.sheets.palette import PALETTES, Theme
from bandwright.sheets.pdf_drawing import draw_on
from bandwright.sheets.png import png
from bandwright.sheets.svg import svg

FIXED = [Theme.LIGHT, Theme.DARK, Theme.PRINT]
STEPS = bytes([1, 128, 255, 0, 1, 128])
CELLS = Raster(x=10, y=20, width=60, height=40, columns=3, rows=2, steps=STEPS)


def drawing(*items):
    return Drawing(width=100, height=80, items=items, title="t", description="d")


def luminance(rgb):
    """WCAG 2.2 relative luminance, which is Y of CIE XYZ for sRGB (IEC 61966-2-1)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (value / 255 for value in rgb)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def lightness(rgb):
    """CIE 1976 L*."""
    y = luminance(rgb)
    return 116 * y ** (1 / 3) - 16 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3


def hexed(colour):
    return tuple(int(colour[k : k + 2], 16) for k in (1, 3, 5))


@pytest.mark.parametrize("theme", FIXED)
def test_lightness_runs_evenly_from_one_end_to_the_other(theme, authority):
    light = [lightness(colour) for colour in level_colours(theme)]
    sign = 1 if light[-1] > light[0] else -1
    assert all(sign * (two - one) >= 0 for one, two in pairwise(light))
    assert len(light) == 255
    straight = np.linspace(light[0], light[-1], 255)
    authority(
        f"Level scale, {theme}: largest distance of L* from a straight line",
        source="CIE 15:2004, L* from the Y of sRGB (IEC 61966-2-1)",
        ours=float(np.max(np.abs(np.array(light) - straight))),
        theirs=0.0,
        tolerance=1.5,  # rounding to 8 bits, and a corner of the path outside sRGB
    )
    assert abs(light[-1] - light[0]) > 75


@pytest.mark.parametrize("theme", FIXED)
def test_quiet_lies_near_the_ground_and_loud_stands_out_from_it(theme):
    paper = luminance(hexed(PALETTES[theme][Ink.PAPER]))
    quiet, loud = (luminance(level_colours(theme)[k]) for k in (0, -1))

    def ratio(one, two):
        return (max(one, two) + 0.05) / (min(one, two) + 0.05)

    assert ratio(quiet, paper) < 1.5
    assert ratio(loud, paper) > 4.5


@pytest.mark.parametrize("theme", FIXED)
def test_what_is_not_measured_stands_out_from_the_paper(theme):
    ground, lines = (luminance(hexed(PALETTES[theme][ink])) for ink in (Ink.PAPER, Ink.UNMEASURED))
    assert (max(ground, lines) + 0.05) / (min(ground, lines) + 0.05) >= 3


@pytest.mark.parametrize("theme", FIXED)
def test_a_png_of_cells_reads_back_as_the_colours_of_its_steps(theme):
    with Image.open(BytesIO(raster_png(CELLS, theme))) as found:
        found.load()
        image = found.convert("RGBA")
    colours = level_colours(theme)
    for number, step in enumerate(STEPS):
        pixel = image.getpixel((number % 3, number // 3))
        assert (pixel[3] == 0) if step == 0 else (pixel == (*colours[step - 1], 255))


def test_an_svg_for_any_reader_holds_the_cells_once_for_each_theme():
    root = ElementTree.fromstring(svg(drawing(CELLS)))
    images = root.findall(".//{http://www.w3.org/2000/svg}image")
    assert [image.get("display") for image in images] == [None, "none", "none"]
    for image, theme in zip(images, FIXED, strict=True):
        assert b64decode(image.get("href").partition(",")[2]) == raster_png(CELLS, theme)
    style = root.find("{http://www.w3.org/2000/svg}style").text
    assert re.search(r"prefers-color-scheme:dark\).*\.bw-dark-cells\{display:inline\}", style)
    assert len(re.findall("<image", svg(drawing(CELLS), theme=Theme.DARK))) == 1


def rendered(data):
    with Image.open(BytesIO(data)) as found:
        return np.asarray(found.convert("RGB"), dtype=int)


@pytest.mark.parametrize("scale", [1, 2])
def test_a_png_has_its_size_and_cells_marks_and_areas_where_they_belong(scale):
    shapes = (
        CELLS,
        Rect(x=80, y=0, width=10, height=10, fill=Ink.OURS),
        Group(
            clip=Rect(x=80, y=20, width=10, height=10), items=(Rect(x=70, y=10, width=30, height=60, fill=Ink.TEXT),)
        ),
        Line(start=(0, 70), end=(40, 70), ink=Ink.TEXT, width=2, dash=(10, 10)),
    )
    pixels = rendered(png(drawing(*shapes), scale=scale))
    assert pixels.shape == (80 * scale, 100 * scale, 3)

    def at(x, y):
        return tuple(pixels[int(y * scale), int(x * scale)].tolist())

    colours, ink = level_colours(Theme.LIGHT), {name: hexed(value) for name, value in PALETTES[Theme.LIGHT].items()}
    assert at(20, 30) == colours[0]
    assert at(60, 30) == colours[254]
    assert at(20, 50) == ink[Ink.PAPER]
    assert at(60, 50) == colours[127]
    assert at(85, 5) == ink[Ink.OURS]
    assert at(85, 25) == ink[Ink.TEXT]
    assert at(75, 25) == at(85, 35) == ink[Ink.PAPER]
    assert at(5, 70) == at(25, 70) == ink[Ink.TEXT]
    assert at(15, 70) == at(35, 70) == ink[Ink.PAPER]


@pytest.mark.parametrize("pattern", [Pattern.HATCH, Pattern.CROSS, Pattern.DOTS])
@pytest.mark.parametrize("theme", FIXED)
def test_patterns_cover_part_of_their_area_as_the_pdf_of_the_same_drawing_does(pattern, theme):
    patch = drawing(Rect(x=10, y=8, width=80, height=64, fill=Ink.TAKEN, pattern=pattern))
    target = BytesIO()
    canvas = Canvas(target, pagesize=(100, 80))
    draw_on(canvas, patch, x=0, y=0, width=100, theme=theme)
    canvas.save()
    with pymupdf.open("pdf", target.getvalue()) as document:
        theirs = rendered(document[0].get_pixmap(dpi=144).tobytes("png"))
    ours = rendered(png(patch, theme=theme))
    if theme is Theme.DARK:
        theirs = np.where(np.all(theirs == 255, axis=2, keepdims=True), hexed(PALETTES[theme][Ink.PAPER]), theirs)
        assert 0.05 < np.mean(np.any(ours[40:100, 40:160] != hexed(PALETTES[theme][Ink.PAPER]), axis=2)) < 0.95
        return
    assert ours[30:130, 30:170].mean() == pytest.approx(theirs[30:130, 30:170].mean(), abs=8)


def test_text_keeps_its_anchor_and_every_shape_is_drawn():
    start = rendered(png(drawing(Text(at=(50, 40), text="HHH", size=20))))
    middle = rendered(png(drawing(Text(at=(50, 40), text="HHH", size=20, anchor=Anchor.MIDDLE))))
    end = rendered(png(drawing(Text(at=(50, 40), text="HHH", size=20, anchor=Anchor.END))))
    dark = [np.flatnonzero((picture < 128).any(axis=(0, 2))) for picture in (start, middle, end)]
    assert dark[0].min() >= 100
    assert abs(dark[1].min() + dark[1].max() - 200) <= 3
    assert dark[2].max() <= 100
    for shape in Shape:
        pixels = rendered(png(drawing(Mark(at=(50, 40), shape=shape, ink=Ink.TEXT, size=20))))
        marked = np.argwhere((pixels < 128).any(axis=2))
        assert marked[:, 1].min() + marked[:, 1].max() == pytest.approx(199, abs=3), shape
        assert (pixels[80, 100].mean() > 250) == (shape is Shape.RING)


def test_the_cells_of_a_waterfall_go_onto_a_page_upright():
    target = BytesIO()
    canvas = Canvas(target, pagesize=(100, 80))
    draw_on(canvas, drawing(CELLS), x=0, y=0, width=100)
    canvas.save()
    with pymupdf.open("pdf", target.getvalue()) as document:
        pixels = rendered(document[0].get_pixmap(dpi=72).tobytes("png"))
    colours = level_colours(Theme.PRINT)
    for x, y, expected in ((20, 30, colours[0]), (60, 30, colours[254]), (60, 50, colours[127]), (20, 50, (255,) * 3)):
        assert pixels[y, x] == pytest.approx(expected, abs=6)
