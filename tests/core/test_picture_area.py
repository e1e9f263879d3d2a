"""The plan as a drawing: everything that is on it has its mark, its words and its place."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from area_examples import HALL, job_of_hall

from bandwright.core.drawing import Area, Ink, Line, Mark, Pattern, Raster, Rect, Shape, texts, walk
from bandwright.core.picture_area import area_pictures
from bandwright.core.picture_area_legend import BANDS, HATCHED
from bandwright.core.reach.area_reach import area_reach
from bandwright.core.sheet_names import names_shown
from bandwright.reference import reach_tables
from bandwright.sheets.palette import Theme
from bandwright.sheets.picture_pdf import picture_pdf
from bandwright.sheets.png import png
from bandwright.sheets.svg import svg

TABLES = reach_tables()


def pictures_of(text, cells=50, names="full"):
    job = job_of_hall(text)
    reach = area_reach(job, job.links, carriers={}, tables=TABLES, every_s=600, cells=cells)
    return reach, area_pictures(reach, title=job.title, names=names_shown(job, names))


@pytest.fixture(scope="module")
def hall():
    return pictures_of(HALL)


def words(drawing):
    return [item.text for item in texts(drawing)]


def test_each_kind_of_links_has_a_map_the_worst_one_first(hall):
    reach, pictures = hall
    assert len(pictures) == len(reach.kinds) == 2
    worst = {one.facts.link.id: one.worst.reserve_db for one in reach.judged}
    assert worst["E01"] < worst["L01"]
    assert "Mara's ears (Siskin, from its antenna to the people)" in words(pictures[0])
    assert "Mara, Theo, Chorus 1, Chorus 2, Chorus 3 and 1 more (Heron)" in words(pictures[1])


def test_a_map_says_which_dropouts_count_and_that_this_is_assumed(hall):
    for picture in hall[1]:
        said = " ".join(words(picture))
        assert "no more than one audible dropout in 10 min of walking" in said
        assert "lasts longer than 5 ms (assumed, unless audible_ms of the radio type states it)" in said


def test_everything_on_the_plan_is_named(hall):
    _, pictures = hall
    said = words(pictures[1])
    for name in (
        "Left",
        "Right",
        "Stage",
        "Backstage",
        "House talkback",
        "front-left",
        "gallery",
        "Back of the set, 4 dB",
        "Dressing rooms, 120 mm brick",
    ):
        assert name in said
    assert any(text.startswith("worst: Mara") for text in said)
    assert any(text.startswith("Entrance: ") for text in said)


def test_marks_stand_where_things_are(hall):
    """Left stands at [3, 0.5] and Right at [21, 0.5]: as far apart as two ends of a wall 18 m long."""
    _, pictures = hall
    items = list(walk(pictures[1].items))
    discs = [item.at for item in items if isinstance(item, Mark) and item.shape is Shape.DISC and item.size == 13]
    (left, right) = sorted(discs)[:2]
    walls = [item for item in items if isinstance(item, Line) and item.width == 4.0 and item.start[0] < 700]
    set_back = next(
        item for item in walls if abs(item.end[1] - item.start[1]) < 1e-6 and item.end[0] - item.start[0] > 200
    )
    scale = (set_back.end[0] - set_back.start[0]) / 10
    assert right[0] - left[0] == pytest.approx(18 * scale)
    assert left[1] == pytest.approx(right[1])
    assert left[1] - set_back.start[1] == pytest.approx(11.5 * scale)  # up the plan is up the page


def test_where_it_is_not_enough_the_map_is_hatched(hall):
    reach, pictures = hall
    short = reach.kinds[1].reserve_db < 0
    hatched = [
        item
        for item in walk(pictures[0].items)
        if isinstance(item, Rect) and item.pattern in (Pattern.HATCH, Pattern.CROSS) and item.width != 34
    ]
    raster = next(item for item in walk(pictures[0].items) if isinstance(item, Raster) and item.columns > 1)
    side = raster.width / reach.grid.columns
    covered = sum(item.width * item.height for item in hatched)
    assert covered == pytest.approx(short.sum() * side**2)
    for one, two in itertools.combinations(hatched[:40], 2):
        wide = min(one.x + one.width, two.x + two.width) - max(one.x, two.x)
        high = min(one.y + one.height, two.y + two.height) - max(one.y, two.y)
        assert wide < 1e-6 or high < 1e-6


def test_bands_hold_the_margins_of_the_map(hall):
    reach, pictures = hall
    raster = next(item for item in walk(pictures[1].items) if isinstance(item, Raster) and item.columns > 1)
    steps = np.frombuffer(raster.steps, dtype=np.uint8).reshape(raster.rows, raster.columns)[::-1]
    middles = steps[1::3, 1::3].ravel()  # the middle of each cell of the grid
    values = reach.kinds[0].reserve_db
    for band in BANDS:
        assert (middles[(values >= band.low_db) & (values < band.high_db)] == band.step).all()
    edges = [*BANDS, *HATCHED]
    assert all(one.low_db == two.high_db for one, two in itertools.pairwise(edges))


def test_what_lies_outside_the_outline_is_covered(hall):
    _, pictures = hall
    (cover,) = [item for item in walk(pictures[0].items) if isinstance(item, Area) and item.ink is Ink.OUTSIDE]
    assert len(cover.points) == 5 + 6  # the box around, and the outline back to where it began


def test_labels_do_not_lie_on_each_other(hall):
    from bandwright.core.drawing import width_of

    _, pictures = hall
    plan = [item for item in texts(pictures[1]) if item.at[0] < 780 and item.at[1] > 66 and item.size >= 12]
    boxes = []
    for item in plan:
        wide = width_of(item.text, size=item.size, bold=item.bold) * 0.85
        left = item.at[0] - {"start": 0, "middle": wide / 2, "end": wide}[item.anchor.value]
        boxes.append((left, item.at[1] - item.size * 0.7, left + wide, item.at[1]))
    for one, two in itertools.combinations(boxes, 2):
        assert min(one[2], two[2]) <= max(one[0], two[0]) or min(one[3], two[3]) <= max(one[1], two[1])


def test_the_plan_alone_is_drawn_where_no_margin_can_be_told():
    bare = HALL.replace("power_mw = [10, 50]\n", "").replace("power_mw = [20]\n", "")
    bare = bare.replace('max_power = { bodyworn_mw = 50, handheld_mw = 10, kind = "erp" }\n', "")
    bare = bare.replace('max_power = { any_mw = 20, kind = "eirp" }\n', "")
    _, (picture,) = pictures_of(bare, cells=20)
    said = " ".join(words(picture))
    assert "no margin can be told" in said
    assert "To fill in: power_mw of heron" in said
    assert "Left" in said


@pytest.mark.parametrize("theme", [Theme.LIGHT, Theme.DARK, Theme.PRINT])
def test_maps_are_painted_in_every_theme(hall, theme):
    _, pictures = hall
    assert svg(pictures[1], theme=theme).startswith("<svg")
    assert png(pictures[1], theme=theme, scale=1).startswith(b"\x89PNG")


def test_a_pdf_has_a_page_for_each_map(hall):
    import pymupdf

    _, pictures = hall
    with pymupdf.open(stream=picture_pdf(pictures), filetype="pdf") as pdf:
        assert pdf.page_count == 2
        assert all(page.rect.width > page.rect.height for page in pdf)
        assert "worst: Mara" in pdf[1].get_text().replace("\n", " ")


def test_people_may_stand_on_a_map_by_their_initials():
    _, pictures = pictures_of(HALL, cells=20, names="initials")
    said = [*(text for picture in pictures for text in words(picture)), *(picture.description for picture in pictures)]
    assert not any(name in text for text in said for name in ("Mara", "Theo", "Chorus"))
    assert any(text.startswith("worst: ME ") for text in said)
    assert "M, T, C1, C2, C3 and 1 more (Heron)" in said
