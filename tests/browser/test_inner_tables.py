"""Tables and counts inside a cell, stated fact by fact: variants, parts of a run, walls, spare carriers."""

import re


def state(seat, scope, fact: str) -> None:
    """State another fact of the only or last table there."""
    scope.get_by_role("button", name="State another fact").last.click()
    seat.page.get_by_role("menuitem", name=fact).click()


def entry_of(app, kind: str, name: str | None = None) -> dict:
    entries = app.client().get("/api/brief").json()["entries"]
    return next(entry for entry in entries if entry["kind"] == kind and name in (None, entry["id"]))


def width_of_a_new_variant(seat):
    """Add a variant to the first radio type; return the dialog and the field of the variant's bandwidth."""
    seat.go("#/kit/radio")
    seat.page.locator("tbody [data-field=id]").first.focus()
    seat.press("Shift+Space")
    dialog = seat.page.locator("dialog[open]")
    dialog.get_by_role("button", name="Add a variant").click()
    variant = dialog.get_by_role("group", name="heron/narrow")
    state(seat, variant, "Bandwidth, kHz")
    return dialog, variant.get_by_role("textbox", name="Bandwidth, kHz")


def test_a_variant_is_added_stated_and_named_by_a_link(sit, app):
    seat = sit()
    _, field = width_of_a_new_variant(seat)
    field.fill("125")
    field.press("Enter")
    seat.settled()
    assert entry_of(app, "radio", "heron")["value"]["variant"] == [{"id": "narrow", "bandwidth_khz": 125}]
    assert seat.violations() == []
    seat.press("Escape")
    seat.go("#/kit/link")
    seat.page.locator("tbody [data-field=radio]").first.click()
    assert "heron/narrow" in seat.page.locator("tbody select").inner_text()


def test_what_a_variant_cannot_have_is_said_there(sit):
    seat = sit()
    dialog, field = width_of_a_new_variant(seat)
    field.fill("wide")
    field.press("Enter")
    dialog.get_by_role("alert").wait_for()
    assert "number of kHz" in dialog.get_by_role("alert").inner_text()


def parts_of_a_run(seat, name: str):
    """Open the parts of a run, and return the dialog."""
    seat.go("#/kit/run")
    row = seat.page.locator("tbody tr", has=seat.page.get_by_role("rowheader", name=name, exact=True))
    row.locator("[data-field=parts]").click()
    return seat.page.locator("dialog[open]")


def test_the_parts_of_a_run_are_read_in_order_added_moved_and_taken_away(sit, app):
    seat = sit()
    before = entry_of(app, "run", "east")["value"]["parts"]
    dialog = parts_of_a_run(seat, "east")
    dialog.get_by_role("button", name="Add a part").click()
    part = dialog.get_by_role("group").last
    part.get_by_role("combobox", name="What it is").select_option("pad")
    state(seat, dialog, "Loss, dB")
    loss = dialog.get_by_role("group").last.get_by_role("textbox", name="Loss, dB")
    loss.fill("6,5")
    loss.press("Enter")
    dialog.get_by_role("group", name=re.compile(r"pad, loss\s6.5\sdB")).wait_for()
    seat.settled()
    assert entry_of(app, "run", "east")["value"]["parts"] == [*before, {"what": "pad", "loss_db": 6.5}]
    dialog.get_by_role("button", name="Earlier: pad").click()
    seat.settled()
    assert entry_of(app, "run", "east")["value"]["parts"][-2] == {"what": "pad", "loss_db": 6.5}
    assert seat.violations() == []
    dialog.get_by_role("button", name="Remove pad").click()
    dialog.get_by_role("group", name="pad").wait_for(state="detached")
    seat.settled()
    assert entry_of(app, "run", "east")["value"]["parts"] == before


def test_a_part_is_added_by_keyboard_with_the_focus_where_something_is_to_be_stated(sit, app):
    seat = sit()
    dialog = parts_of_a_run(seat, "west")
    before = entry_of(app, "run", "west")["value"]["parts"]
    dialog.get_by_role("button", name="Add a part").focus()
    seat.press("Enter")
    seat.page.wait_for_function("() => document.activeElement.tagName === 'SELECT'")
    seat.page.keyboard.type("fil")
    seat.press("Tab", "Enter")
    seat.page.get_by_role("menu").wait_for()
    while seat.page.evaluate("() => document.activeElement.textContent.trim()") != "Loss, dB":
        seat.press("ArrowDown")
    seat.press("Enter")
    seat.page.wait_for_function("() => document.activeElement.tagName === 'INPUT'")
    seat.page.keyboard.type("1.5")
    seat.press("Enter")
    seat.settled()
    assert entry_of(app, "run", "west")["value"]["parts"] == [*before, {"what": "filter", "loss_db": 1.5}]


def test_what_is_wrong_with_one_part_stands_at_that_part_and_the_rest_is_left(sit, app):
    seat = sit()
    before = entry_of(app, "run", "west")["value"]["parts"]
    dialog = parts_of_a_run(seat, "west")
    length = dialog.get_by_role("group").first.get_by_role("textbox", name="Length, m")
    length.fill("far")
    length.press("Enter")
    alert = dialog.get_by_role("group").first.get_by_role("alert")
    alert.wait_for()
    assert "number of m" in alert.inner_text()
    assert dialog.get_by_role("group").last.get_by_role("alert").count() == 0
    assert entry_of(app, "run", "west")["value"]["parts"] == before


def test_walls_on_the_way_of_a_link_are_reached_from_its_facts(sit, app):
    seat = sit()
    seat.go("#/kit/link")
    seat.page.locator("tbody [data-field=id]").first.focus()
    seat.press("Shift+Space")
    walls = seat.page.get_by_role("region", name="Walls")
    walls.get_by_role("button", name="Add a wall").click()
    state(seat, walls, "Loss, dB")
    walls.get_by_role("textbox", name="Loss, dB").fill("6")
    seat.press("Enter")
    seat.settled()
    first = entry_of(app, "link")["value"]
    assert first["walls"][-1] == {"loss_db": 6}


def test_spare_carriers_are_a_number_for_each_radio_type(sit, app):
    seat = sit()
    seat.go("#/kit/plan")
    spares = seat.page.get_by_role("group", name="Spare carriers")
    heron = spares.get_by_role("textbox", name="heron")
    heron.fill("3")
    heron.press("Enter")
    spares.get_by_role("button", name="Remove siskin").click()
    spares.get_by_role("textbox", name="siskin").wait_for(state="detached")
    spares.get_by_role("combobox").select_option("siskin")
    spares.get_by_role("textbox", name="siskin").wait_for()
    seat.settled()
    assert entry_of(app, "plan")["value"]["spares"] == {"heron": 3, "dunlin": 1, "siskin": 1}
    heron.fill("many")
    heron.press("Enter")
    seat.page.get_by_role("alert").wait_for()
    assert entry_of(app, "plan")["value"]["spares"]["heron"] == 3
    assert seat.violations() == []


def test_every_table_that_the_service_knows_has_a_page(sit, app):
    shape = app.client().get("/api/schemas/brief").json()
    tables = [kind for kind, facts in shape["properties"].items() if "$ref" in facts.get("items", facts)]
    seat = sit()
    seat.go("#/kit")
    seat.page.locator(".tabs-more button").click()
    shown = seat.page.evaluate(
        "() => [...document.querySelectorAll('.tabs a')].map((tab) => tab.hash.split('/').pop())"
    )
    assert set(tables) <= set(shown)
    assert len(shown) == len(set(shown))
