"""Every page, by day and by night: nobody is kept out, nothing comes from outside, nothing is left unsaid."""

import re

import pytest

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1440, "height": 900}
KIT = ["kit/link", "kit/radio", "kit/permit", "kit/job", "kit/unit"]
PAGES = ["ready", "links", *KIT, "air", "plan", "reach", "sound", "sheets", "history", "devices"]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_axe_finds_nothing_that_keeps_people_out(sit, planned, theme, size):
    seat = sit(at=planned, theme=theme, size=size)
    for page in [*PAGES, f"link/{planned.client().get('/api/readiness').json()['links']['all'][0]['uid']}"]:
        seat.go(f"#/{page}")
        assert seat.violations() == [], page


def test_axe_finds_nothing_in_an_editor_a_menu_a_dialog_and_a_message(sit, planned):
    seat = sit(at=planned)
    seat.go("#/kit/link")
    cell = seat.page.locator("tbody [data-field=power_mw]").first
    seat.edit(cell)
    assert seat.violations() == []
    seat.page.keyboard.type("-5")
    seat.press("Enter")
    seat.page.get_by_role("alert").wait_for()
    assert seat.violations() == []
    seat.page.locator("tbody [data-field=menu]").nth(2).click()
    seat.page.get_by_role("menu").wait_for()
    assert seat.violations() == []
    seat.page.get_by_role("menuitem", name="All facts").click()
    seat.page.locator("dialog[open]").wait_for()
    assert seat.violations() == []


def test_nothing_is_asked_for_outside_this_computer(sit, planned):
    asked = []
    seat = sit(at=planned)
    seat.page.on("request", lambda request: asked.append(request.url))
    seat.page.reload()
    seat.page.wait_for_selector("main h1")
    for page in PAGES:
        seat.go(f"#/{page}")
    assert asked
    assert [url for url in asked if not url.startswith(planned.address)] == []


def test_the_theme_follows_the_system_until_somebody_chooses(sit, planned):
    paper = "() => getComputedStyle(document.body).backgroundColor"
    seat = sit(at=planned, theme="dark")
    dark = seat.page.evaluate(paper)
    seat.page.get_by_label("Light", exact=True).check()
    light = seat.page.evaluate(paper)
    assert light != dark
    seat.page.reload()
    seat.page.wait_for_selector("main h1")
    assert seat.page.evaluate(paper) == light
    seat.page.get_by_label("As system").check()
    assert seat.page.evaluate(paper) == dark


def test_letters_go_to_pages_until_they_are_switched_off(sit, planned):
    seat = sit(at=planned)
    seat.chord("g", "k")
    seat.page.wait_for_url(re.compile("#/kit"))
    seat.press("?")
    seat.page.get_by_role("heading", name="Keys").wait_for()
    seat.page.get_by_label("Single letters do something").uncheck()
    seat.press("Escape")
    seat.press("g", "r")
    assert seat.page.url.endswith("#/kit")


def test_help_at_a_heading_says_what_the_schema_says_and_closes_by_escape(sit, app):
    seat = sit()
    seat.go("#/kit/link")
    seat.page.get_by_role("button", name="Held at, MHz").click()
    seat.page.get_by_text("The carrier that it must keep.").wait_for()
    seat.press("Escape")
    assert not seat.page.get_by_text("The carrier that it must keep.").is_visible()


def test_an_unpaired_device_sees_only_how_to_join(browser, serve, job_file):
    with serve(job_file) as app:
        context = browser.new_context(viewport=PHONE)
        page = context.new_page()
        page.goto(f"{app.address}/")
        page.get_by_role("heading", name="Join this job").wait_for()
        code = app.client().post("/api/pairing", json={"role": "edit"}).json()["code"]
        page.get_by_label("The code").fill(code)
        page.get_by_label("Your name").fill("Ana's phone")
        page.get_by_role("button", name="Join").click()
        page.locator("main h1").wait_for()
        assert app.client().get("/api/devices").json()["devices"][0]["name"] == "Ana's phone"
        context.close()


def test_names_are_shown_as_they_are_written_and_never_run(sit, app):
    seat = sit()
    seat.go("#/kit/link")
    text = "<img src=x onerror=document.title='taken'>"
    seat.edit(seat.page.locator("tbody [data-field=name]").first)
    seat.page.keyboard.type(text)
    seat.press("Enter")
    seat.settled()
    seat.go("#/ready")
    seat.page.get_by_text(text).first.wait_for()
    assert seat.page.title() != "taken"
    assert seat.page.locator("main img").count() == 0
