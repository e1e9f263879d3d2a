"""The whole main job: one more link, a plan, its sheet, a pack set; by mouse, by keyboard alone, and with a phone."""

import pytest

PLANNED_MS = 120_000


def links(app) -> dict[str, dict]:
    return {link["id"]: link for link in app.client().get("/api/readiness").json()["links"]["all"]}


def plan_stands(seat) -> None:
    seat.page.locator(".stamp-plan").get_by_text("Plan 1").wait_for(timeout=PLANNED_MS)


def sheet_text(seat) -> str:
    frame = seat.page.frame_locator("iframe")
    frame.get_by_text("NEW01").first.wait_for()
    return frame.locator("body").inner_text()


def stands_in_new_row(seat) -> None:
    """Wait until the row that was asked for is there: until then the last row is the one before it."""
    seat.page.wait_for_function("() => document.activeElement.closest('tr')?.matches('tbody tr:last-child')")


def test_by_mouse(sit, app):
    seat = sit()
    seat.page.get_by_role("link", name="Kit and links").click()
    seat.page.get_by_role("button", name="Add a link").click()
    stands_in_new_row(seat)
    row = seat.page.locator("tbody tr").last
    for field, text in (("id", "NEW01"), ("name", "Understudy")):
        seat.edit(row.locator(f'[data-field="{field}"]'))
        seat.page.keyboard.press("Control+a")
        seat.page.keyboard.type(text)
    seat.page.get_by_role("heading", name="Links").click()
    seat.settled()
    seat.page.get_by_role("link", name="Plan", exact=True).click()
    seat.page.get_by_role("button", name="Plan", exact=True).click()
    plan_stands(seat)
    seat.page.get_by_role("link", name="Sheets").click()
    phrase = app.client().get("/api/plan").json()["check_phrase"]
    assert phrase in sheet_text(seat)
    seat.page.get_by_role("link", name="Ready").click()
    seat.page.get_by_role("button", name="Set: L01").click()
    seat.page.get_by_role("button", name="Set: L01").wait_for(state="detached")
    found = links(app)
    assert found["NEW01"]["carrier_hz"] is not None
    assert found["L01"]["ticks"]["set"]["who"] == "laptop"


def tab_to(seat, name: str, most: int = 80) -> None:
    """Press Tab until what has the focus is called like this."""
    for _ in range(most):
        here = seat.page.evaluate(
            "() => document.activeElement.getAttribute('aria-label') ?? document.activeElement.textContent.trim()"
        )
        if here.startswith(name):
            return
        seat.press("Tab")
    pytest.fail(f"Tab never comes to {name!r}")


def test_by_keyboard_alone(sit, app):
    seat = sit()
    seat.chord("g", "k")
    seat.page.wait_for_selector("tbody [data-field=id]")
    tab_to(seat, "Add a link")
    seat.press("Enter")
    stands_in_new_row(seat)
    for text in ("NEW01", "Understudy"):
        seat.page.keyboard.type(text)
        seat.press("Tab")
    seat.settled()
    tab_to(seat, "Ready")
    seat.chord("g", "p")
    seat.page.get_by_role("heading", name="Plan", exact=True).wait_for()
    tab_to(seat, "Plan")
    while seat.page.evaluate("() => document.activeElement.tagName") != "BUTTON":
        seat.press("Tab")
        tab_to(seat, "Plan")
    seat.press("Enter")
    plan_stands(seat)
    seat.chord("g", "s")
    phrase = app.client().get("/api/plan").json()["check_phrase"]
    assert phrase in sheet_text(seat)
    seat.chord("g", "r")
    seat.page.get_by_role("button", name="Set: L01").wait_for()
    tab_to(seat, "Set: L01")
    seat.press("Enter")
    seat.page.get_by_role("button", name="Set: L01").wait_for(state="detached")
    found = links(app)
    assert found["NEW01"]["carrier_hz"] is not None
    assert found["L01"]["ticks"]["set"]["who"] == "laptop"


def test_a_phone_that_joined_ticks_and_the_laptop_sees_it(sit, planned):
    token = planned.pair(name="Ana's phone").headers["Cookie"].partition("=")[2]
    laptop = sit(at=planned)
    phone = sit(at=planned, size={"width": 390, "height": 844}, token=token)
    phone.page.get_by_role("link", name="Links", exact=True).tap()
    phone.page.get_by_role("link", name="L04").tap()
    phone.page.get_by_role("button", name="Set: L04").tap()
    laptop.page.get_by_text("1 of 19").first.wait_for()
    assert links(planned)["L04"]["ticks"]["set"]["who"] == "Ana's phone"
