"""The Reach page: what is short first, a cable changed where it stands, antennas moved on the plan of the place."""

import shutil
from pathlib import Path

import pytest
from processes import until

PHONE = {"width": 390, "height": 844}


def document(app) -> dict:
    return app.client().get("/api/reach").json()["document"]


def entry(app, kind: str, name: str | None = None) -> dict | None:
    every = app.client().get("/api/brief").json()["entries"]
    return next((one for one in every if one["kind"] == kind and name in (None, one["id"])), None)


def change(app, kind: str, name: str | None, **changes) -> None:
    row = entry(app, kind, name)
    answer = app.client().patch(f"/api/entries/{row['uid']}", json={"base": row["revision"], "changes": changes})
    assert answer.status_code == 200, answer.text


def place_of(app, antenna: str) -> list[float]:
    return [float(value) for value in entry(app, "antenna", antenna)["value"]["at_m"]]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2212", "-").replace("\u2011", "-")


@pytest.fixture
def at_reach(sit):
    def open_page(hash_="#/reach", **wishes):
        seat = sit(**wishes)
        seat.go("#/reach")
        seat.page.wait_for_selector(".chain h2")
        if hash_ != "#/reach":
            seat.page.evaluate("(hash) => { location.hash = hash; }", hash_)
            seat.page.locator(".chain h2", has_text=hash_.rpartition("/")[2]).wait_for()
        return seat

    return open_page


# ----------------------------------------------------------------------------------------------- what is told


def test_every_link_stands_there_and_the_one_that_lacks_most_is_first_and_chosen(at_reach, app):
    seat = at_reach()
    lowest = sorted(document(app)["links"], key=lambda link: link["standing"]["reserve_db"])
    seat.page.get_by_role("button", name="Show all 19").click()
    shown = [text.strip() for text in seat.page.locator(".margin-name b").all_inner_texts()]
    assert sorted(shown) == sorted(link["id"] for link in lowest)
    assert shown[0] == lowest[0]["id"] == "E03"
    assert f"{lowest[0]['standing']['reserve_db']:.1f} dB short" in plain(
        seat.page.locator(".margin").first.inner_text()
    )
    assert seat.page.locator(".chain h2").inner_text().startswith("E03")
    assert "E03 falls short" in plain(seat.page.locator(".lead").inner_text())


def test_who_does_not_see_the_pictures_hears_the_same(at_reach, app):
    seat = at_reach("#/reach/L04")
    link = next(one for one in document(app)["links"] if one["id"] == "L04")
    names = [" ".join(plain(one.text_content()).split()) for one in seat.page.locator(".margin").all()]
    told = f"L04 Teodor Vance: {link['standing']['reserve_db']:+.1f} dB, enough at 30 m"
    assert told in names, names
    said = [plain(text) for text in seat.page.locator(".way-step").all_text_contents()]
    for branch in link["branches"]:
        for step in branch["steps"][1:]:
            assert any(f"{step['level_dbm']:.1f} dBm after it" in text for text in said), step
    worst = next(one for one in document(app)["area"]["links"] if one["id"] == "L04")["worst"]
    assert f"{worst['reserve_db']:+.1f} dB over what it needs" in plain(seat.page.locator("figcaption").text_content())
    levels = [plain(text) for text in seat.page.locator(".place-scale li").all_inner_texts()]
    assert levels[0].strip() == "more than 10 dB short"


def test_the_map_has_a_line_at_just_enough_where_a_link_is_short_in_a_part_of_its_zone(at_reach):
    seat = at_reach()
    assert seat.page.locator(".plan-line.is-limit").get_attribute("d").startswith("M")
    assert seat.page.locator(".plan-worst").text_content().startswith("E03")
    seat.page.get_by_role("radio", name="Time lost").check()
    seat.page.locator(".place-scale li", has_text="of the time").first.wait_for()
    assert seat.page.locator(".plan-line.is-limit").count() == 0


def test_a_missing_fact_leads_to_its_cell(at_reach, app):
    change(app, "radio", "siskin", sensitivity_dbm=None)
    seat = at_reach("#/reach/E01")
    assert "cannot be told" in seat.page.locator(".margin.is-open").first.inner_text()
    seat.page.locator(".lacking a", has_text="siskin").first.click()
    seat.page.wait_for_selector("main[data-page='kit'] [data-field]:focus, [data-field]:focus")
    assert seat.focus()["row"] == "siskin"
    assert seat.focus()["field"] == "sensitivity_dbm"


# ------------------------------------------------------------------------------------------------- what is changed


def test_a_longer_cable_moves_the_margin_and_undo_brings_it_back(at_reach, app):
    seat = at_reach("#/reach/E01")
    before = plain(seat.page.locator(".chain-reserve > b").inner_text())
    length = seat.page.get_by_role("textbox", name="10 m of rg-213: length")
    length.fill("30")
    length.press("Enter")
    seat.page.locator(".chain-was").wait_for()
    after = plain(seat.page.locator(".chain-reserve > b").inner_text())
    link = next(one for one in document(app)["links"] if one["id"] == "E01")
    assert after == f"{link['standing']['reserve_db']:+.1f}"
    assert float(after) < float(before) - 2
    assert f"was {before} dB" in plain(seat.page.locator(".chain-was").inner_text())
    assert entry(app, "run", "ears")["value"]["parts"][0]["length_m"] == 30
    seat.press("Control+z")
    seat.page.locator(".chain-reserve > b", has_text=before.lstrip("-+")).wait_for()
    assert entry(app, "run", "ears")["value"]["parts"][0]["length_m"] == 10


def test_another_type_of_cable_is_chosen_from_those_that_are_known(at_reach, app):
    seat = at_reach("#/reach/E01")
    seat.page.get_by_role("combobox", name="10 m of rg-213: type").select_option("rg-58")
    seat.page.get_by_role("combobox", name="10 m of rg-58: type").wait_for()
    assert entry(app, "run", "ears")["value"]["parts"][0]["type"] == "rg-58"


def test_an_antenna_is_moved_by_arrows_and_kept_when_let_go(at_reach, app):
    seat = at_reach("#/reach/L01")
    x, y = place_of(app, "quay-east")
    mast = seat.page.get_by_role("slider", name="Quay east")
    mast.focus()
    seat.press("ArrowRight", "ArrowRight", "ArrowUp", "Shift+ArrowUp")
    assert mast.get_attribute("aria-valuetext") == f"x {x + 1:g}, y {y + 0.6:g} m"
    seat.press("Enter")
    assert until(lambda: place_of(app, "quay-east") == [x + 1, y + 0.6])
    seat.settled()
    seat.press("Control+z")
    assert until(lambda: place_of(app, "quay-east") == [x, y])


def test_escape_puts_an_antenna_back_before_it_is_kept(at_reach, app):
    seat = at_reach("#/reach/L01")
    mast = seat.page.get_by_role("slider", name="Quay east")
    was = mast.get_attribute("aria-valuetext")
    seq = app.client().get("/api/job").json()["seq"]
    mast.focus()
    seat.press("ArrowRight")
    assert mast.get_attribute("aria-valuetext") != was
    seat.press("Escape")
    assert mast.get_attribute("aria-valuetext") == was
    seat.press("Enter")
    assert app.client().get("/api/job").json()["seq"] == seq


def test_an_antenna_is_dragged_by_pointer_and_the_map_follows(at_reach, app):
    seat = at_reach("#/reach/E03")
    line = seat.page.locator(".plan-line.is-limit")
    before = line.get_attribute("d")
    mast = seat.page.get_by_role("slider", name="In-ear mast")
    mast.scroll_into_view_if_needed()
    box = mast.locator(".plan-dot").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    seat.page.mouse.move(x, y)
    seat.page.mouse.down()
    seat.page.mouse.move(x + 10, y - 60, steps=4)
    seat.page.mouse.move(x + 20, y - 120, steps=4)
    held = mast.get_attribute("aria-valuetext")
    seat.page.mouse.up()
    at = [float(word) for word in held.removesuffix(" m").replace("x ", "").replace("y ", "").split(", ")]
    assert until(lambda: place_of(app, "ears-mast") == at)
    assert at[1] > 10
    seat.page.wait_for_function(
        "(was) => document.querySelector('.plan-line.is-limit')?.getAttribute('d') !== was", arg=before
    )
    link = next(one for one in document(app)["links"] if one["id"] == "E03")
    reserve = f"{abs(link['standing']['reserve_db']):.1f}"
    seat.page.locator(".chain-reserve > b", has_text=reserve).wait_for()


def limit_of(seat) -> str:
    """Return the line at just enough once it stands still in the page."""
    return seat.page.locator(".plan-line.is-limit").get_attribute("d")


def moved_from(seat, line: str) -> None:
    seat.page.wait_for_function(
        "(was) => document.querySelector('.plan-line.is-limit')?.getAttribute('d') !== was", arg=line
    )


def back_at(seat, line: str) -> None:
    seat.page.wait_for_function(
        "(was) => document.querySelector('.plan-line.is-limit')?.getAttribute('d') === was", arg=line
    )


def test_the_map_follows_an_antenna_under_the_hand_and_comes_back_when_it_is_not_kept(at_reach, app):
    seat = at_reach("#/reach/E03")
    before, place = limit_of(seat), place_of(app, "ears-mast")
    seq = app.client().get("/api/job").json()["seq"]
    worst = seat.page.locator(".plan-worst").text_content()
    mast = seat.page.get_by_role("slider", name="In-ear mast")
    mast.scroll_into_view_if_needed()
    box = mast.locator(".plan-dot").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    seat.page.mouse.move(x, y)
    seat.page.mouse.down()
    seat.page.mouse.move(x + 10, y - 90, steps=5)
    moved_from(seat, before)
    on_the_way = limit_of(seat)
    assert seat.page.locator(".plan-picture.is-old").count() == 0
    assert seat.page.locator(".plan-worst").text_content() != worst
    seat.page.mouse.move(x + 20, y - 180, steps=5)
    moved_from(seat, on_the_way)
    assert app.client().get("/api/job").json()["seq"] == seq
    mast.dispatch_event("pointercancel", {"pointerId": 1})
    back_at(seat, before)
    assert seat.page.locator(".plan-worst").text_content() == worst
    seat.page.mouse.up()
    assert place_of(app, "ears-mast") == place
    assert app.client().get("/api/job").json()["seq"] == seq


def test_the_map_in_hand_is_the_one_that_the_service_gives_for_that_spot(at_reach, app):
    seat = at_reach("#/reach/E03")
    mast = seat.page.get_by_role("slider", name="In-ear mast")
    mast.scroll_into_view_if_needed()
    box = mast.locator(".plan-dot").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    seat.page.mouse.move(x, y)
    seat.page.mouse.down()
    seat.page.mouse.move(x, y - 100, steps=5)
    held = mast.get_attribute("aria-valuetext").removesuffix(" m").replace("x ", "").replace("y ", "").split(", ")
    wish = {"link": "E03", "antenna": "ears-mast", "at_m": [float(word) for word in held]}
    found = app.client().post("/api/reach/preview", json=wish).json()
    told = f"E03 {found['worst']['reserve_db']:+.1f} dB".replace("-", "\u2212")
    seat.page.locator(".plan-worst", has_text=told).wait_for()
    seat.page.mouse.up()


def test_the_map_follows_an_antenna_that_arrows_move(at_reach, app):
    seat = at_reach("#/reach/E03")
    before = limit_of(seat)
    seat.page.get_by_role("slider", name="In-ear mast").focus()
    seat.page.evaluate(
        "() => { const send = WebSocket.prototype.send; window.said = []; WebSocket.prototype.send = function (text) "
        "{ window.said.push(text); return send.call(this, text); }; }"
    )
    seat.press("ArrowUp", "ArrowUp", "ArrowUp", "ArrowUp")
    moved_from(seat, before)
    asked = seat.page.evaluate("() => window.said.map((text) => JSON.parse(text))")
    x, _ = place_of(app, "ears-mast")
    assert {(one["type"], one["link"], one["antenna"]) for one in asked} == {("place", "E03", "ears-mast")}
    assert asked[0]["at_m"][0] == x


def test_without_a_socket_the_map_in_hand_comes_by_a_request(at_reach, app):
    seat = at_reach("#/reach/E03")
    before = limit_of(seat)
    asked = []
    seat.page.on("request", lambda request: asked.append(request.url))
    seat.page.evaluate("() => { WebSocket.prototype.send = () => {}; }")
    mast = seat.page.get_by_role("slider", name="In-ear mast")
    mast.scroll_into_view_if_needed()
    box = mast.locator(".plan-dot").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    seat.page.mouse.move(x, y)
    seat.page.mouse.down()
    seat.page.mouse.move(x, y - 100, steps=3)
    moved_from(seat, before)
    assert any(url.endswith("/api/reach/preview") for url in asked)
    seat.page.mouse.up()


# ----------------------------------------------------------------------------------------------- where nothing is


def test_without_a_plan_of_the_place_it_says_what_to_do_and_does_it(at_reach, app):
    client = app.client()
    for row in client.get("/api/brief").json()["entries"]:
        if row["kind"] == "link" and "zone" in row["value"]:
            change(app, "link", row["id"], zone=None)
    assert client.delete(f"/api/entries/{entry(app, 'area')['uid']}").status_code == 200
    seat = at_reach()
    seat.page.get_by_role("heading", name="No plan of the place yet").wait_for()
    assert seat.violations() == []
    seat.page.get_by_role("button", name="Begin with 24 by 16 m").click()
    seat.page.get_by_role("slider", name="Quay east").wait_for()
    assert until(lambda: entry(app, "area")["value"] == {"width_m": 24, "depth_m": 16})


def test_without_antennas_a_button_puts_one_on_the_plan(at_reach, app):
    client = app.client()
    for kind in ("run", "antenna"):
        while row := entry(app, kind):
            assert client.delete(f"/api/entries/{row['uid']}").status_code == 200
    seat = at_reach()
    seat.page.get_by_role("button", name="Put an antenna on the plan").click()
    seat.page.get_by_role("slider", name="Antenna 1").wait_for()
    assert until(lambda: (entry(app, "run") or {"value": {}})["value"].get("antenna") == entry(app, "antenna")["id"])
    assert place_of(app, entry(app, "antenna")["id"]) == [0, -6]


# ------------------------------------------------------------------------------------------------------- elsewhere


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [{"width": 1440, "height": 900}, PHONE], ids=["desk", "phone"])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(at_reach, theme, size):
    seat = at_reach("#/reach/L04", theme=theme, size=size)
    assert seat.violations() == []
    assert seat.page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0


def test_whoever_only_looks_moves_and_changes_nothing(sit, app):
    code = app.client().post("/api/pairing", json={"role": "look"}).json()["code"]
    paired = app.client(None).post("/api/pair", json={"code": code, "name": "tablet"})
    token = paired.cookies[f"bandwright-{app.port}"]
    seat = sit(token=token)
    seat.go("#/reach")
    seat.page.wait_for_selector(".plan-mast")
    assert seat.page.get_by_role("slider").count() == 0
    assert seat.page.locator(".way-fields").count() == 0


def test_ready_names_what_is_short_and_leads_here(sit, app):
    seat = sit(at=app)
    way = seat.page.get_by_role("link", name="Mend it: Strong")
    way.wait_for()
    assert "E03 In-ear mix C, barge falls short" in plain(seat.page.locator(".points").inner_text())
    way.click()
    seat.page.wait_for_selector(".chain h2")


def test_levels_stand_beside_khz_on_the_plan_page(sit, serve, demo_file, tmp_path):
    with serve(Path(shutil.copy(demo_file, tmp_path / "levels.bwjob"))) as app:
        for radio in ("heron", "dunlin"):
            change(app, "radio", radio, iip3_dbm=-15)
        client = app.client()
        assert client.post("/api/plan/run", json={"time_limit_s": 5}).status_code == 200
        assert until(lambda: client.get("/api/plan").json() is not None)
        placed = {
            one["id"]: one["carrier_to_interference"] for one in client.get("/api/plan").json()["document"]["links"]
        }
        told = {name for name, ratio in placed.items() if ratio is not None}
        assert told
        seat = sit(at=app)
        seat.go("#/plan")
        row = seat.page.locator(".plan-table tbody tr", has=seat.page.locator(".row-ratio"))
        row.first.wait_for()
        assert row.count() == len(told)
        name = sorted(told)[0]
        seat.page.locator(".plan-table").get_by_role("button", name=name).first.click()
        seat.page.locator(".hand dt", has_text="Carrier to interference").wait_for()
        seat.page.context.close()


def test_on_a_phone_a_link_that_is_picked_brings_its_chain_into_view(at_reach):
    seat = at_reach(size=PHONE)
    row = seat.page.locator(".margin").nth(3)
    link = row.locator(".margin-name b").inner_text()
    row.click()
    seat.page.locator("#chain-head", has_text=link).wait_for()
    seat.page.wait_for_function("() => document.querySelector('.chain').getBoundingClientRect().top < innerHeight / 2")


def test_an_in_ear_antenna_sends_and_does_not_hear(at_reach):
    seat = at_reach("#/reach/E03")
    told = plain(seat.page.locator(".place-told").inner_text())
    assert "dBm arrive" in told
    assert "hears" not in told
