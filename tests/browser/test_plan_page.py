"""The Plan page: a carrier in the hand, by mouse, keyboard and finger, and the engine behind it."""

import itertools
import shutil
from pathlib import Path

import pytest


@pytest.fixture
def job_file(planned_file, tmp_path) -> Path:
    return Path(shutil.copy(planned_file, tmp_path / "job.bwjob"))


@pytest.fixture(scope="session")
def clear_hz(serve, planned_file, tmp_path_factory) -> int:
    """Another carrier to which L03 may go without troubling anybody."""
    with serve(Path(shutil.copy(planned_file, tmp_path_factory.mktemp("clear") / "job.bwjob"))) as app:
        return clear_place(app, "L03")


@pytest.fixture
def at_plan(sit):
    def open_page(**wishes):
        seat = sit(**wishes)
        seat.go("#/plan")
        seat.page.wait_for_selector(".flag[data-id=L03]", state="attached")
        seat.page.wait_for_selector(".key-trace")
        return seat

    return open_page


def plan_of(app) -> dict:
    return app.client().get("/api/plan").json()


def carrier_of(app, link: str) -> int:
    return next(item["carrier_hz"] for item in plan_of(app)["document"]["links"] if item["id"] == link)


def mark_of(seat, link: str) -> tuple[float, float]:
    box = seat.page.locator(f'.flag[data-id="{link}"] .mark').bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def pick(seat, link: str) -> None:
    seat.page.locator(".plan-table").get_by_role("button", name=link).click()
    seat.page.locator(".hand h2", has_text=link).wait_for()


def verdict(seat) -> str:
    seat.page.wait_for_selector(".verdict:not(.is-asking)")
    return seat.page.locator(".verdict-word").inner_text().strip()


def shown_hz(seat) -> int:
    text = seat.page.locator(".hand-hz .carrier b").inner_text()
    return round(float(text) * 1e6)


def clear_place(app, link: str) -> int:
    """Return a carrier on which a link breaks nothing and troubles nobody, found by asking the service."""
    client = app.client()
    seat = next(item for item in client.get("/api/spectrum").json()["links"] if item["id"] == link)
    start = carrier_of(app, link)
    for step in itertools.count(1):
        for hz in (start + 25_000 * step, start - 25_000 * step):
            found = client.post("/api/plan/preview", json={"link": seat["uid"], "carrier_hz": hz}).json()
            if found["ok"] and all(other["ok"] for other in found["affected"]):
                return hz
    raise AssertionError


def test_the_page_shows_every_carrier_of_the_plan_and_the_bound_in_words(at_plan, app):
    seat = at_plan()
    document = plan_of(app)["document"]
    ids = {item["id"] for item in (*document["links"], *document["spares"])}
    flags = set(seat.page.evaluate("() => [...document.querySelectorAll('.flag')].map((flag) => flag.dataset.id)"))
    assert ids <= flags
    assert seat.page.locator(".plan-table tbody tr").count() == len(document["links"])
    assert "no larger plan exists under these rules" in seat.page.locator(".lead").inner_text()
    words = seat.page.locator(".plan-table tbody .status").all_inner_texts()
    assert words == [item["status"] for item in document["links"]]


def test_a_dragged_carrier_follows_the_pointer_and_a_place_with_trouble_waits_for_a_word(at_plan, app):
    seat = at_plan()
    planned = carrier_of(app, "L03")
    number = plan_of(app)["number"]
    x, y = mark_of(seat, "L03")
    seat.page.mouse.move(x, y)
    seat.page.mouse.down()
    seat.page.mouse.move(x + 3, y + 10)
    seat.page.mouse.move(x + 6, y + 60)
    assert abs(mark_of(seat, "L03")[0] - (x + 6)) < 1.5
    assert shown_hz(seat) != planned
    if verdict(seat) == "Every rule is kept here":
        pytest.skip("the demonstration has a clear place just there")
    assert seat.page.locator(".flag.culprit").count() > 0
    seat.page.mouse.up()
    assert plan_of(app)["number"] == number
    seat.page.get_by_role("button", name="Put it back").click()
    assert shown_hz(seat) == planned
    assert abs(mark_of(seat, "L03")[0] - x) < 1.5


def test_a_clear_place_is_saved_when_it_is_kept_and_undo_brings_the_plan_back(at_plan, app, clear_hz):
    seat = at_plan()
    planned, to = carrier_of(app, "L03"), clear_hz
    pick(seat, "L03")
    seat.page.get_by_label("Carrier in MHz").fill(f"{to / 1e6:.4f}".replace(".", ","))
    seat.press("Enter")
    assert verdict(seat) == "Every rule is kept here"
    seat.page.get_by_role("button", name="Keep it here").click()
    seat.page.wait_for_selector(".hand .actions .primary", state="detached")
    assert carrier_of(app, "L03") == to
    seat.page.get_by_role("button", name="Undo").first.click()
    seat.page.locator(".plan-table tr", has_text="L03").get_by_text(f"{planned / 1e6:.3f}").wait_for()
    assert carrier_of(app, "L03") == planned


def test_arrows_tune_by_the_steps_of_the_radio_enter_keeps_and_escape_puts_back(at_plan, app, clear_hz):
    seat = at_plan()
    planned = carrier_of(app, "L03")
    pick(seat, "L03")
    seat.page.locator(".flag[data-id=L03]").focus()
    slider = seat.page.locator(".flag[data-id=L03]")
    assert slider.get_attribute("role") == "slider"
    seat.press("ArrowRight", "ArrowRight", "Shift+ArrowRight", "ArrowLeft")
    assert shown_hz(seat) == planned + 11 * 25_000
    assert slider.get_attribute("aria-valuetext") == f"{(planned + 275_000) / 1e6:.3f} MHz"
    seat.press("Escape")
    assert shown_hz(seat) == planned
    steps = (clear_hz - planned) // 25_000
    seat.press(*["ArrowRight" if steps > 0 else "ArrowLeft"] * abs(steps))
    assert verdict(seat) == "Every rule is kept here"
    seat.press("Enter")
    seat.page.wait_for_selector(".hand-from", state="detached")
    assert carrier_of(app, "L03") == planned + steps * 25_000


def test_page_down_goes_to_the_next_carrier_and_the_focus_goes_along(at_plan, app):
    seat = at_plan()
    document = plan_of(app)["document"]
    others = app.client().get("/api/spectrum").json()["others"]
    rising = sorted((item["carrier_hz"], item["id"]) for item in (*document["links"], *document["spares"], *others))
    order = [name for _, name in rising]
    start = order.index("L03")
    pick(seat, "L03")
    seat.page.locator(".flag[data-id=L03]").focus()
    seat.press("PageUp")
    focused = seat.page.evaluate("() => document.activeElement.dataset.id")
    assert focused == order[start + 1]


def test_what_others_change_does_not_move_the_carrier_in_hand(at_plan, app, clear_hz):
    seat = at_plan()
    x, y = mark_of(seat, "L03")
    seat.page.mouse.move(x, y)
    seat.page.mouse.down()
    seat.page.mouse.move(x + 5, y)
    held = shown_hz(seat)
    client = app.client()
    link = next(item for item in client.get("/api/spectrum").json()["links"] if item["id"] == "L03")
    to = clear_hz
    body = {"link": link["uid"], "carrier_hz": to, "base": plan_of(app)["number"]}
    assert client.post("/api/plan/move", json=body).status_code == 200
    seat.page.locator(".plan-table tr", has_text="L03").get_by_text(f"{to / 1e6:.3f}").wait_for()
    assert shown_hz(seat) == held
    assert abs(mark_of(seat, "L03")[0] - (x + 5)) < 1.5
    seat.page.mouse.up()


def test_a_cancelled_pointer_puts_the_carrier_back(at_plan, app):
    seat = at_plan()
    planned = carrier_of(app, "L03")
    x, y = mark_of(seat, "L03")
    seat.page.mouse.move(x, y)
    seat.page.mouse.down()
    seat.page.mouse.move(x + 8, y)
    assert shown_hz(seat) != planned
    seat.page.evaluate(
        """() => document.querySelector(".stage-touch").dispatchEvent(
          new PointerEvent("pointercancel", { pointerId: 1, bubbles: true }))"""
    )
    assert shown_hz(seat) == planned
    seat.page.mouse.up()


def test_a_finger_picks_and_then_nudges_and_never_drags_a_carrier(at_plan, app):
    seat = at_plan(size={"width": 390, "height": 844})
    planned = carrier_of(app, "E02")
    x, y = mark_of(seat, "E02")
    seat.page.touchscreen.tap(x + 8, y + 8)
    seat.page.locator(".hand h2", has_text="E02").wait_for()
    seat.page.get_by_label("One step up").click()
    assert shown_hz(seat) == planned + 25_000
    seat.page.get_by_role("button", name="Put it back").click()
    assert carrier_of(app, "E02") == planned


def test_holding_a_carrier_is_written_into_the_brief_and_a_held_one_cannot_be_moved(at_plan, app):
    seat = at_plan()
    planned = carrier_of(app, "L05")
    pick(seat, "L05")
    seat.page.get_by_role("button", name="Hold it here").click()
    seat.page.get_by_role("button", name="Let it move again").wait_for()
    entries = app.client().get("/api/brief").json()["entries"]
    entry = next(item for item in entries if item["id"] == "L05")
    assert entry["value"]["hold_mhz"] == planned / 1e6
    assert seat.page.get_by_label("One step up").count() == 0


def test_one_of_counted_links_is_held_by_itself_and_undone_with_one_step(sit, app):
    client = app.client()
    links = [entry for entry in client.get("/api/brief").json()["entries"] if entry["kind"] == "link"]
    entry = next(link for link in links if link["id"] == "H02")
    body = {"base": entry["revision"], "changes": {"count": 2}}
    assert client.patch(f"/api/entries/{entry['uid']}", json=body).status_code == 200
    client.post("/api/plan/run", json={"time_limit_s": 3, "keep": True})
    seat = sit()
    seat.go("#/plan")
    seat.page.wait_for_selector('.flag[data-id="H02.2"]', state="attached")
    pick(seat, "H02.2")
    seat.page.get_by_role("button", name="Hold it here").click()
    seat.page.get_by_role("button", name="Let it move again").wait_for()
    held = carrier_of(app, "H02.2")
    rows = {
        entry["id"]: entry["value"] for entry in client.get("/api/brief").json()["entries"] if entry["kind"] == "link"
    }
    assert "H02" not in rows
    assert rows["H02.2"]["hold_mhz"] == held / 1e6
    assert "hold_mhz" not in rows["H02.1"]
    seat.page.get_by_role("button", name="Undo").first.click()
    seat.page.get_by_role("button", name="Hold it here").wait_for()
    rows = {
        entry["id"]: entry["value"] for entry in client.get("/api/brief").json()["entries"] if entry["kind"] == "link"
    }
    assert rows["H02"]["count"] == 2


def test_planning_again_keeps_carriers_and_says_so_unless_it_is_not_wished(at_plan, app):
    seat = at_plan()
    document = plan_of(app)["document"]
    before = {link["id"]: link["carrier_hz"] for link in document["links"]}
    kept = len(before) + len(document["spares"])
    assert seat.page.get_by_label("Keep carriers where it can").is_checked()
    seat.page.get_by_role("button", name="Plan again").click()
    seat.page.locator(".lead", has_text=f"All {kept} carriers of Plan 1").wait_for()
    assert {link["id"]: link["carrier_hz"] for link in plan_of(app)["document"]["links"]} == before
    seat.page.get_by_label("Keep carriers where it can").uncheck()
    seat.page.get_by_role("button", name="Plan again").click()
    seat.page.locator(".lead", has_text="carriers of Plan").wait_for(state="detached")
    assert plan_of(app)["number"] == 3


def test_every_rule_answers_why(at_plan):
    seat = at_plan()
    pick(seat, "L03")
    seat.page.get_by_role("button", name="Why this frequency?").click()
    seat.page.locator(".why-word", has_text="It may be used").wait_for()
    assert seat.page.locator(".why-allows li").count() > 3


def test_why_tells_the_levels_there_where_the_receiver_states_an_intercept_point(at_plan, app):
    entries = app.client().get("/api/brief").json()["entries"]
    row = next(one for one in entries if one["kind"] == "radio" and one["id"] == "heron")
    body = {"base": row["revision"], "changes": {"iip3_dbm": -10}}
    assert app.client().patch(f"/api/entries/{row['uid']}", json=body).status_code == 200
    seat = at_plan()
    pick(seat, "L03")
    asked = {"link": "L03", "mhz": f"{shown_hz(seat) / 1e6:.3f}"}
    ratio = app.client().get("/api/why", params=asked).json()["carrier_to_interference"]
    seat.page.get_by_role("button", name="Why this frequency?").click()
    line = seat.page.locator(".why p", has_text="Carrier to interference there")
    word = "nothing heard" if ratio["quantile_db"] is None else f"{round(ratio['quantile_db'])}\u00a0dB"
    assert line.locator("b").inner_text().startswith(word)


def test_a_long_search_tells_how_far_it_is_and_is_stopped_with_the_best(at_plan, app):
    client = app.client()
    entries = client.get("/api/brief").json()["entries"]
    heron = next(entry for entry in entries if entry["id"] == "L09")
    limit = next(entry for entry in entries if entry["kind"] == "plan")
    for entry, changes in ((heron, {"count": 90}), (limit, {"time_limit_s": 600})):
        body = {"base": entry["revision"], "changes": changes}
        assert client.patch(f"/api/entries/{entry['uid']}", json=body).status_code == 200
    seat = at_plan()
    number = plan_of(app)["number"]
    seat.page.get_by_label("Keep carriers where it can").uncheck()
    seat.page.get_by_role("button", name="Plan again").click()
    seat.page.locator(".plan-run", has_text="placed").wait_for()
    seat.page.get_by_role("button", name="Stop and keep the best").click()
    seat.page.get_by_role("button", name="Stop and keep the best").wait_for(state="detached")
    assert plan_of(app)["number"] == number + 1


def test_an_earlier_number_is_put_in_force_again(at_plan, app):
    seat = at_plan()
    number = plan_of(app)["number"]
    seat.page.get_by_role("button", name="Plan again").click()
    seat.page.locator(".stamp-plan").get_by_text(f"Plan {number + 1}").wait_for()
    seat.page.get_by_text("Earlier numbers").click()
    seat.page.get_by_role("button", name="Put in force again").first.click()
    seat.page.locator(".toast", has_text="is in force").wait_for()
    assert plan_of(app)["number"] == number


def test_the_fewest_moves_are_shown_in_order_and_taken(at_plan, app):
    seat = at_plan()
    before = plan_of(app)
    seat.go("#/plan/change?lost=H02")
    seat.page.get_by_role("button", name="Look for the fewest moves").click()
    seat.page.locator(".replan-found h2").wait_for()
    assert "would move" in seat.page.locator(".replan-found h2").inner_text()
    assert seat.page.locator(".replan-steps li").count() >= 1
    assert seat.page.locator(".keep-off", has_text="L04").count() == 1
    assert seat.page.get_by_label("Later plans keep off this carrier too").is_checked()
    seat.page.get_by_role("button", name="Make this the plan").click()
    seat.page.wait_for_selector(".flag[data-id=H02]", state="attached")
    after = plan_of(app)
    assert after["number"] > before["number"]
    lost_hz = next(i["carrier_hz"] for i in before["document"]["links"] if i["id"] == "H02")
    assert carrier_of(app, "H02") != lost_hz
    others = app.client().get("/api/spectrum").json()["others"]
    assert [item["carrier_hz"] for item in others if item["id"] == "lost-H02"] == [lost_hz]


def test_the_wheel_zooms_around_the_pointer_and_a_drag_moves_the_view(at_plan, app):
    seat = at_plan()
    links = plan_of(app)["document"]["links"]
    name = min(links, key=lambda item: abs(item["carrier_hz"] - 590_000_000))["id"]  # with room to both sides
    box = seat.page.locator(".stage-plot").bounding_box()
    x, _ = mark_of(seat, name)
    middle = box["y"] + 80
    seat.page.mouse.move(x, middle)
    seat.page.mouse.wheel(0, -400)
    seat.page.wait_for_function("() => !document.querySelector('[aria-label=Farther]').disabled")
    assert abs(mark_of(seat, name)[0] - x) < 2
    seat.page.mouse.move(x + 40, middle)
    seat.page.mouse.down()
    seat.page.mouse.move(x + 60, middle)
    seat.page.mouse.move(x + 90, middle)
    seat.page.mouse.up()
    assert mark_of(seat, name)[0] == pytest.approx(x + 50, abs=3)
    seat.page.get_by_role("button", name="All", exact=True).click()
    seat.page.wait_for_function("() => document.querySelector('[aria-label=Farther]').disabled")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_nobody_is_shut_out_by_the_plan_page(at_plan, theme):
    seat = at_plan(theme=theme)
    assert seat.violations() == []
    pick(seat, "L03")
    verdict(seat)
    assert seat.violations() == []
    seat.go("#/plan/change")
    seat.page.wait_for_selector(".replan-pick")
    assert seat.violations() == []


def test_the_sheet_is_shown_as_wide_as_on_paper_with_names_as_wished_and_marked_as_printed(sit, app):
    seat = sit()
    seat.go("#/sheets")
    sheet = seat.page.frame_locator("iframe")
    sheet.get_by_text("Mara Oyelaran").first.wait_for()
    seat.page.get_by_label("initials").check()
    sheet.get_by_text("Mara Oyelaran").first.wait_for(state="detached")
    seat.page.get_by_role("button", name="Mark as printed").click()
    seat.page.locator(".toast", has_text="Marked as printed").wait_for()
    client = app.client()
    assert client.get("/api/readiness").json()["printed"]["who"] == "laptop"
    place = seat.page.locator(".paper-preview").bounding_box()
    frame = seat.page.locator(".paper-preview iframe").bounding_box()
    assert frame["width"] == pytest.approx(place["width"], abs=2)
    assert frame["height"] == pytest.approx(place["height"], abs=3)
    for name in ("sheet.pdf", "carriers.csv", "brief.toml"):
        link = seat.page.locator(f'a[download="{name}"]').get_attribute("href")
        assert client.get(link).status_code == 200
    assert seat.violations() == []
