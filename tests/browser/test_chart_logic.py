"""What charts reckon: axes, lanes, labels, tuning, levels; asked of the shipped modules in a browser.

Each is held against a plain reckoning in Python, or numpy, or what must hold for any input.
"""

import itertools
import random
import shutil
from pathlib import Path

import numpy as np
import pytest
from served_app import OWN_KEY

from bandwright.core.kit import TuningRange
from bandwright.core.products import FAMILIES

MISSING = -32768


@pytest.fixture(scope="module")
def page(browser, serve, demo_file, tmp_path_factory):
    """One page for all of these: nothing here changes the job."""
    job = shutil.copy(demo_file, tmp_path_factory.mktemp("charts") / "job.bwjob")
    with serve(Path(job)) as app:
        context = browser.new_context()
        context.add_cookies([{"name": f"bandwright-{app.port}", "value": OWN_KEY, "url": app.address}])
        shown = context.new_page()
        shown.goto(f"{app.address}/")
        yield shown
        context.close()


@pytest.fixture(scope="module")
def module(page):
    """`module("axis", "(m, a) => ...", a)` calls into a module of charts."""

    def call(name: str, body: str, *arguments):
        script = f"""async (given) => {{
          const base = document.querySelector("script[type=module]").src.replace("/app.js", "");
          const found = await import(`${{base}}/chart/{name}.js`);
          return ({body})(found, ...given);
        }}"""
        return page.evaluate(script, list(arguments))

    return call


def spans(rng, count):
    edges = sorted(rng.sample(range(470_000, 700_000), 2 * count))
    return [{"low": a * 1000, "high": b * 1000} for a, b in zip(edges[::2], edges[1::2], strict=True)]


# --- axes


def test_every_frequency_in_a_panel_is_found_again_at_its_place(module):
    rng = random.Random(1)
    for count in (1, 2, 6):
        places = spans(rng, count)
        asked = [rng.uniform(s["low"], s["high"]) for s in places for _ in range(20)]
        found = module(
            "axis",
            """(m, spans, asked) => {
              const axis = m.axisOf(spans);
              return asked.map((hz) => m.hzAt(axis, m.unitOf(axis, hz)));
            }""",
            places,
            asked,
        )
        assert found == pytest.approx(asked, abs=0.01)


def test_places_rise_with_frequency_over_panels_and_folds_and_stay_on_the_axis(module):
    rng = random.Random(2)
    places = spans(rng, 5)
    asked = sorted(rng.uniform(460e6, 710e6) for _ in range(300))
    units, length = module(
        "axis",
        """(m, spans, asked) => {
          const axis = m.axisOf(spans, { margin: 2e5 });
          return [asked.map((hz) => m.unitOf(axis, hz)), axis.length];
        }""",
        places,
        asked,
    )
    assert units == sorted(units)
    assert min(units) >= 0
    assert max(units) <= length + 1e-6


def test_panels_hold_what_was_asked_with_its_margin_and_near_ones_become_one(module):
    asked = [{"low": a * 1e6, "high": b * 1e6} for a, b in ((500, 510), (510.5, 520), (600, 601))]
    axis = module("axis", "(m, spans) => m.axisOf(spans, { margin: 4e5 })", asked)
    assert [(p["low"], p["high"]) for p in axis["panels"]] == [(499.6e6, 520.4e6), (599.6e6, 601.4e6)]
    widths = [p["high"] - p["low"] for p in axis["panels"]]
    assert axis["length"] == pytest.approx(sum(widths) + axis["fold"])


def test_zooming_keeps_the_place_under_the_pointer_and_never_leaves_the_axis(module):
    steps = [(random.Random(k).uniform(0.2, 3.0), random.Random(k).uniform(0, 1)) for k in range(60)]
    found = module(
        "axis",
        """(m, steps) => {
          const axis = m.axisOf([{ low: 500e6, high: 520e6 }, { low: 600e6, high: 640e6 }]);
          let view = m.whole(axis);
          return steps.map(([factor, part]) => {
            const at = view.from + part * (view.to - view.from);
            const next = m.zoomed(axis, view, factor, at);
            const moved = (at - next.from) / (next.to - next.from) - part;
            const free = next.from > 0 && next.to < axis.length;
            view = next;
            return { moved, free, from: next.from, to: next.to, length: axis.length };
          });
        }""",
        steps,
    )
    assert any(step["free"] for step in found)
    for step in found:
        assert 0 <= step["from"] < step["to"] <= step["length"] + 1e-6
        if step["free"]:
            assert step["moved"] == pytest.approx(0, abs=1e-9)


def test_marks_under_an_axis_are_round_apart_and_say_where_they_are(module):
    for low, high, pixels in ((470e6, 694e6, 900), (606.5e6, 613.5e6, 700), (606.6e6, 606.8e6, 300)):
        found = module(
            "axis",
            "(m, low, high, px) => { const a = m.axisOf([{low, high}]); return m.ticks(a, m.whole(a), px, 60); }",
            low,
            high,
            pixels,
        )
        assert len(found) >= 2
        apart = (found[1]["hz"] - found[0]["hz"]) / (high - low) * pixels
        assert 60 - 1e-6 <= apart <= 60 * 2.5 + 1e-6
        for mark in found:
            assert float(mark["text"]) * 1e6 == pytest.approx(mark["hz"], abs=0.5)


# --- lanes


def crowd(rng, count, length):
    kinds = ["microphone", "in-ear", "talkback", "spare", "other"]
    return [{"id": f"c{k}", "kind": rng.choice(kinds), "at": rng.uniform(0, length)} for k in range(count)]


def test_marks_in_a_row_stand_apart_and_no_more_rows_are_used_than_the_thickest_place_needs(module, authority):
    rng = random.Random(3)
    dealt, needed = 0, 0
    for count in (1, 5, 40, 200):
        marks = crowd(rng, count, 10_000.0)
        rows, lanes = module(
            "lanes",
            "(m, marks) => { const d = m.dealt(marks, { apart: 100, most: 1000 }); return [[...d.rowOf], d.lanes]; }",
            marks,
        )
        row_of = dict(rows)
        at = {mark["id"]: mark["at"] for mark in marks}
        for row in set(row_of.values()):
            places = sorted(at[name] for name, where in row_of.items() if where == row)
            assert all(b - a >= 100 for a, b in itertools.pairwise(places))
        for lane in lanes:
            here = sorted(mark["at"] for mark in marks if mark["kind"] == lane["kind"])
            thickest = max(sum(a - 100 < b <= a for b in here) for a in here)
            assert lane["rows"] == thickest
            dealt, needed = dealt + lane["rows"], needed + thickest
    authority(
        "Rows of a lane of carriers: as few as the most that overlap anywhere",
        source="interval partitioning: greedy in rising order is least, counted by brute force",
        ours=dealt,
        theirs=needed,
        tolerance=0,
        kind="arithmetic",
    )


def test_a_lane_has_a_largest_number_of_rows_and_every_mark_has_one(module):
    marks = [{"id": f"c{k}", "kind": "microphone", "at": float(k)} for k in range(50)]
    rows = dict(module("lanes", "(m, marks) => [...m.dealt(marks, { apart: 100, most: 4 }).rowOf]", marks))
    assert set(rows.values()) == {0, 1, 2, 3}
    assert len(rows) == 50


def labels(module, tags, **given):
    wanted = given.pop("wanted", tags)
    script = "(m, tags, wanted, o) => [...m.labelled(tags, wanted, { ...o, marked: new Set(o.marked) })]"
    return dict(
        module("lanes", script, tags, wanted, {"selected": None, "marked": [], "left": 0, "right": 1000, **given})
    )


def test_no_label_covers_a_mark_or_another_label_but_that_of_the_selected(module):
    rng = random.Random(4)
    tags = [{"id": f"c{k}", "x": rng.uniform(0, 1000), "row": rng.randrange(6), "width": 30} for k in range(120)]
    shown = labels(module, tags, marked=["c3", "c4"])
    assert shown
    boxes = {}
    for tag in tags:
        if tag["id"] in shown:
            left = tag["x"] + 9 if shown[tag["id"]] == "right" else tag["x"] - 9 - 30
            boxes[tag["id"]] = (tag["row"], left, left + 30)
    for name, (row, left, right) in boxes.items():
        for tag in tags:
            if tag["row"] == row and tag["id"] != name:
                assert not left < tag["x"] < right
        for other, (there, a, b) in boxes.items():
            if other != name and there == row:
                assert right <= a or b <= left


def test_the_selected_one_has_its_label_in_any_crowd_inside_the_chart(module):
    tags = [{"id": f"c{k}", "x": 940 + k, "row": 0, "width": 40} for k in range(40)]
    shown = labels(module, tags, selected="c39", wanted=tags[-1:])
    assert shown == {"c39": "left"}


def test_a_finger_finds_the_nearest_mark_within_reach_and_nothing_beyond(module):
    rng = random.Random(5)
    tags = [{"id": f"c{k}", "x": rng.uniform(0, 800), "row": rng.randrange(8), "width": 0} for k in range(60)]
    for _ in range(40):
        x, y = rng.uniform(0, 800), rng.uniform(0, 136)
        found = module(
            "lanes", "(m, tags, at) => m.hit(tags, at)", tags, {"x": x, "y": y, "rowHeight": 17, "reach": 24}
        )
        away = {tag["id"]: np.hypot(tag["x"] - x, (tag["row"] + 0.5) * 17 - y) for tag in tags}
        nearest = min(away, key=away.__getitem__)
        assert found == (nearest if away[nearest] <= 24 else None)


# --- tuning


RANGES = (
    TuningRange(low_hz=470_100_000, high_hz=613_900_000, step_hz=25_000),
    TuningRange(low_hz=823_012_500, high_hz=831_990_000, step_hz=12_500),
)


def test_a_dragged_carrier_lands_on_the_nearest_step_or_preset(module):
    rng = random.Random(6)
    steps = [hz for r in RANGES for hz in range(r.low_hz, r.high_hz + 1, r.step_hz)] + [863_100_000]
    radio = {
        "tuning": [[r.low_hz, r.high_hz, r.step_hz] for r in RANGES],
        "presets": [{"label": "A1", "hz": 863_100_000}],
    }
    asked = [rng.uniform(460e6, 870e6) for _ in range(200)]
    found = module("tuning", "(m, radio, asked) => asked.map((hz) => m.nearest(radio, hz))", radio, asked)
    known = np.array(steps)
    for hz, at in zip(asked, found, strict=True):
        assert at in steps
        assert abs(at - hz) == pytest.approx(np.min(np.abs(known - hz)))


def test_nudging_goes_step_by_step_over_gaps_between_ranges_and_stops_at_the_ends(module):
    steps = sorted([hz for r in RANGES for hz in range(r.low_hz, r.high_hz + 1, r.step_hz)] + [863_100_000])
    radio = {
        "tuning": [[r.low_hz, r.high_hz, r.step_hz] for r in RANGES],
        "presets": [{"label": "A1", "hz": 863_100_000}],
    }
    for index, count in ((0, 1), (0, -1), (5, 10), (len(steps) - 1, 1), (len(steps) - 2, 1), (5752, 3), (5753, -3)):
        found = module("tuning", "(m, radio, hz, n) => m.stepped(radio, hz, n)", radio, steps[index], count)
        assert found == steps[min(max(index + count, 0), len(steps) - 1)]
    assert module("tuning", "(m, radio) => m.reach(radio)", radio) == {"low": steps[0], "high": steps[-1]}


# --- levels


def packed(rng, segments):
    count = sum(s["count"] for s in segments)
    levels = rng.integers(-13_000, -4_000, size=(3, count)).astype(np.int16)
    levels[:, rng.random(count) < 0.1] = MISSING
    levels[2, rng.random(count) < 0.05] = MISSING
    head = {"unit": "dBm", "series": ["highest", "typical", "floor"], "segments": segments, "count": count}
    return head, levels


DECODE = "const trace = m.decoded(head, new Int16Array(numbers).buffer);"


def test_levels_are_what_was_sent_and_what_is_missing_stays_missing(module):
    segments = [{"low_hz": 470e6, "step_hz": 25e3, "count": 40}, {"low_hz": 480e6, "step_hz": 10e3, "count": 100}]
    head, levels = packed(np.random.default_rng(7), segments)
    xs, highest, typical, floor = module(
        "levels",
        "(m, head, numbers, axis) => {"
        + DECODE
        + " const series = [trace.highest, trace.typical, trace.floor];"
        + " return m.columns(axis, trace.segments, series, {from: 0, to: axis.length}, 2000); }",
        head,
        levels.ravel().tolist(),
        {"panels": [{"low": 470e6, "high": 481e6, "at": 0}], "fold": 0, "length": 11e6},
    )
    centres = np.concatenate([s["low_hz"] + (np.arange(s["count"]) + 0.5) * s["step_hz"] for s in segments]) - 470e6
    drawn = [k for k, hz in enumerate(xs) if any(abs(hz - c) < 1e-6 for c in centres)]
    assert [xs[k] for k in drawn] == pytest.approx(centres)
    for series, sent in zip((highest, typical, floor), levels, strict=True):
        expected = [None if v == MISSING else v / 100 for v in sent.tolist()]
        assert [series[k] for k in drawn] == expected
        assert all(series[k] is None for k in range(len(xs)) if k not in drawn)


def test_levels_that_do_not_fit_their_head_are_refused(module):
    head = {"unit": "dBm", "series": ["highest", "typical", "floor"], "segments": [], "count": 5}
    script = "(m, head) => { try { m.decoded(head, new ArrayBuffer(10)); } catch (error) { return error.message; } }"
    assert module("levels", script, head) == "10 bytes of levels came, 30 belong"


def test_what_nobody_measured_is_told_apart_from_what_has_no_known_depth(module):
    head = {
        "unit": "dBm",
        "series": ["highest", "typical", "floor"],
        "segments": [{"low_hz": 500e6, "step_hz": 1e5, "count": 10}],
        "count": 10,
    }
    levels = np.full((3, 10), -9000, np.int16)
    levels[:, 3:5] = MISSING
    levels[2, 7:9] = MISSING
    gaps, shallow = module(
        "levels",
        "(m, head, numbers) => {"
        + DECODE
        + " return [m.unmeasured(trace, [{low: 499.5e6, high: 501.2e6}]), m.bottomless(trace)]; }",
        head,
        levels.ravel().tolist(),
    )
    assert [(s["low"], s["high"]) for s in gaps] == [(499.5e6, 500e6), (500.3e6, 500.5e6), (501e6, 501.2e6)]
    assert [(s["low"], s["high"]) for s in shallow] == [pytest.approx((500.7e6, 500.9e6))]


def test_the_small_picture_shows_the_highest_of_each_column_and_loses_no_narrow_carrier(module):
    rng = np.random.default_rng(8)
    segments = [{"low_hz": 470e6, "step_hz": 4480.0, "count": 5000}]
    head, levels = packed(rng, segments)
    found = module(
        "levels",
        "(m, head, numbers) => {"
        + DECODE
        + " return [...m.skyline(trace, {low: 470e6, high: 492.4e6}, 300)].map((v) => Number.isNaN(v) ? null : v); }",
        head,
        levels.ravel().tolist(),
    )
    edges = 470e6 + np.arange(301) * (22.4e6 / 300)
    low = 470e6 + 4480 * np.arange(5000)
    known = np.where(levels[0] == MISSING, -np.inf, levels[0] / 100)
    for k, value in enumerate(found):
        inside = (low < edges[k + 1] - 1e-3) & (low + 4480 > edges[k] + 1e-3)
        assert value == pytest.approx(np.max(known[inside]), abs=1e-4)


COLUMNS = """(m, axis, segments, series, view, count) =>
  m.columns(axis, segments, series.map((levels) => Int16Array.from(levels)), view, count)"""


def test_of_many_bins_in_a_column_the_lowest_and_the_highest_are_drawn_and_none_is_lost(module):
    """Held against numpy over the bins whose centres lie in each column, in a view of two panels with a hole."""
    draw = np.random.default_rng(8)
    step, bins, count = 5_000, 20_000, 300
    panels = [{"low": 500e6, "high": 530e6, "at": 0}, {"low": 560e6, "high": 590e6, "at": 31e6}]
    axis = {"panels": panels, "fold": 1e6, "length": 61e6}
    levels = draw.integers(-12_000, -4_000, bins)
    levels[3_000:3_500] = MISSING
    segments = [{"low_hz": 490e6, "step_hz": step, "count": bins}]
    view = {"from": 2e6, "to": 47e6}
    xs, drawn = module("levels", COLUMNS, axis, segments, [levels.tolist()], view, count)
    assert len(xs) < 3 * count
    assert xs == sorted(xs)
    width = (view["to"] - view["from"]) / count
    centres = 490e6 + (np.arange(bins) + 0.5) * step
    for panel in panels:
        units = panel["at"] + centres - panel["low"]
        inside = (centres >= panel["low"]) & (centres <= panel["high"]) & (levels != MISSING)
        for column in range(int(view["from"] / width) + 1, int(view["to"] / width)):
            low, high = column * width, (column + 1) * width
            there = levels[inside & (units >= low) & (units < high)] / 100
            if high > 30e6 if panel["at"] == 0 else low < 31e6:
                continue  # a column that a panel shares with a fold
            found = [y for x, y in zip(xs, drawn, strict=True) if low <= x < high and y is not None]
            assert (min(found, default=None), max(found, default=None)) == (
                (there.min(), there.max()) if len(there) else (None, None)
            )


def test_each_bin_is_drawn_as_it_is_where_a_column_holds_no_more_than_two(module):
    levels = [-9000, -8000, MISSING, -8500, -8600]
    segments = [{"low_hz": 600e6, "step_hz": 10_000, "count": 5}]
    axis = {"panels": [{"low": 599e6, "high": 601e6, "at": 0}], "fold": 0, "length": 2e6}
    xs, drawn = module("levels", COLUMNS, axis, segments, [levels], {"from": 1e6, "to": 1.04e6}, 2)
    assert xs[:5] == [1_005_000, 1_015_000, 1_025_000, 1_035_000, 1_045_000]
    assert drawn == [-90, -80, None, -85, -86, None]


def test_an_older_sweep_of_other_bins_is_drawn_by_its_highest_over_each_bin(module):
    rng = np.random.default_rng(9)
    head, levels = packed(rng, [{"low_hz": 500e6, "step_hz": 25e3, "count": 80}])
    other_head, other = packed(rng, [{"low_hz": 500.01e6, "step_hz": 7e3, "count": 250}])
    found = module(
        "levels",
        "(m, head, numbers, oh, on) => {"
        + DECODE
        + " const other = m.decoded(oh, new Int16Array(on).buffer); return [...m.heldOver(trace, other)]; }",
        head,
        levels.ravel().tolist(),
        other_head,
        other.ravel().tolist(),
    )
    low = 500.01e6 + 7e3 * np.arange(250)
    for k in range(80):
        inside = (low < 500e6 + (k + 1) * 25e3 - 1) & (low + 7e3 > 500e6 + k * 25e3 + 1) & (other[0] != MISSING)
        assert found[k] == (other[0][inside].max() if inside.any() else MISSING)


# --- words and questions


def test_products_are_written_on_screen_as_on_the_sheets(module):
    names = ["L05", "heron-spare-2", "L03"]
    for family in FAMILIES.values():
        sources = names[: len(family.coefficients)]
        near = {"rule": "product", "family": family.name, "sources": sources}
        found = module("words", "(m, near) => m.sourceText(near)", near)
        assert found == family.words(sources).replace(" x ", " × ").replace(" - ", " − ")


def test_only_the_newest_question_counts_and_one_is_on_its_way_at_a_time(module):
    found = module(
        "newest",
        """async (m) => {
          const heard = [], failed = [], asked = [], gates = [];
          let most = 0, now = 0;
          const queue = m.newestWins(
            (q) => new Promise((yes, no) => {
              asked.push(q);
              most = Math.max(most, ++now);
              gates.push((bad) => { now -= 1; bad ? no(new Error(q)) : yes(q); });
            }),
            (answer) => heard.push(answer),
            (error) => failed.push(error.message),
          );
          const settle = () => new Promise((done) => setTimeout(done, 0));
          for (const q of ["a", "b", "c"]) queue.ask(q);
          gates[0](false); await settle();
          gates[1](false); await settle();
          queue.ask("d"); gates[2](true); await settle();
          queue.ask("e"); queue.forget(); gates[3](false); await settle();
          queue.ask("f"); gates[4](false); await settle();
          return { heard, failed, asked, most };
        }""",
    )
    assert found == {"heard": ["c", "f"], "failed": ["d"], "asked": ["a", "c", "d", "e", "f"], "most": 1}


def test_figures_of_a_chart_use_a_true_minus(module):
    found = module("words", "(m) => [m.dbText(-98.4), m.dbText(0), m.signedKhz(12.5), m.signedKhz(-250)]")
    assert found == ["−98", "0", "+12.5", "−250"]


# --- contours


def test_lines_of_equal_level_lie_where_a_plane_has_it_and_areas_are_as_large_as_counted(module):
    """A plane is what straight lines between points give back exactly; areas against counting fine points."""
    rng = np.random.default_rng(5)
    columns, rows = 9, 7
    for _ in range(12):
        right, up, start = rng.uniform(-3, 3), rng.uniform(-3, 3), rng.uniform(-10, 10)
        x, y = np.meshgrid(np.arange(columns), np.arange(rows))
        values = start + right * x + up * y
        level = float(np.quantile(values, rng.uniform(0.2, 0.8)))
        body = "(m, v, l) => { const f = m.spread(v); return { lines: m.lines(f, l), above: m.above(f, l) }; }"
        found = module("contours", body, values.tolist(), level)
        inner = [
            end
            for piece in found["lines"]
            for end in piece
            if 1 <= end[0] <= columns and 1 <= end[1] <= rows  # the field has a rim of one point
        ]
        assert inner
        for column, row in inner:
            assert start + right * (column - 1) + up * (row - 1) == pytest.approx(level, abs=1e-9)
        area = 0.0
        for corners in found["above"]:
            (xs, ys) = np.clip(np.array(corners).T, 1, [[columns], [rows]])
            area += abs(np.dot(xs, np.roll(ys, 1)) - np.dot(ys, np.roll(xs, 1))) / 2
        fine_x, fine_y = np.meshgrid((np.arange(1600) + 0.5) / 200, (np.arange(1200) + 0.5) / 200)
        counted = np.mean(start + right * fine_x + up * fine_y >= level) * (columns - 1) * (rows - 1)
        assert area == pytest.approx(counted, abs=0.1)


def test_a_field_goes_on_over_gaps_with_what_is_nearest_and_keeps_what_is_known(module):
    values = [[1.0, None, 3.0], [None, None, None], [7.0, None, 9.0]]
    asked = "[f.columns, f.rows, f.at(1, 1), f.at(0, 0), f.at(3, 3), f.at(2, 2)]"
    body = f"(m, v) => {{ const f = m.spread(v); return {asked}; }}"
    assert module("contours", body, values) == [5, 5, 1.0, 1.0, 9.0, 5.0]
    assert module("contours", "(m, v) => m.spread(v)", [[None, None]]) is None
