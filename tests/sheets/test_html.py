"""The sheet as a page: well-formed, self-contained, and deaf to markup in names."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from importlib import resources

import pytest
from sheet_examples import make_facts, make_job, make_plan, with_name

from bandwright.core.drawing import Drawing, Ink, Line, Raster, Text
from bandwright.core.planning.plan import Status
from bandwright.core.sheet import build_sheet
from bandwright.sheets.html import onepage_html

# HTML living standard, 13.1.2: elements without an end tag.
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
NASTY = "<script>alert('x')</script><img src=x onerror=alert(1)>\"'&"


class Page(HTMLParser):
    """Reads a page with the standard library, and fails on tags that do not close in order."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.text, self.rows = [], [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag == "tr":
            self.rows.append(0)
        if tag in {"td", "th"}:
            self.rows[-1] += int(dict(attrs).get("colspan") or 1)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.text.append(data)

    @property
    def words(self):
        return " ".join("".join(self.text).split())

    def named(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


def sheet_of(count=12, *, job=None, names="full", **plan_options):
    job = job or make_job(count)
    return build_sheet(job, make_plan(job, **plan_options), make_facts(job, line_up=True), names=names)


@pytest.mark.parametrize("count", [0, 1, 12, 40])
def test_the_page_is_well_formed_and_holds_every_carrier(count):
    sheet = sheet_of(count, unplaced=min(1, count))
    page = Page(onepage_html(sheet))
    expected = [row.mhz for row in sheet.rows if row.mhz] + [cell.mhz for cell in (*sheet.spares, *sheet.others)]
    assert [mhz for mhz in expected if mhz not in page.words] == []
    assert [row.who for row in sheet.rows if row.who not in page.words] == []


def test_every_row_of_the_table_has_the_same_number_of_columns():
    assert len(set(Page(onepage_html(sheet_of(12, unplaced=2))).rows)) == 1


def test_the_table_says_what_its_headings_are_for():
    page = Page(onepage_html(sheet_of(12)))
    assert {attrs.get("scope") for attrs in page.named("th")} == {"col", "row", "rowgroup"}
    assert page.named("html") == [{"lang": "en"}]
    assert len(page.named("caption")) == 1
    assert len(page.named("h1")) == 1


def test_markup_in_any_text_of_the_brief_stays_text():
    job = with_name(make_job(2, title=NASTY, note=NASTY, hours=NASTY), NASTY)
    link = replace(job.links[0], receiver=NASTY, antenna=NASTY, desk_input=NASTY, note=NASTY)
    permit = replace(job.permits[0], reference=NASTY)
    others = (replace(job.others[0], name=NASTY),)
    radio = replace(link.radio, name=NASTY)
    job = replace(
        job, links=(replace(link, radio=radio), job.links[1]), permits=(permit,), others=others, radios=(radio,)
    )
    plan = make_plan(job, unplaced=1)
    page = Page(onepage_html(build_sheet(job, plan, replace(make_facts(job), sweep=NASTY))))
    assert page.named("script") == []
    assert page.named("img") == []
    assert page.words.count("<script>") >= 8


def test_nothing_is_asked_from_outside_and_no_script_runs():
    text = onepage_html(sheet_of(12), drawings=[a_drawing()])
    page = Page(text)
    loading = {"src", "href", "srcset", "action", "data", "poster"}
    assert [attrs for _, attrs in page.tags if loading & set(attrs)] == []
    assert [attrs for _, attrs in page.tags if any(name.startswith("on") for name in attrs)] == []
    assert page.named("script") == []
    assert "@import" not in text
    assert "url(" not in text.replace("url(#", "")
    assert "default-src 'none'" in text


def a_drawing():
    return Drawing(
        width=800.0,
        height=300.0,
        items=(Line(start=(0, 0), end=(800, 300), ink=Ink.TRACE), Text(at=(40, 40), text="floor <b>", size=12)),
        title="Sweep & plan",
        description="A line.",
    )


def test_the_drawing_stands_in_the_page():
    page = Page(onepage_html(sheet_of(2), drawings=[a_drawing()]))
    assert len(page.named("figure")) == 1
    assert len(page.named("svg")) == 1
    assert "floor <b>" in page.words
    assert Page(onepage_html(sheet_of(2))).named("figure") == []


def test_a_waterfall_in_the_page_is_not_shut_out_by_the_policy_of_the_page():
    cells = Raster(x=0, y=0, width=800, height=300, columns=2, rows=1, steps=bytes([1, 255]))
    page = Page(onepage_html(sheet_of(2), drawings=[replace(a_drawing(), items=(cells,))]))
    assert {attrs["href"].partition(";")[0] for _, attrs in page.tags if "href" in attrs} == {"data:image/png"}
    policy = next(attrs["content"] for attrs in page.named("meta") if attrs.get("http-equiv"))
    assert "img-src data:" in policy


def test_a_warning_is_a_mark_and_a_word():
    job = make_job(3)
    plan = make_plan(job, unplaced=1)
    links = (
        replace(plan.links[0], status=Status.CAUTION, cautions=("thin-slack",)),
        replace(plan.links[1], status=Status.BLOCKED),
    )
    words = Page(onepage_html(build_sheet(job, replace(plan, links=links), make_facts(job)))).words
    assert "!caution" in words
    assert "thin slack" in words
    assert "×blocked" in words
    assert "BLOCKED" in words
    assert "×unplaced" in words
    assert "UNPLACED" in words


def with_closest(sheet, **words):
    groups = [replace(group, rows=tuple(replace(row, **words) for row in group.rows)) for group in sheet.groups]
    return replace(sheet, groups=tuple(groups))


def test_the_closest_conflict_is_as_short_as_on_paper():
    brief = "PR.3 + ferry - PR.1 100/50; C/I 65 dB"
    page = Page(onepage_html(with_closest(sheet_of(3), closest="told at length", closest_brief=brief)))
    assert page.words.count(brief) == 3
    assert "told at length" not in page.words
    assert "Closest conflict, kHz away / asked" in page.words


def test_no_line_ends_inside_a_word_or_a_ratio():
    brief = "heron-spare-2 + <b> - ferry-terminal 100/50; C/I over 99 dB"
    text = onepage_html(with_closest(sheet_of(1), closest_brief=brief, who="Stage managers-left"))
    whole = re.findall(r'<span class="whole">([^<]*)</span>', text)
    assert whole == ["managers-left", "heron-spare-2", "ferry-terminal", "100/50;", "C/I over 99 dB"]
    assert brief in Page(text).words
    css = (resources.files("bandwright.sheets") / "templates" / "onepage.css").read_text(encoding="utf-8")
    assert ".whole { white-space: nowrap; }" in css
    assert re.findall(r"td[^{}]*\{[^}]*overflow-wrap: anywhere", css) == []


def test_the_stamp_stands_in_the_head_and_again_at_the_foot():
    sheet = sheet_of(2)
    words = Page(onepage_html(sheet)).words
    assert sheet.head.stamp in words
    assert words.count(sheet.head.check_phrase) >= 2


def test_cautions_of_law_and_hearing_are_there():
    words = Page(onepage_html(sheet_of(2))).words
    assert "Spectrum law is local" in words
    assert "In-ear levels can harm hearing" in words


def test_the_same_sheet_gives_the_same_page():
    assert onepage_html(sheet_of(12)) == onepage_html(sheet_of(12))


def test_initials_leave_no_name_in_the_page():
    job = make_job(12)
    text = onepage_html(sheet_of(job=job, names="initials", unplaced=1))
    assert [link.name for link in job.links if link.name in text] == []


def palettes():
    css = (resources.files("bandwright.sheets") / "templates" / "onepage.css").read_text(encoding="utf-8")
    return [dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block)) for block in re.findall(r":root \{([^}]*)\}", css)]


def contrast(one, two):
    """Return the contrast ratio of two colours, as WCAG 2.2 defines it (relative luminance of sRGB)."""

    def luminance(colour):
        parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_text_has_the_contrast_that_wcag_asks_in_light_dark_and_print():
    found = palettes()
    assert len(found) == 3
    for palette in found:
        for front, back in [("text", "paper"), ("muted", "paper"), ("on-deep", "deep")]:
            assert contrast(palette[front], palette[back]) >= 4.5
