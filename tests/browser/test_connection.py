"""A server that goes and comes back, a network that is away: the page stays, and nothing that was typed is lost."""


def role(seat, label: str):
    row = seat.page.locator("tbody tr", has=seat.page.get_by_role("rowheader", name=label, exact=True))
    return row.locator('[data-field="role"]')


def change(seat, label: str, text: str) -> None:
    seat.edit(role(seat, label))
    seat.page.keyboard.type(text)
    seat.press("Enter")


def roles(app) -> dict[str, str]:
    entries = app.client().get("/api/brief").json()["entries"]
    return {entry["id"]: entry["value"].get("role") for entry in entries if entry["kind"] == "link"}


def at_kit(sit, **wishes):
    seat = sit(**wishes)
    seat.go("#/kit/link")
    seat.page.wait_for_selector("tbody [data-field=id]")
    return seat


def test_the_page_stays_while_the_server_restarts_and_sends_what_waited(sit, serve, job_file):
    with serve(job_file) as first:
        port = first.port
        seat = at_kit(sit, at=first)
    seat.page.get_by_text("Not connected.").wait_for()
    change(seat, "L01", "Lamplighter twice")
    change(seat, "L02", "Harbour master twice")
    seat.page.get_by_text("2 changes kept here").wait_for()
    assert role(seat, "L01").inner_text().startswith("Lamplighter twice")
    with serve(job_file, port=port) as second:
        seat.page.get_by_text("Not connected.").wait_for(state="detached")
        seat.settled()
        assert (roles(second)["L01"], roles(second)["L02"]) == ("Lamplighter twice", "Harbour master twice")


def test_one_cell_changed_twice_while_nobody_answers_is_in_no_conflict_with_itself(sit, app):
    seat = at_kit(sit)
    seat.page.context.set_offline(True)
    change(seat, "L01", "First thought")
    change(seat, "L01", "Second thought")
    seat.page.get_by_text("2 changes kept here").wait_for()
    seat.page.context.set_offline(False)
    seat.settled()
    assert seat.page.get_by_role("alert").count() == 0
    assert roles(app)["L01"] == "Second thought"


def test_what_waits_outlives_the_page_and_is_done_once(sit, app):
    seat = at_kit(sit)
    seat.page.context.set_offline(True)
    change(seat, "L01", "Waiting")
    seat.page.get_by_text("1 change kept here").wait_for()
    seat.page.context.set_offline(False)
    kept = seat.page.evaluate("() => localStorage.getItem('bandwright.outbox')")
    seat.settled()
    assert roles(app)["L01"] == "Waiting"
    change(seat, "L01", "Changed since")
    seat.settled()
    seat.page.evaluate("(kept) => localStorage.setItem('bandwright.outbox', kept)", kept)
    seat.page.reload()
    seat.page.wait_for_selector("tbody [data-field=id]")
    seat.settled()
    assert roles(app)["L01"] == "Changed since"


def test_changes_that_wait_for_one_job_are_not_sent_to_another(sit, app):
    seat = at_kit(sit)
    item = '[{"key":"a1","job":"some other job","method":"PATCH","path":"/entries/x","body":{},"made":""}]'
    seat.page.evaluate("(item) => localStorage.setItem('bandwright.outbox', item)", item)
    asked = []
    seat.page.on("request", lambda request: asked.append(request.method))
    seat.page.reload()
    seat.page.wait_for_selector("tbody [data-field=id]")
    change(seat, "L01", "Sent")
    seat.page.wait_for_function("() => JSON.parse(localStorage.getItem('bandwright.outbox')).length === 1")
    assert asked.count("PATCH") == 1
    assert "some other job" in seat.page.evaluate("() => localStorage.getItem('bandwright.outbox')")


def test_what_somebody_else_changes_appears_by_itself(sit):
    one, two = at_kit(sit), at_kit(sit)
    change(one, "L05", "Weaver of nets")
    role(two, "L05").get_by_text("Weaver of nets").wait_for()


def test_on_plain_http_in_a_local_network_the_page_works_without_what_browsers_keep_for_secure_pages(
    sit, browser, serve, job_file
):
    with serve(job_file, lan=True) as app:
        context = browser.new_context(viewport={"width": 390, "height": 844})
        address = f"http://stage.test:{app.port}"
        context.add_cookies(
            [
                {
                    "name": f"bandwright-{app.port}",
                    "value": app.pair().headers["Cookie"].partition("=")[2],
                    "url": address,
                }
            ]
        )
        page = context.new_page()
        page.goto(f"{address}/#/kit/link")
        page.wait_for_selector("tbody [data-field=id]")
        assert page.evaluate("() => isSecureContext") is False
        page.locator('tbody [data-field="role"]').first.click()
        page.keyboard.type("On the stage")
        page.keyboard.press("Enter")
        page.wait_for_function("() => localStorage.getItem('bandwright.outbox') === '[]'")
        assert roles(app)["L01"] == "On the stage"
        context.close()
