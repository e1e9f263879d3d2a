"""The printed sheet, read back by a library that did not write it (PyMuPDF)."""

import re
from dataclasses import replace

import pymupdf
import pytest
from sheet_examples import make_facts, make_job, make_plan, with_name

from bandwright.core.drawing import Drawing, Ink, Line, Text
from bandwright.core.planning.plan import Status, Warn
from bandwright.core.sheet import build_sheet
from bandwright.sheets.onepage import PAPERS, onepage_pdf

MM = 72 / 25.4


def sheet_of(count, *, names="full", job=None, line_up=True, **plan_options):
    job = job or make_job(count)
    return build_sheet(job, make_plan(job, **plan_options), make_facts(job, line_up=line_up), names=names)


def wordy_sheet(count, *, told=False, radio="Heron body pack, wideband"):
    """Return a sheet with names of 20 letters, spare carriers named as the planner does, and several notes."""
    names = ("Rosalind Achterbergh", "Teodor Vance-Lindqvist", "Björk-Åse Ødegårdsson", "Harbour Master, left")
    job = make_job(count)
    called = {"heron": radio, "gull": "Gull in-ear transmitter", "plover": "Plover talkback base"}
    radios = {item.id: replace(item, name=called.get(item.id, item.name)) for item in job.radios}
    links = [
        replace(
            link,
            name=names[number % len(names)],
            radio=radios[link.radio.id],
            receiver=link.receiver if told else None,
            antenna=link.antenna if told else None,
        )
        for number, link in enumerate(job.links)
    ]
    job = replace(job, radios=tuple(radios.values()), links=tuple(links))
    plan = make_plan(job)
    sources = ("heron-spare-1", "ferry-terminal", "L07")
    placed = [
        replace(item, closest=replace(item.closest, sources=sources[: len(item.closest.sources)]))
        for item in plan.links
    ]
    spares = [replace(spare, id=f"heron-spare-{number}") for number, spare in enumerate(plan.spares, start=1)]
    notes = ("The sweep shows a multiplex on TV 45, which the brief does not close; add it to tv_closed.",)
    warnings = (*plan.warnings, *(Warn(code="taken-tv-channel", text=text) for text in notes))
    plan = replace(plan, links=tuple(placed), spares=tuple(spares), warnings=warnings)
    return build_sheet(job, plan, make_facts(job, line_up=told))


def pages_of(sheet, **options):
    document = pymupdf.open(stream=onepage_pdf(sheet, **options).data, filetype="pdf")
    return list(document)


def text_of(sheet, **options):
    return " ".join(" ".join(page.get_text() for page in pages_of(sheet, **options)).split())


def spans_of(page):
    """Return (text, size, box) of every span on the page."""
    return [
        (span["text"].strip(), span["size"], pymupdf.Rect(span["bbox"]))
        for block in page.get_text("dict")["blocks"]
        for line in block.get("lines", ())
        for span in line["spans"]
    ]


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("count", [1, 12, 40, 60])
def test_every_carrier_label_and_name_is_on_the_sheet(count, paper):
    sheet = sheet_of(count, unplaced=min(1, count - 1))
    text = text_of(sheet, paper=paper)
    missing = [
        said
        for row in sheet.rows
        for said in (row.label, row.who, row.mhz, row.closest if count <= 12 else row.closest_brief)
        if said and said not in text
    ]
    assert missing == []
    assert [cell.mhz for cell in (*sheet.spares, *sheet.others) if cell.mhz not in text] == []


def test_a_polish_and_vietnamese_name_prints_right():
    assert "Łukasz Nguyễn" in text_of(sheet_of(2))


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_forty_rows_stand_on_one_page(paper):
    assert onepage_pdf(sheet_of(40, unplaced=1), paper=paper).pages == 1


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("told", [False, True])
@pytest.mark.parametrize("count", [19, 40])
def test_rows_with_names_as_long_as_people_write_them_stand_on_one_page(count, told, paper):
    sheet = wordy_sheet(count, told=told)
    pdf = onepage_pdf(sheet, paper=paper)
    assert pdf.pages == 1
    (page,) = pymupdf.open(stream=pdf.data, filetype="pdf")
    text = " ".join(page.get_text().split())
    said = [row for row in sheet.rows if f"{row.who} {row.where} {row.radio} {row.band} {row.mhz}" in text]
    assert said == list(sheet.rows)
    missing = [row.closest for row in sheet.rows if row.closest not in text and row.closest_brief not in text]
    assert missing == []
    assert [row.spare for row in sheet.rows if row.spare and f"{row.spare_mhz} {row.spare}" not in text] == []
    assert [warning for warning in sheet.warnings if warning not in text] == []


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_nineteen_rows_with_long_names_keep_large_carriers(paper):
    # Common practice: what is read from a step away, as on a wall, stands in 14 points or more.
    (page,) = pages_of(wordy_sheet(19), paper=paper)
    carriers = {row.mhz for row in wordy_sheet(19).rows}
    assert min(size for text, size, _ in spans_of(page) if text in carriers) >= 14


def test_a_radio_name_too_long_for_its_line_is_cut_and_shows_it():
    radio = "Heron body pack of the second make, long aerial, for the quay and the barge"
    sheet = replace(wordy_sheet(40, told=True, radio=radio), spares=())
    pdf = onepage_pdf(sheet)
    text = " ".join(text_of(sheet).split())
    assert pdf.pages == 1
    assert re.search(r"Heron body pack[\w ,]*\N{HORIZONTAL ELLIPSIS} 470\.1–693\.9", text)
    assert [row.who for row in sheet.rows if row.who not in text] == []


def test_a_short_row_says_above_it_what_its_two_figures_are():
    assert "kHz away / asked" in text_of(wordy_sheet(40))
    assert "kHz away / asked" not in text_of(sheet_of(8))


def test_sixty_rows_flow_to_a_second_page_with_the_head_repeated():
    sheet = sheet_of(60)
    pages = pages_of(sheet)
    assert len(pages) == 2
    for page in pages:
        text = page.get_text()
        assert sheet.head.title in text
        assert "Closest conflict" in text
        assert "TV 23, 26" in text
    assert "Microphones" in pages[1].get_text()
    assert "continued" in pages[1].get_text()


@pytest.mark.parametrize("count", [12, 40, 60])
def test_plan_number_phrase_and_minute_stand_in_the_head_and_again_at_the_foot(count):
    sheet = sheet_of(count)
    for page in pages_of(sheet):
        middle = page.rect.height / 2
        found = [box.y0 > middle for box in page.search_for(sheet.head.check_phrase)]
        assert True in found
        assert False in found
        assert sheet.head.stamp in " ".join(page.get_text().split())


@pytest.mark.parametrize("count", [1, 12, 40])
def test_the_carriers_are_the_largest_type_in_the_table(count):
    sheet = sheet_of(count)
    (page,) = pages_of(sheet)
    top = min(page.search_for("Closest conflict"), key=lambda box: box.y0).y1
    carriers = {row.mhz for row in sheet.rows}
    sizes = [(text, size) for text, size, box in spans_of(page) if box.y0 > top]
    largest = max(size for _, size in sizes)
    assert {text for text, size in sizes if size == largest} >= carriers


def test_type_stays_legible_at_forty_rows():
    # Common practice for printed tables: nothing below 5.5 points, and what is read at arm's length near 10 points.
    sheet = sheet_of(40)
    (page,) = pages_of(sheet)
    sizes = {text: size for text, size, _ in spans_of(page)}
    assert min(sizes.values()) >= 5.5
    assert min(sizes[row.mhz] for row in sheet.rows) >= 9.5


def test_boxes_can_be_hit_by_a_pen_at_forty_rows():
    # A ball pen writes a line of about 0.5 mm; five of them fit into 2.5 mm (common practice for forms).
    (page,) = pages_of(sheet_of(40))
    boxes = [path["rect"] for path in page.get_drawings() if path["type"] == "s" and path["items"][0][0] == "re"]
    assert len(boxes) == 40 * 3
    assert min(box.width for box in boxes) >= 2.5 * MM


def test_an_unplaced_link_shows_its_reason_and_nothing_to_tick():
    job = make_job(3)
    sheet = sheet_of(3, job=job, unplaced=1)
    (page,) = pages_of(sheet)
    boxes = [path for path in page.get_drawings() if path["type"] == "s" and path["items"][0][0] == "re"]
    assert len(boxes) == 2 * 3
    assert "UNPLACED" in page.get_text()
    assert "is held on 615 MHz" in page.get_text()


def test_all_fonts_are_embedded():
    document = pymupdf.open(stream=onepage_pdf(sheet_of(12)).data, filetype="pdf")
    fonts = document.get_page_fonts(0)
    assert {font[3].split("+")[1] for font in fonts} == {
        "RobotoCondensed-Regular",
        "RobotoCondensed-Bold",
        "Roboto-Bold",
    }
    assert all(document.extract_font(font[0])[3] for font in fonts)


def test_the_same_sheet_gives_the_same_bytes():
    assert onepage_pdf(sheet_of(12)).data == onepage_pdf(sheet_of(12)).data


def test_the_file_names_no_author_and_no_moment_of_writing():
    document = pymupdf.open(stream=onepage_pdf(sheet_of(2)).data, filetype="pdf")
    assert document.metadata["author"] == ""
    assert document.metadata["creationDate"].startswith("D:20000101")
    assert document.metadata["title"].startswith("Lantern Quay: Plan 3, ")
    assert document.metadata["subject"] == "Quay stage, 2027-05-14, 2027-05-15"


def test_a_caution_stands_apart_from_the_conflict_behind_it():
    job = make_job(30)
    plan = make_plan(job)
    doubtful = replace(plan.links[0], status=Status.CAUTION, cautions=("unmeasured",))
    sheet = build_sheet(job, replace(plan, links=(doubtful, *plan.links[1:])), make_facts(job))
    assert f"not measured: {sheet.rows[0].closest_brief}" in text_of(sheet)


def test_the_document_says_its_language():
    document = pymupdf.open(stream=onepage_pdf(sheet_of(2)).data, filetype="pdf")
    assert document.xref_get_key(document.pdf_catalog(), "Lang") == ("string", "en")


@pytest.mark.parametrize(("paper", "size"), [("a4", (297, 210)), ("letter", (279.4, 215.9))])
def test_the_paper_is_landscape(paper, size):
    # ISO 216 and ANSI/ASME Y14.1, in millimetres.
    (page,) = pages_of(sheet_of(2), paper=paper)
    assert (page.rect.width / MM, page.rect.height / MM) == pytest.approx(size, abs=0.1)


def test_an_unknown_paper_lists_the_known_ones():
    with pytest.raises(KeyError, match="unknown paper 'a3'; known: a4, letter"):
        onepage_pdf(sheet_of(1), paper="a3")


def test_only_black_and_white_is_used():
    job = make_job(8)
    plan = make_plan(job, unplaced=1)
    links = (replace(plan.links[0], status=Status.BLOCKED), *plan.links[1:])
    sheet = build_sheet(job, replace(plan, links=links), make_facts(job))
    (page,) = pages_of(sheet)
    colours = {colour for path in page.get_drawings() for colour in (path["color"], path["fill"]) if colour}
    assert colours <= {(0.0, 0.0, 0.0), (1.0, 1.0, 1.0)}


def test_nothing_stands_outside_the_page_even_with_very_long_texts():
    long = "Wilhelmina Featherstonehaugh of the Northern Lighthouse " * 3
    job = with_name(make_job(12, title=long, note=long, hours=long), long)
    sheet = sheet_of(12, job=job)
    for paper in PAPERS:
        for page in pages_of(sheet, paper=paper):
            boxes = [pymupdf.Rect(word[:4]) for word in page.get_text("words")]
            assert [box for box in boxes if not page.rect.contains(box)] == []
    assert " ".join(long.split()) in text_of(sheet)


def test_what_the_typeface_cannot_print_is_a_warning():
    job = with_name(make_job(1), "漢 Mara")
    pdf = onepage_pdf(build_sheet(job, make_plan(job), make_facts(job)))
    (warning,) = pdf.warnings
    assert warning.code == "glyph-missing"
    assert warning.text == "The sheet's typeface has no '漢' (U+6F22); it is printed as ? in '漢 Mara'."


def test_a_drawing_stands_on_a_page_of_its_own():
    drawing = Drawing(
        width=800.0,
        height=300.0,
        items=(Line(start=(0, 0), end=(800, 300), ink=Ink.TRACE), Text(at=(40, 40), text="floor 漢", size=12)),
        title="Sweep",
        description="A line.",
    )
    sheet = sheet_of(12)
    first, second = pages_of(sheet, drawings=[drawing])
    assert "floor" in second.get_text()
    assert "page 2 of 2" in second.get_text()
    assert "page 1 of 2" in first.get_text()
    assert [warn.code for warn in onepage_pdf(sheet, drawings=[drawing]).warnings] == ["glyph-missing"]


def test_a_job_without_links_still_prints_its_head_and_room_for_notes():
    text = text_of(sheet_of(0, job=make_job(0)))
    assert "Lantern Quay" in text
    assert "Notes" in text


def noted(count, notes):
    job = make_job(count)
    facts = replace(make_facts(job, line_up=False), notes=notes)
    return build_sheet(job, make_plan(job), facts)


def test_notes_that_fit_are_printed_whole_line_by_line():
    sheet = noted(12, ("Quay door closes at 23:00\nRing twice", "L03: belt on the left"))
    text = text_of(sheet)
    assert all(note in text for note in ("Quay door closes at 23:00", "Ring twice", "L03: belt on the left"))
    assert "found no room here" not in text


@pytest.mark.parametrize("count", [1, 40])
def test_notes_that_find_no_room_are_counted_and_nothing_is_printed_over_the_foot(count):
    notes = tuple(f"Remark {number:02d}: " + "the harbour crane stands in the way " * 4 for number in range(40))
    sheet = noted(count, notes)
    (page,) = pages_of(sheet)
    printed = [number for number in range(40) if f"Remark {number:02d}:" in page.get_text()]
    assert printed == list(range(len(printed)))  # the first ones, whole
    assert page.get_text().count("the way") == 4 * len(printed)
    told = " ".join(page.get_text().split())
    assert f"{40 - len(printed)} notes found no room here; look in the job." in told
    (foot,) = [box for text, _, box in spans_of(page) if text.startswith("page 1 of 1")]
    remarks = [box for text, _, box in spans_of(page) if "harbour crane" in text or "found no room" in text]
    assert max(box.y1 for box in remarks) < foot.y0


def test_two_hundred_others_flow_over_pages_and_none_is_lost():
    job = make_job(4)
    others = tuple(replace(job.others[0], id=f"o{k}", carrier_hz=470_000_000 + k * 12_500) for k in range(200))
    sheet = sheet_of(4, job=replace(job, others=others))
    text = text_of(sheet)
    assert [cell.mhz for cell in sheet.others if cell.mhz not in text] == []
