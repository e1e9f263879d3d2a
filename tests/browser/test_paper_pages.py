"""Sheets, History and Devices."""

import pytest


@pytest.fixture
def open_app(serve, job_file):
    """A job that other devices may reach."""
    with serve(job_file, lan=True) as made:
        yield made


def test_without_a_plan_the_sheets_say_what_to_do_first(sit):
    seat = sit()
    seat.go("#/sheets")
    seat.page.get_by_text("There is nothing to print yet").wait_for()
    seat.page.get_by_role("link", name="Make a plan").click()
    seat.page.locator("h1", has_text="Plan").wait_for()


def test_what_happened_stands_in_sentences_with_who_and_the_last_is_undone(sit, app):
    client = app.client()
    entries = client.get("/api/brief").json()["entries"]
    link = next(entry for entry in entries if entry["id"] == "L01")
    body = {"base": link["revision"], "changes": {"name": "Nora"}}
    assert client.patch(f"/api/entries/{link['uid']}", json=body).status_code == 200
    seat = sit()
    seat.go("#/history")
    newest = seat.page.locator(".past-list li").first
    newest.wait_for()
    told = client.get("/api/events").json()["events"]
    assert newest.locator("p").inner_text().replace("\u00a0", " ") == max(told, key=lambda event: event["seq"])["what"]
    assert "laptop" in newest.inner_text()
    seat.page.get_by_role("button", name="Undo the last").click()
    seat.page.locator(".past-list li", has_text="Nora").nth(1).wait_for()
    entries = client.get("/api/brief").json()["entries"]
    assert next(entry for entry in entries if entry["id"] == "L01")["value"]["name"] == link["value"]["name"]


def test_a_version_is_named_compared_and_gone_back_to(sit, app):
    seat = sit()
    seat.go("#/history")
    seat.page.get_by_label("Name for how things are now").fill("as rehearsed")
    seat.page.get_by_role("button", name="Keep", exact=True).click()
    seat.page.locator(".past-named li", has_text="as rehearsed").wait_for()
    client = app.client()
    link = next(entry for entry in client.get("/api/brief").json()["entries"] if entry["id"] == "L01")
    body = {"base": link["revision"], "changes": {"name": "Nora"}}
    client.patch(f"/api/entries/{link['uid']}", json=body)
    seat.page.get_by_role("button", name="Compare with now").click()
    seat.page.locator(".past-difference li", has_text="Nora").wait_for()
    seat.page.get_by_role("button", name="Go back to it").click()
    seat.page.get_by_role("dialog").get_by_role("button", name="Go back to it").click()
    seat.page.locator(".toast", has_text="Everything is as in").wait_for()
    link = next(entry for entry in client.get("/api/brief").json()["entries"] if entry["id"] == "L01")
    assert link["value"]["name"] != "Nora"


def test_on_this_laptop_alone_the_page_says_how_to_let_others_in(sit):
    seat = sit()
    seat.go("#/devices")
    seat.page.get_by_text("Only this laptop").wait_for()
    assert "not secret" in seat.page.locator(".lead").inner_text()


def test_a_device_is_let_in_by_the_code_on_the_screen_and_shut_out_again(sit, open_app):
    seat = sit(at=open_app)
    seat.go("#/devices")
    seat.page.get_by_label("may look only").check()
    seat.page.get_by_role("button", name="Make a code").click()
    code = seat.page.locator(".pairing-code").inner_text()
    assert seat.page.locator(".pairing-picture svg path").count() > 0
    answer = open_app.client(None).post("/api/pair", json={"code": code, "name": "phone of Ida"})
    assert answer.status_code == 200
    row = seat.page.locator(".devices-list li", has_text="phone of Ida")
    row.wait_for()
    assert "may look only" in row.inner_text()
    seat.page.locator(".pairing-code").wait_for(state="detached")
    row.get_by_role("button", name="Let it change things").click()
    row.get_by_text("may change things").wait_for()
    row.get_by_role("button", name="Shut it out").click()
    seat.page.get_by_role("dialog").get_by_role("button", name="Shut it out").click()
    row.wait_for(state="detached")
    token = answer.headers["Set-Cookie"].partition("=")[2].partition(";")[0]
    assert open_app.client(token).get("/api/brief").status_code == 401


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_nobody_is_shut_out_by_these_pages(sit, open_app, theme):
    seat = sit(theme=theme, at=open_app)
    for page in ("#/sheets", "#/history", "#/devices"):
        seat.go(page)
        assert seat.violations() == []
    seat.page.get_by_role("button", name="Make a code").click()
    seat.page.wait_for_selector(".pairing-code")
    assert seat.violations() == []
