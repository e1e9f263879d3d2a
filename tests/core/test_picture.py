"""The picture of a sweep: nothing covers a label, nothing unmeasured looks quiet, nothing that stands out is lost."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.drawing import (
    Anchor,
    Drawing,
    Group,
    Ink,
    Line,
    Mark,
    Pattern,
    Polyline,
    Rect,
    Text,
    texts,
    walk,
    width_of,
)
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, Other, RadioType, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.picture import CarrierKind, PictureCarrier, carriers_of, plot_right, sweep_picture
from bandwright.core.picture_layout import (
    Flag,
    Limit,
    Panel,
    Trace,
    columns_of,
    lanes_of,
    panels_for,
    round_step,
    unmeasured_spans,
)
from bandwright.core.picture_plot import LIMIT_DASHES, SHALLOW_STRIP
from bandwright.core.planning.plan import Bound, BoundStatus, PlacedLink, Plan, Spare, Status
from bandwright.sheets.svg import svg

MHZ = 1_000_000
# GE06: TV channel n starts at 470 + 8 (n - 21) MHz (from memory).
RASTER = TvRaster(
    id="region1",
    name="Region 1",
    source="GE06",
    channels=tuple(
        TvChannel(label=str(n), span=Span((470 + 8 * (n - 21)) * MHZ, (478 + 8 * (n - 21)) * MHZ))
        for n in range(21, 49)
    ),
)


def trace(*, low_mhz: int = 470, high_mhz: int = 694, bins_per_mhz: int = 40) -> Trace:
    count = (high_mhz - low_mhz) * bins_per_mhz
    low = low_mhz * MHZ + np.arange(count) * (MHZ / bins_per_mhz)
    levels = np.full(count, -120.0)
    return Trace(
        low_edges_hz=low,
        high_edges_hz=low + MHZ / bins_per_mhz,
        highest_db=levels + 2,
        typical_db=levels.copy(),
        floor_db=levels - 1,
        level_words="dBm in 25 kHz",
    )


def permit(*windows_mhz: tuple[float, float], **changes: object) -> Permit:
    fields: dict[str, object] = {
        "id": "site",
        "reference": "Site licence (invented)",
        "state": PermitState.GRANTED,
        "windows": tuple(Span(round(low * MHZ), round(high * MHZ)) for low, high in windows_mhz),
    }
    return Permit(**{**fields, **changes})  # type: ignore[arg-type]


def carrier(label: str, mhz: float, kind: CarrierKind = CarrierKind.MICROPHONE) -> PictureCarrier:
    return PictureCarrier(label=label, name=label, carrier_hz=round(mhz * MHZ), bandwidth_hz=200_000, kind=kind)


def picture(**changes: object) -> Drawing:
    fields: dict[str, object] = {
        "title": "Lantern Quay (invented)",
        "subtitle": "Base sweep",
        "trace": trace(),
        "permits": (permit((494, 502), (582, 598), (606.5, 613.5), (662, 670)),),
        "raster": RASTER,
    }
    return sweep_picture(**{**fields, **changes})  # type: ignore[arg-type]


def crowd() -> list[PictureCarrier]:
    kinds = list(CarrierKind)
    microphones = [carrier(f"L{k:02}", 606.6 + 0.35 * k) for k in range(20)]
    mixed = [carrier(f"X{k:02}", 583 + 0.7 * k, kinds[k % len(kinds)]) for k in range(20)]
    return [*microphones, *mixed, carrier("Ferry terminal announcements", 669.8, CarrierKind.OTHER)]


def box_of(text: Text) -> tuple[float, float, float, float]:
    width = width_of(text.text, size=text.size, bold=text.bold)
    left = text.at[0] - {Anchor.START: 0.0, Anchor.MIDDLE: width / 2, Anchor.END: width}[text.anchor]
    return left, text.at[1] - 0.75 * text.size, left + width, text.at[1] + 0.2 * text.size


def overlap(one: Text, two: Text) -> bool:
    a, b = box_of(one), box_of(two)
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@pytest.mark.parametrize("carriers", [[], crowd()[:3], crowd()], ids=["none", "few", "many"])
@pytest.mark.parametrize("permits", [(), (permit((494, 502), (582, 598), (606.5, 613.5), (662, 670)),)])
def test_no_text_covers_another_and_none_leaves_the_drawing(carriers, permits):
    drawing = picture(carriers=carriers, permits=permits, taken=["23", "45"], closed=["30"])
    shown = texts(drawing)
    assert not [(a.text, b.text) for a, b in combinations(shown, 2) if overlap(a, b)]
    for text in shown:
        left, top, right, bottom = box_of(text)
        assert left >= 0, text.text
        assert top >= 0, text.text
        assert right <= drawing.width, text.text
        assert bottom <= drawing.height, text.text


def test_no_stem_runs_through_a_label():
    drawing = picture(carriers=crowd())
    groups = [g for g in walk(drawing.items) if isinstance(g, Group) and g.title]
    assert len(groups) == len(crowd())
    for one in groups:
        stem = next(item for item in one.items if isinstance(item, Line))
        for other in groups:
            for text in (item for item in other.items if isinstance(item, Text)):
                left, top, right, bottom = box_of(text)
                crosses = left < stem.start[0] < right and stem.start[1] < bottom and top < stem.end[1]
                assert not crosses, (one.title, text.text)


def test_every_kind_of_carrier_has_a_shape_of_its_own():
    drawing = picture(carriers=[carrier(kind.value, 583 + 3 * k, kind) for k, kind in enumerate(CarrierKind)])
    shapes = {
        text.text: next(i.shape for i in group.items if isinstance(i, Mark))
        for group in walk(drawing.items)
        if isinstance(group, Group) and group.title
        for text in group.items
        if isinstance(text, Text) and text.bold
    }
    assert len(shapes) == len(set(shapes.values())) == len(CarrierKind)


def test_few_carriers_carry_their_megahertz_with_three_decimals():
    shown = {text.text for text in texts(picture(carriers=[carrier("L01", 606.7)]))}
    assert {"L01", "606.700"} <= shown


def test_a_taken_tv_channel_is_hatched_and_says_so_in_a_word():
    drawing = picture(taken=["45"])
    assert "TV 45 taken" in {text.text for text in texts(drawing)}
    hatched = [i for i in walk(drawing.items) if isinstance(i, Rect) and i.pattern is Pattern.HATCH]
    assert hatched
    assert not [i for i in walk(picture().items) if isinstance(i, Rect) and i.pattern is Pattern.HATCH]


def test_a_channel_that_the_brief_closes_says_closed():
    assert "TV 45 closed" in {text.text for text in texts(picture(closed=["45"]))}


def test_a_stretch_that_the_permit_closes_is_cross_hatched_and_says_so():
    shut = permit((582, 598), closed=(Span(585 * MHZ, 590 * MHZ),))
    drawing = picture(permits=(shut,))
    assert "closed" in {text.text for text in texts(drawing)}
    assert [i for i in walk(drawing.items) if isinstance(i, Rect) and i.pattern is Pattern.CROSS]


def test_a_licence_that_is_only_applied_for_says_so():
    drawing = picture(permits=(permit((582, 598), state=PermitState.APPLIED),))
    assert "Site licence (invented) (applied for)" in {text.text for text in texts(drawing)}


def test_what_nobody_measured_is_dotted_and_says_so():
    drawing = picture(trace=trace(high_mhz=590), permits=(permit((582, 598)),))
    plot = [i for i in walk(drawing.items) if isinstance(i, Rect) and i.pattern is Pattern.DOTS and i.height > 100]
    assert len(plot) == 1
    assert "not measured" in {
        t.text for g in walk(drawing.items) if isinstance(g, Group) and g.clip for t in g.items if isinstance(t, Text)
    }


def test_a_sweep_in_which_nothing_was_measured_is_dotted_all_over():
    empty = trace()
    nothing = np.full(len(empty.highest_db), np.nan)
    drawing = picture(trace=replace(empty, highest_db=nothing, typical_db=nothing, floor_db=nothing))
    dotted = [i for i in walk(drawing.items) if isinstance(i, Rect) and i.pattern is Pattern.DOTS and i.height > 100]
    assert len(dotted) == 4
    ElementTree.fromstring(svg(drawing))


def test_windows_far_apart_get_panels_and_the_whole_sweep_is_shown_below():
    shown = [text.text for text in texts(picture())]
    assert "The whole sweep" in shown


def test_one_wide_window_needs_no_second_view():
    assert "The whole sweep" not in [text.text for text in texts(picture(permits=(permit((470, 694)),)))]


def test_a_carrier_outside_every_permit_is_still_shown():
    drawing = picture(carriers=[carrier("L01", 550.0)])
    assert "L01" in {text.text for text in texts(drawing)}


def test_the_description_says_in_words_what_the_picture_shows():
    drawing = picture(carriers=[carrier("L01", 606.7), carrier("S1", 607.4, CarrierKind.SPARE)], taken=["45"])
    assert "494.000-502.000 MHz" in drawing.description
    assert "TV channels not to be used: 45 (taken)" in drawing.description
    assert "Microphone, MHz: L01 606.700" in drawing.description
    assert "Spare carrier, MHz: S1 607.400" in drawing.description


def test_names_with_markup_do_not_break_the_file():
    nasty = replace(carrier("<b>&L", 606.7), name='"<script>" & co')
    root = ElementTree.fromstring(svg(picture(carriers=[nasty], title="Quay <& Co>")))
    assert "<b>&L" in [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]


def test_the_same_input_gives_the_same_picture():
    assert svg(picture(carriers=crowd())) == svg(picture(carriers=crowd()))


def test_only_our_carriers_use_the_accent():
    drawing = picture(carriers=[carrier("L01", 606.7), carrier("Ferry", 595.0, CarrierKind.OTHER)], taken=["45"])
    accented = [
        i for i in walk(drawing.items) if getattr(i, "ink", None) is Ink.OURS or getattr(i, "fill", None) is Ink.OURS
    ]
    assert {type(i) for i in accented} == {Rect, Line, Mark, Text}
    assert [i.text for i in accented if isinstance(i, Text)] == ["L01"]


def test_a_file_of_160_000_points_draws_small_and_keeps_a_spike_of_one_bin():
    fine = trace(low_mhz=534, high_mhz=694, bins_per_mhz=1000)
    fine.highest_db[77_777] = -33.0
    drawing = picture(trace=fine, permits=())
    assert len(svg(drawing)) < 250_000
    panel = Panel(span=Span(534 * MHZ, 694 * MHZ), left=0.0, width=1000.0)
    columns = [c for run in columns_of(panel, fine, fine.highest_db) for c in run]
    assert len(columns) <= 1001
    assert max(c.high for c in columns) == -33.0
    assert min(c.low for c in columns) == -118.0


def test_a_gap_in_the_bins_splits_the_line():
    part = trace(low_mhz=500, high_mhz=510)
    keep = (part.low_edges_hz < 503 * MHZ) | (part.low_edges_hz >= 505 * MHZ)
    gapped = Trace(
        low_edges_hz=part.low_edges_hz[keep],
        high_edges_hz=part.high_edges_hz[keep],
        highest_db=part.highest_db[keep],
        typical_db=part.typical_db[keep],
        floor_db=part.floor_db[keep],
        level_words="dBm",
    )
    panel = Panel(span=Span(498 * MHZ, 512 * MHZ), left=0.0, width=1400.0)
    first, second = columns_of(panel, gapped, gapped.highest_db)
    assert first[-1].x == pytest.approx(500, abs=2)
    assert second[0].x == pytest.approx(700, abs=2)
    assert unmeasured_spans(panel, gapped) == (
        Span(498 * MHZ, 500 * MHZ),
        Span(503 * MHZ, 505 * MHZ),
        Span(510 * MHZ, 512 * MHZ),
    )


def test_panels_keep_one_scale_and_never_get_too_narrow_to_read():
    windows = [Span(863 * MHZ, 865 * MHZ), Span(606 * MHZ, 614 * MHZ), Span(470 * MHZ, 518 * MHZ)]
    panels = panels_for(windows, left=50.0, width=1000.0, gap=10.0, least=96.0)
    assert [panel.width >= 96.0 - 1e-9 for panel in panels] == [True] * 3
    assert panels[0].left == 50.0
    assert panels[-1].right == pytest.approx(1050.0)
    assert panels[0].span.holds(Span(470 * MHZ, 518 * MHZ))


def test_windows_that_nearly_touch_share_a_panel():
    windows = [Span(606_500_000, 613_500_000), Span(614_000_000, 622_000_000)]
    (panel,) = panels_for(windows, left=0.0, width=100.0, gap=10.0, least=10.0)
    assert panel.span.holds(Span(606_500_000, 622_000_000))


def test_arrays_of_different_lengths_are_refused_in_words():
    with pytest.raises(ValueError, match="two edges and three levels"):
        replace(trace(), floor_db=np.zeros(3))


@pytest.mark.parametrize(
    ("length", "pixels", "least", "step"),
    [(80, 290, 30, 10), (224e6, 1100, 54, 20e6), (7e6, 170, 54, 5e6), (10, 10, 1, 1)],
)
def test_axis_steps_are_one_two_or_five(length, pixels, least, step):
    assert round_step(length=length, pixels=pixels, least_pixels=least) == step


@given(st.lists(st.tuples(st.integers(0, 400), st.integers(10, 120)), max_size=40))
def test_flags_never_cover_each_other_or_a_stem(places):
    flags = [Flag(x=x, left=x, right=x + width) for x, width in places]
    lanes = lanes_of(flags)
    for (one, low), (two, high) in combinations(zip(flags, lanes, strict=True), 2):
        if low == high:
            assert one.right <= two.left or two.right <= one.left
        upper, lower = (one, two) if low > high else (two, one)
        assert not (low != high and lower.left < upper.x < lower.right)


def test_links_spares_and_other_users_of_a_job_become_carriers_of_their_kind():
    radios = {
        direction: RadioType(
            id=direction.value,
            name="Invented",
            direction=direction,
            emission=Emission.FM,
            bandwidth_hz=200_000,
            spacing_hz=350_000,
            clearance_hz=(),
        )
        for direction in Direction
    }
    links = tuple(
        Link(id=f"L{k}", name="Łukasz Nguyễn", radio=radio, worn=Worn.BODY) for k, radio in enumerate(radios.values())
    )
    job = Job(
        title="Lantern Quay",
        places=(Place(id="quay", name="Quay", timezone="UTC"),),
        permits=(),
        radios=tuple(radios.values()),
        links=links,
        others=(Other(id="house", name="House talkback", carrier_hz=611_300_000, bandwidth_hz=12_500),),
    )
    plan = Plan(
        number=1,
        links=tuple(
            PlacedLink(id=link.id, name=link.name, radio=link.radio.id, carrier_hz=606_700_000, status=Status.CLEAR)
            for link in links
        ),
        spares=(Spare(id="S1", radio="from-person", carrier_hz=607_400_000),),
        unplaced=(),
        bound=Bound(about="links", status=BoundStatus.FOUND, found=3, upper_bound=None, method="search"),
    )
    shown = carriers_of(job, plan)
    assert [c.kind for c in shown] == [kind for kind in CarrierKind if kind is not CarrierKind.FOUND]
    assert shown[0].name == "L0 Łukasz Nguyễn"
    assert carriers_of(job, plan, named=False)[0].name == "L0"
    assert [c.label for c in carriers_of(job)] == ["House talkback"]


def test_the_whole_sweep_ends_where_the_panels_do_and_that_edge_is_told_to_what_stands_below():
    drawing = picture(carriers=[carrier("Ferry terminal", 669.9, CarrierKind.OTHER)])
    boxes = [item.clip for item in walk(drawing.items) if isinstance(item, Group) and item.clip is not None]
    top = min(box.y for box in boxes)
    panels_end = max(box.x + box.width for box in boxes if box.y == top)
    (overview,) = [box for box in boxes if box.y != top]
    assert panels_end < 1180  # the label took room
    assert overview.x + overview.width == pytest.approx(panels_end)
    assert plot_right(drawing) == pytest.approx(panels_end)


def strips(drawing: Drawing) -> list[Rect]:
    """Return the dotted strips along the bottom of a plot."""
    found = [item for item in walk(drawing.items) if isinstance(item, Rect) and item.pattern is Pattern.DOTS]
    return [item for item in found if item.height == SHALLOW_STRIP]


def test_what_was_measured_but_not_deep_enough_is_a_dotted_strip_of_that_width_with_its_name():
    whole = trace(low_mhz=600, high_mhz=610)
    shallow = (whole.centres_hz > 602 * MHZ) & (whole.centres_hz < 604 * MHZ)
    drawing = picture(trace=replace(whole, shallow=shallow), permits=())
    (strip,) = strips(drawing)
    # One panel of 600 to 610 MHz from 78 to 1180: 110.2 units for each MHz.
    assert (strip.x, strip.x + strip.width) == (pytest.approx(78 + 2 * 110.2), pytest.approx(78 + 4 * 110.2))
    assert "not deep enough" in [text.text for text in texts(drawing)]
    assert strips(picture(trace=whole, permits=())) == []


def test_what_receivers_can_bear_is_a_line_at_its_level_with_words_in_the_legend():
    whole = trace(low_mhz=600, high_mhz=610)
    limit = Limit(words="what Heron can bear, spread over 200 kHz", db=np.full(whole.floor_db.size, -105.0))
    drawing = picture(trace=replace(whole, limits=(limit,)), permits=())
    assert limit.words in [text.text for text in texts(drawing)]
    (line,) = [i for i in walk(drawing.items) if isinstance(i, Polyline) and i.dash == LIMIT_DASHES[0]]
    (plot,) = [item.clip for item in walk(drawing.items) if isinstance(item, Group) and item.clip is not None]
    # Levels from -121 to -105 take an axis from -130 (-125 rounded down) to at least 40 dB more.
    expected = plot.y + plot.height * (-90 + 105) / 40
    assert [y for _, y in line.points] == pytest.approx([expected] * len(line.points))
