"""A job in which nothing is yet: each page says what to do next, and the way leads to the first plan."""

from pathlib import Path

import pytest

from bandwright.service.context import Context
from bandwright.service.job import new_job

PLANNED_MS = 120_000


@pytest.fixture
def job_file(tmp_path) -> Path:
    path = tmp_path / "fair.bwjob"
    new_job(Context(), path, who="laptop", title="Winter fair")
    return path


def fill(seat, **cells: str) -> None:
    """Type into cells of the last row."""
    for field, text in cells.items():
        cell = seat.page.locator("tbody tr").last.locator(f'[data-field="{field}"]')
        seat.edit(cell)
        if cell.locator("select").count():
            cell.locator("select").select_option(text)
            seat.press("Enter")
        else:
            seat.press("Control+a")
            seat.page.keyboard.type(text)
            seat.press("Enter")
        seat.settled()


def test_from_nothing_to_a_plan_by_what_the_pages_say(sit, app):
    seat = sit()
    assert "whoever fills in the brief" in seat.page.locator(".next").inner_text()
    seat.page.get_by_role("link", name="Go to kit and links").click()
    seat.page.get_by_role("link", name="Add a permit").click()
    seat.page.get_by_role("button", name="Add a permit").click()
    fill(seat, id="fair", windows_mhz="606.5-613.5", max_power="50 erp", state="granted")
    assert seat.page.get_by_text("A plan needs a permit").count() == 0
    seat.page.get_by_role("link", name="Add a radio type").click()
    seat.page.get_by_role("button", name="Add a radio type").click()
    fill(seat, id="heron", tuning="606.1-613.9/25", emission="fm", bandwidth_khz="200", spacing_khz="350")
    seat.page.get_by_text("A plan needs").wait_for(state="detached")
    seat.page.get_by_role("link", name="Links").first.click()
    seat.page.get_by_role("button", name="Add a link").click()
    fill(seat, id="L01", name="Mara", radio="heron")
    seat.press("Control+d")
    seat.page.locator("tbody tr").nth(1).wait_for()
    assert app.client().get("/api/brief").json()["faults"] == []
    seat.page.get_by_role("link", name="Plan", exact=True).click()
    seat.page.get_by_role("button", name="Plan", exact=True).click()
    seat.page.locator(".stamp-plan").get_by_text("Plan 1").wait_for(timeout=PLANNED_MS)
    carriers = [link["carrier_hz"] for link in app.client().get("/api/readiness").json()["links"]["all"]]
    assert len(carriers) == 2
    assert all(606_600_000 <= hz <= 613_400_000 for hz in carriers)


@pytest.mark.parametrize("page", ["ready", "links", "kit/link", "kit/permit", "plan", "air", "sheets"])
def test_every_page_says_what_to_do_next_where_nothing_is(sit, page):
    seat = sit()
    seat.go(f"#/{page}")
    seat.page.locator("main h1").wait_for()
    seat.page.locator("main .button").first.wait_for()
    shown = seat.page.locator("main").inner_text()
    assert "bandwright init" not in shown  # that is said to somebody at a command line
    assert "[[" not in shown
    assert seat.violations() == []
