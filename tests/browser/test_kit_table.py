"""The tables of Kit and links: changed by keyboard and pointer, with what the service says at the cell."""


def row(seat, label: str):
    return seat.page.locator("tbody tr", has=seat.page.get_by_role("rowheader", name=label, exact=True))


def cell(seat, label: str, field: str):
    return row(seat, label).locator(f'[data-field="{field}"]')


def labels(seat) -> list[str]:
    return [text.strip() for text in seat.page.locator("tbody [data-field=id]").all_inner_texts()]


def at_kit(sit, **wishes):
    seat = sit(**wishes)
    seat.go("#/kit/link")
    seat.page.wait_for_selector("tbody [data-field=id]")
    return seat


def link_named(app, name: str) -> dict:
    entries = app.client().get("/api/brief").json()["entries"]
    return next(entry for entry in entries if entry["id"] == name)


def test_arrows_move_and_typing_changes_a_cell(sit, app):
    seat = at_kit(sit)
    cell(seat, "L01", "id").focus()
    seat.press("ArrowDown", "ArrowRight", "ArrowRight")
    assert (seat.focus()["row"], seat.focus()["field"]) == ("L02", "role")
    seat.page.keyboard.type("Lighthouse")
    seat.press("Enter")
    seat.page.wait_for_selector("text=Lighthouse")
    assert (seat.focus()["row"], seat.focus()["field"]) == ("L03", "role")
    cell(seat, "L02", "role").get_by_text("Lighthouse").wait_for()
    seat.settled()
    assert link_named(app, "L02")["value"]["role"] == "Lighthouse"


def test_tab_keeps_and_goes_to_the_next_cell_and_escape_leaves_it_as_it_was(sit, app):
    seat = at_kit(sit)
    cell(seat, "L01", "name").focus()
    seat.press("Enter")
    assert seat.focus()["value"] == "Mara Oyelaran"
    seat.page.keyboard.type("Nora")
    seat.press("Tab")
    assert seat.focus()["field"] == "role"
    seat.press("Enter")
    seat.page.keyboard.type("Nobody")
    seat.press("Escape")
    assert seat.focus()["field"] == "role"
    seat.settled()
    value = link_named(app, "L01")["value"]
    assert (value["name"], value["role"]) == ("Nora", "Lamplighter")


def test_fast_typing_over_several_cells_loses_no_letter(sit, app):
    seat = at_kit(sit)
    cell(seat, "L01", "name").focus()
    for text in ("Nora Vik", "Pilot of the harbour"):
        seat.page.keyboard.type(text)
        seat.press("Tab")
    seat.settled()
    value = link_named(app, "L01")["value"]
    assert (value["name"], value["role"]) == ("Nora Vik", "Pilot of the harbour")


def test_a_change_is_undone_and_done_again_by_keyboard_with_its_sentence_in_the_bar(sit, app):
    seat = at_kit(sit)
    cell(seat, "L01", "name").focus()
    seat.page.keyboard.type("Nora")
    seat.press("Enter")
    seat.page.locator(".step-what").first.get_by_text("L01").wait_for()
    seat.press("Control+z")
    cell(seat, "L01", "name").get_by_text("Mara Oyelaran").wait_for()
    seat.press("Control+Shift+z")
    cell(seat, "L01", "name").get_by_text("Nora").wait_for()
    assert link_named(app, "L01")["value"]["name"] == "Nora"


def test_what_the_service_refuses_stands_at_the_cell_and_what_was_typed_is_kept(sit, app):
    seat = at_kit(sit)
    seat.edit(cell(seat, "L01", "power_mw"))
    seat.page.keyboard.type("-5")
    seat.press("Enter")
    note = cell(seat, "L01", "power_mw").get_by_role("alert")
    note.wait_for()
    assert "power_mw" in note.inner_text() or "above 0" in note.inner_text() or "greater" in note.inner_text()
    assert cell(seat, "L01", "power_mw").get_attribute("aria-invalid") == "true"
    assert "-5" in cell(seat, "L01", "power_mw").inner_text()
    note.get_by_role("button", name="Leave it as it was").click()
    note.wait_for(state="detached")
    assert link_named(app, "L01")["value"]["power_mw"] == 50


def test_two_people_at_one_cell_both_see_both_values_and_choose(sit, app):
    one, two = at_kit(sit), at_kit(sit)
    two.edit(cell(two, "L03", "role"))
    two.page.keyboard.type("Second mate")
    one.edit(cell(one, "L03", "role"))
    one.page.keyboard.type("First mate")
    one.press("Enter")
    cell(two, "L04", "role").wait_for()
    one.settled()
    two.press("Enter")
    note = cell(two, "L03", "role").get_by_role("alert")
    note.wait_for()
    assert "First mate" in note.inner_text()
    assert "Second mate" in note.inner_text()
    assert link_named(app, "L03")["value"]["role"] == "First mate"
    note.get_by_role("button", name="Put mine").click()
    cell(one, "L03", "role").get_by_text("Second mate").wait_for()


def test_two_people_at_two_cells_of_one_row_lose_nothing(sit, app):
    one, two = at_kit(sit), at_kit(sit)
    two.edit(cell(two, "L03", "name"))
    two.page.keyboard.type("Sunniva A.")
    one.edit(cell(one, "L03", "role"))
    one.page.keyboard.type("First mate")
    one.press("Enter")
    cell(two, "L03", "role").get_by_text("First mate").wait_for()
    two.press("Enter")
    cell(one, "L03", "name").get_by_text("Sunniva A.").wait_for()
    value = link_named(app, "L03")["value"]
    assert (value["name"], value["role"]) == ("Sunniva A.", "First mate")


def test_rows_are_added_duplicated_moved_and_removed_by_keyboard(sit):
    seat = at_kit(sit)
    before = labels(seat)
    cell(seat, "L01", "id").focus()
    seat.press("Control+d")
    seat.page.wait_for_function(
        "(count) => document.querySelectorAll('tbody tr').length === count", arg=len(before) + 1
    )
    copy = labels(seat)[1]
    assert copy not in before
    cell(seat, copy, "id").focus()
    seat.press("Alt+ArrowDown")
    seat.page.wait_for_function(
        "(label) => document.querySelectorAll('tbody [data-field=id]')[2].textContent.trim() === label", arg=copy
    )
    seat.page.wait_for_function(
        "(label) => document.activeElement.closest('tr')?.querySelector('th').textContent.trim() === label", arg=copy
    )
    seat.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert seat.focus()["row"] == copy
    seat.press("End", "Enter")
    seat.page.get_by_role("menuitem", name="Remove").focus()
    seat.press("Enter")
    seat.page.wait_for_function("(count) => document.querySelectorAll('tbody tr').length === count", arg=len(before))
    assert labels(seat) == before


def test_a_row_is_dragged_by_its_handle(sit):
    seat = at_kit(sit)
    row(seat, "L03").hover()
    handle = row(seat, "L03").locator(".handle").bounding_box()
    target = row(seat, "L01").bounding_box()
    seat.page.mouse.move(handle["x"] + 5, handle["y"] + 5)
    seat.page.mouse.down()
    seat.page.mouse.move(handle["x"] + 5, target["y"] + 4, steps=5)
    seat.page.mouse.up()
    seat.page.wait_for_function("() => document.querySelector('tbody [data-field=id]').textContent.trim() === 'L03'")
    assert labels(seat)[:3] == ["L03", "L01", "L02"]


def test_rows_of_a_spreadsheet_are_pasted_as_one_change(sit, app):
    seat = at_kit(sit)
    before = len(labels(seat))
    seat.page.get_by_role("button", name="Paste rows…").click()
    seat.page.get_by_label("Rows").fill("id\tname\tradio\nX1\tOne\theron\nX2\tTwo\theron\n")
    seat.page.get_by_role("button", name="Take 3 rows").click()
    cell(seat, "X2", "name").get_by_text("Two").wait_for()
    assert len(labels(seat)) == before + 2
    seat.page.get_by_role("button", name="Undo", exact=True).first.click()
    cell(seat, "X2", "name").wait_for(state="detached")
    assert len(app.client().get("/api/brief").json()["entries"]) > 0


def test_a_new_row_says_at_its_cells_what_it_needs(sit):
    seat = at_kit(sit)
    seat.go("#/kit/other")
    seat.page.get_by_role("button", name="Add another user").click()
    seat.page.wait_for_selector(".cell.wrong")
    assert seat.page.locator(".cell.wrong").count() >= 1


def test_on_a_phone_rows_are_cards(sit):
    seat = at_kit(sit, size={"width": 390, "height": 844})
    one = row(seat, "L01").bounding_box()
    assert one["width"] <= 390
    assert one["height"] > 120
    assert seat.page.evaluate("() => document.documentElement.scrollWidth") <= 390
    assert not seat.page.locator("thead").is_visible() or seat.page.locator("thead").bounding_box()["height"] <= 1


def test_a_row_that_comes_late_leaves_alone_who_writes_elsewhere(sit, app):
    seat = at_kit(sit)
    held = []

    def hold(route) -> None:
        held.append(route)

    seat.page.route("**/api/entries", hold)
    with seat.page.expect_request("**/api/entries"):
        seat.page.get_by_role("button", name="Add a link").click()
    rows = len(labels(seat))
    seat.edit(cell(seat, "L01", "role"))
    seat.press("Control+a")
    seat.page.keyboard.type("Light")
    with seat.page.expect_response("**/api/entries"):
        held[0].continue_()
    seat.page.locator("tbody tr").nth(rows).wait_for()
    seat.page.evaluate("() => new Promise((done) => setTimeout(done, 300))")
    seat.page.keyboard.type("house")
    assert (seat.focus()["field"], seat.focus()["value"]) == ("role", "Lighthouse")
