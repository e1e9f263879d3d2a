"""The beginning of a page: what it needs is asked for early, once, and nothing that came early hides a later change."""

from __future__ import annotations

import pytest
from processes import until

ASKED = """() => performance.getEntriesByType("resource")
  .map((entry) => new URL(entry.name).pathname).filter((path) => path.startsWith("/api/"))"""
NAMED = "() => [...document.querySelectorAll('link[rel=modulepreload]')].map((link) => link.href)"
OWN = "() => document.querySelector('meta[name=modules-plan]').content.split(' ')"


@pytest.mark.parametrize(
    ("page", "there"),
    [("plan", ".plan-page"), ("air", "main h1:has-text('Air')"), ("ready", ".ready-columns"), ("kit", ".grid")],
)
def test_each_question_of_the_beginning_is_asked_once_and_its_answer_used(sit, app, page, there):
    seat = sit()
    # What is worked out beside is told when it is there, and asked for again then.
    assert until(lambda: "being worked out" not in app.client().get("/api/readiness").text)
    seat.page.goto("about:blank")
    seat.page.goto(f"{seat.address}/#/{page}")
    seat.page.wait_for_selector(there)
    seat.page.wait_for_function("() => globalThis.early.size === 0")
    asked = seat.page.evaluate(ASKED)
    assert sorted(asked) == sorted(set(asked))


def test_the_modules_of_a_page_are_asked_for_before_they_are_needed(sit):
    seat = sit()
    seat.page.goto("about:blank")
    seat.page.goto(f"{seat.address}/#/plan")
    seat.page.wait_for_selector(".plan-page")
    named = [name.rpartition("/a/")[2].partition("/")[2] for name in seat.page.evaluate(NAMED)]
    own = seat.page.evaluate(OWN)
    assert {"app.js", "pages/plan.js", "chart/stage.js"} <= set(named)
    assert named[: len(own)] == own


def test_what_was_changed_after_the_first_answers_is_shown(sit, app):
    """The answer to /api/job comes before a change, and the socket opens after it: nobody tells the page of it."""
    seat = sit()
    link = next(entry for entry in app.client().get("/api/brief").json()["entries"] if entry["kind"] == "link")

    def late(socket) -> None:
        wish = {"base": link["revision"], "changes": {"name": "Somebody else"}}
        assert app.client().patch(f"/api/entries/{link['uid']}", json=wish).status_code == 200
        socket.connect_to_server()

    seat.page.goto("about:blank")
    seat.page.route_web_socket("**/api/socket", late)
    seat.page.goto(f"{seat.address}/#/kit")
    seat.page.get_by_text("Somebody else").first.wait_for()
