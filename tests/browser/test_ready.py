"""The first page, and links on a phone: what is next and for whom, one tap for each step, whose word it is."""

import pytest
from processes import until

PHONE = {"width": 390, "height": 844}


def readiness(app) -> dict:
    return app.client().get("/api/readiness").json()


def ticks(app, label: str) -> dict:
    return next(link for link in readiness(app)["links"]["all"] if link["id"] == label)["ticks"]


def test_the_first_thing_on_the_page_is_what_is_next_and_for_whom_it_waits(sit, planned):
    seat = sit(at=planned)
    expected = readiness(planned)["next"]
    assert seat.page.locator("h1").inner_text().replace("\u00a0", " ").replace("\u2011", "-") == expected["text"]
    assert expected["waits_for"] in seat.page.locator(".next").inner_text()
    first, second = (seat.page.locator(where).first.bounding_box() for where in ("main h1", ".strip"))
    assert first["y"] < second["y"]


def test_before_there_is_a_plan_the_page_leads_to_it(sit):
    seat = sit()
    assert "there is no plan yet" in seat.page.locator("h1").inner_text()
    assert seat.page.get_by_role("link", name="Go to the plan").get_attribute("href") == "#/plan"
    assert seat.page.get_by_role("heading", name="Waiting for a plan").is_visible()


def test_the_plans_number_and_check_phrase_stand_beside_every_page(sit, planned):
    phrase = readiness(planned)["plan"]["check_phrase"]
    seat = sit(at=planned)
    for page in ("#/kit/link", "#/links", "#/ready"):
        seat.go(page)
        assert phrase in seat.page.locator(".side").inner_text()


def test_a_link_goes_from_not_set_to_walked_by_one_tap_each(sit, planned):
    seat = sit(at=planned)
    for word in ("Set", "Heard", "Walked"):
        seat.page.get_by_role("button", name=f"{word}: L01").click()
        seat.page.get_by_role("button", name=f"{word}: L01").wait_for(state="detached")
    seat.page.get_by_text("1 of 19").nth(2).wait_for()
    assert until(lambda: all(ticks(planned, "L01").values()))  # the page shows a tick before the job has it
    assert {said["who"] for said in ticks(planned, "L01").values()} == {"laptop"}


def test_a_tick_is_taken_back_from_its_message(sit, planned):
    seat = sit(at=planned)
    seat.page.get_by_role("button", name="Set: L02").click()
    seat.page.get_by_role("button", name="Take back").click()
    seat.page.get_by_text("Taken back").wait_for()
    assert ticks(planned, "L02")["set"] is None


def test_a_message_does_not_take_the_focus(sit, planned):
    seat = sit(at=planned)
    box = seat.page.get_by_role("button", name="Set: L03")
    box.focus()
    seat.press("Enter")
    seat.page.locator(".toast").wait_for()
    assert not seat.page.evaluate("() => document.activeElement.closest('.toasts') !== null")


def test_what_nothing_computes_is_stated_with_a_note_and_taken_back(sit, planned):
    seat = sit(at=planned)
    seat.page.get_by_role("button", name="State it: Powered").click()
    seat.page.keyboard.type("Fresh cells at 14:00")
    seat.press("Enter")
    seat.page.get_by_text("Fresh cells at 14:00").first.wait_for()
    point = next(point for point in readiness(planned)["points"] if point["point"] == "powered")
    assert (point["state"], point["statement"]["who"], point["statement"]["note"]) == (
        "stated",
        "laptop",
        "Fresh cells at 14:00",
    )
    seat.page.get_by_role("button", name="Take back: Powered").click()
    seat.page.get_by_role("button", name="State it: Powered").wait_for()


def test_taps_without_network_are_kept_and_count_once_it_is_back(sit, planned):
    seat = sit(at=planned, size=PHONE)
    seat.go("#/links")
    seat.page.context.set_offline(True)
    for label in ("L01", "L02", "L03"):
        seat.page.get_by_role("button", name=f"Set: {label}").tap()
    seat.page.get_by_role("button", name="Heard: L03").wait_for()
    assert ticks(planned, "L01")["set"] is None
    seat.page.context.set_offline(False)
    seat.settled()
    assert [ticks(planned, label)["set"] is not None for label in ("L01", "L02", "L03", "L04")] == [True] * 3 + [False]


def test_one_link_is_shown_in_the_largest_type_on_a_phone(sit, planned):
    seat = sit(at=planned, size=PHONE)
    seat.go("#/links")
    seat.page.get_by_role("link", name="L05").tap()
    carrier = seat.page.locator(".carrier-huge b")
    carrier.wait_for()
    size = float(carrier.evaluate("(element) => getComputedStyle(element).fontSize").removesuffix("px"))
    assert size > 60
    assert carrier.bounding_box()["width"] <= 390
    hz = next(link["carrier_hz"] for link in readiness(planned)["links"]["all"] if link["id"] == "L05")
    assert carrier.inner_text() == f"{hz // 1_000_000}.{hz % 1_000_000 // 1000:03}"
    seat.page.get_by_role("button", name="Set: L05").tap()
    seat.page.get_by_text("laptop,").wait_for()
    assert ticks(planned, "L05")["set"]["who"] == "laptop"


def test_whoever_may_only_look_sees_all_and_changes_nothing(sit, planned):
    token = planned.pair(role="look").headers["Cookie"].partition("=")[2]
    seat = sit(at=planned, size=PHONE, token=token)
    assert seat.page.get_by_role("button", name="Set: L01").is_disabled()
    assert seat.page.get_by_role("button", name="State it: Powered").count() == 0
    seat.go("#/kit/link")
    assert seat.page.get_by_role("button", name="Add a link").count() == 0
    seat.page.locator("tbody [data-field=role]").first.tap()
    assert seat.page.locator(".editor").count() == 0


@pytest.mark.parametrize("width", [390, 600, 768, 1024, 1440])
def test_no_page_of_links_scrolls_sideways(sit, planned, width):
    seat = sit(at=planned, size={"width": width, "height": 844})
    for page in ("#/ready", "#/links", "#/kit/link", "#/kit/radio", "#/kit/job"):
        seat.go(page)
        assert seat.page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0, page
