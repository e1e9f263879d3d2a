"""The Sound page: what is wrong first, levels from mouth to recorder, what goes together, companding tried."""

import io
import wave

import numpy as np
import pytest

PHONE = {"width": 390, "height": 844}
RATE_HZ = 48_000


def sound(app) -> dict:
    return app.client().get("/api/sound").json()["document"]


def link(app, name: str) -> dict:
    return next(one for one in sound(app)["links"] if one["id"] == name)


def entries(app, kind: str) -> list[dict]:
    return [one for one in app.client().get("/api/brief").json()["entries"] if one["kind"] == kind]


def change(app, kind: str, label: str, **changes) -> None:
    row = next(one for one in entries(app, kind) if one["id"] == label)
    answer = app.client().patch(f"/api/entries/{row['uid']}", json={"base": row["revision"], "changes": changes})
    assert answer.status_code == 200, answer.text


def take(seconds: float = 0.3) -> dict:
    """Return a recording of a 1 kHz tone as a file that somebody picks."""
    at = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(np.rint(8000 * np.sin(2 * np.pi * 1000 * at)).astype("<i2").tobytes())
    return {"name": "take.wav", "mimeType": "audio/wav", "buffer": file.getvalue()}


def end(one: dict) -> str:
    return one["radio"] if one["kind"] is None else f"{one['radio']}: {one['kind']}"


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2212", "-").replace("\u2011", "-")


@pytest.fixture
def at_sound(sit):
    def open_page(label: str | None = None, **wishes):
        seat = sit(**wishes)
        seat.page.evaluate("(hash) => { location.hash = hash; }", "#/sound" if label is None else f"#/sound/{label}")
        seat.page.wait_for_selector("main .sound-line h2", state="attached")
        return seat

    return open_page


# ------------------------------------------------------------------------------------------------- what is told


def test_what_is_wrong_stands_first_with_its_fix_and_leads_to_the_cell(at_sound, app):
    seat = at_sound()
    wrong = [one for one in sound(app)["links"] if one["state"] == "wrong"]
    assert [one["id"] for one in wrong] == ["L08"]
    texts = [one["text"] for one in wrong[0]["ways"][0]["remarks"] if one["grade"] == "wrong"]
    mend = seat.page.locator(".sound-mend li")
    assert mend.count() == len(texts)
    assert texts[0] in plain(mend.first.inner_text())
    assert "1 link will sound wrong; how 5 others will sound cannot be told yet." in plain(
        seat.page.locator(".lead").inner_text()
    )
    top = [
        seat.page.locator(where).first.bounding_box()["y"] for where in (".sound-mend", ".sound-line", ".sound-matrix")
    ]
    assert top == sorted(top)
    mend.first.get_by_role("link", name="Pad").click()
    seat.page.wait_for_selector(".kit [data-field]:focus")
    assert seat.focus()["row"] == "barge-camera"
    assert seat.focus()["field"] == "pad_db"


def test_what_is_missing_names_the_links_and_leads_to_their_cells(at_sound, app):
    seat = at_sound()
    fill = seat.page.locator("section.sound-fill")
    assert "L09, H04, H05, T01, T02" in fill.inner_text()
    seat.page.locator(".sound-list a", has_text="H04").click()
    own = seat.page.locator(".sound-line .sound-fill")
    own.get_by_role("link", name="Source of H04: fill it in").click()
    seat.page.wait_for_selector(".kit [data-field]:focus")
    assert seat.focus()["row"] == "H04"
    assert seat.focus()["field"] == "source"


def test_gain_tone_and_margins_of_a_link_are_those_of_the_service(at_sound, app):
    seat = at_sound("L01")
    way = link(app, "L01")["ways"][0]
    gain = next(one for one in way["settings"] if one["what"] == "transmitter gain")
    assert plain(seat.page.locator(".sound-gain dd b").inner_text()) == f"{gain['recommended_db']:+d}"
    tones = [plain(text) for text in seat.page.locator(".lineup-tone b").all_inner_texts()]
    assert tones == [f"{one['tone']:.1f}" for one in way["points"]]
    facts = plain(seat.page.locator(".sound-line .facts").inner_text())
    assert f"{way['headroom_db']:.1f} dB" in facts
    assert f"{way['over_noise_db']:.1f} dB" in facts


def test_who_does_not_see_the_diagram_hears_the_same(at_sound, app):
    seat = at_sound("L08")
    rows = seat.page.locator(".lineup tbody tr")
    said = [plain(text) for text in rows.locator(".lineup-plot > .unseen").all_text_contents()]
    points = link(app, "L08")["ways"][0]["points"]
    assert len(said) == len(points)
    for text, point in zip(said, points, strict=True):
        for word, key in (("noise", "noise"), ("loudest", "loudest"), ("peak", "peak"), ("clips at", "clip")):
            assert point[key] is None or f"{word} {point[key]:.1f}" in text
    assert said[-1].endswith("the peak clips here")
    assert rows.last.get_attribute("class") == "lineup-over"


def test_where_the_peak_stands_against_the_ceiling_is_drawn_to_scale(at_sound, app):
    """Ten dB are as wide everywhere: the distances drawn are as those of the figures."""
    seat = at_sound("L01")
    points = {one["where"]: one for one in link(app, "L01")["ways"][0]["points"]}
    row = seat.page.locator(".lineup tbody tr").nth(list(points).index("transmitter"))
    left = {
        name: float(row.locator(f".lineup-{name}").get_attribute("style").partition("left:")[2].partition("%")[0])
        for name in ("noise", "quietest", "peak", "clip")
    }
    point = points["transmitter"]
    per_db = (left["peak"] - left["quietest"]) / (point["peak"] - point["quietest"])
    assert (left["clip"] - left["peak"]) / per_db == pytest.approx(point["clip"] - point["peak"], abs=0.05)
    assert (left["peak"] - left["noise"]) / per_db == pytest.approx(point["peak"] - point["noise"], abs=0.05)


def test_the_matrix_says_by_word_and_shape_what_goes_together_and_why_not(at_sound, app):
    seat = at_sound()
    words = {"same": "same", "compatible": "with a loss", "wrong": "wrong", "open": "not known"}
    pairs = {(end(pair["transmitter"]), end(pair["receiver"])): pair for pair in sound(app)["matrix"]}
    matrix = seat.page.locator(".sound-matrix")
    receivers = matrix.locator("thead th").all_inner_texts()
    told = {}
    for row in matrix.locator("tbody tr").all():
        sender = row.locator("th").inner_text().partition("\n")[0].strip()
        for receiver, cell in zip(receivers, row.locator("td").all(), strict=True):
            if cell.locator(".sound-cell").count() > 0:
                told[sender, receiver] = cell.inner_text().strip()
                assert cell.locator("svg.mark").count() == 1
    assert told == {key: words[pair["match"]] for key, pair in pairs.items()}
    pair = pairs["heron: full", "heron: flat"]
    matrix.locator("tbody tr", has_text="heron: full").locator("td").nth(receivers.index("heron: flat")).click()
    why = plain(matrix.locator(".sound-why").inner_text()).lower()
    assert pair["faults"][0].lower() in why
    assert pair["fix"].lower() in why


def test_delays_are_told_in_ms_samples_and_metres(at_sound, app):
    seat = at_sound()
    [choir] = sound(app)["together"]
    rows = [plain(text) for text in seat.page.locator(".sound-together tbody tr").all_inner_texts()]
    for text, member in zip(rows, choir["members"], strict=True):
        assert f"{member['early_ms']:.2f} ms" in text
        assert str(member["delay_samples"]) in text
        assert f"{member['delay_m']:.2f} m" in text
    assert "Never retune or switch a transmitter" in plain(seat.page.locator(".sound-ears").inner_text())


def test_before_there_are_links_the_page_says_what_to_do(at_sound, sit, app):
    for row in [row for kind in ("feed", "run", "area", "link") for row in entries(app, kind)]:  # they name links
        assert app.client().delete(f"/api/entries/{row['uid']}").status_code == 200
    seat = sit()
    seat.go("#/sound")
    seat.page.get_by_role("heading", name="There are no links yet").wait_for()
    assert seat.page.get_by_role("link", name="Write down the links").get_attribute("href") == "#/kit/link"


def test_without_companding_the_page_says_what_to_state(at_sound, app):
    change(app, "radio", "heron", companding=None)
    seat = at_sound()
    trial = plain(seat.page.locator(".sound-trial").inner_text())
    assert "heron states no kind of companding" in trial
    assert seat.page.get_by_role("button", name="Try the kinds").count() == 0


# ------------------------------------------------------------------------------------------------- what is tried


def test_a_recording_is_tried_and_heard_before_and_after(at_sound, app):
    seat = at_sound("L01")
    seat.page.locator(".sound-ask input[type=file]").set_input_files(take())
    seat.page.locator(".sound-ask option", has_text="take.wav").wait_for(state="attached")
    seat.page.wait_for_function("() => document.querySelectorAll('.sound-ask select')[1].value === 'file'")
    seat.page.get_by_role("button", name="Try the kinds").click()
    seat.page.locator(".sound-players").wait_for()
    tried = app.client().get("/api/sound/compare").json()["tried"]
    found = tried["document"]["found"]
    verdict = plain(seat.page.locator(".sound-found").inner_text())
    assert f"Found among 3 for L01, take.wav: {found['kind']}" in verdict
    assert f"{found['value_db']:.1f} dB" in verdict
    assert "best" not in verdict
    assert "listen at a low level first" in plain(seat.page.locator(".sound-cautions").inner_text())
    player = seat.page.locator("audio")
    assert player.get_attribute("src") == f"/api/sound/compare/wav/sent?run={tried['run']}"
    assert seat.page.evaluate("() => document.querySelector('audio').volume") == 0.25
    plays = seat.page.locator(".sound-after .sound-play")
    assert plays.count() == 9
    plays.nth(4).click()
    seat.page.wait_for_function("() => document.querySelector('audio').readyState >= 1")
    assert seat.page.evaluate("() => document.querySelector('audio').error") is None
    assert player.get_attribute("src") == f"/api/sound/compare/wav/soft-far?run={tried['run']}"
    assert plays.nth(4).get_attribute("aria-pressed") == "true"
    assert seat.page.evaluate("() => document.querySelector('audio').duration") == pytest.approx(0.3, abs=0.01)
    assert seat.violations() == []


def test_a_trial_shows_how_far_it_is_and_can_be_stopped(at_sound, app):
    seat = at_sound("L01")
    seat.page.get_by_role("button", name="Try the kinds").click()
    seat.page.locator(".sound-trial .running", has_text="cases done").wait_for()
    assert seat.page.get_by_role("button", name="Try the kinds").is_disabled()
    assert int(seat.page.get_by_role("progressbar").get_attribute("aria-valuenow")) <= 100
    seat.page.get_by_role("button", name="Stop").click()
    seat.page.locator(".sound-trial .running").wait_for(state="detached")
    assert "Stopped" in seat.page.locator(".sound-trial").inner_text()
    assert seat.page.locator(".sound-players").count() == 0


def test_a_file_that_is_no_recording_is_refused_in_words(at_sound):
    seat = at_sound("L01")
    seat.page.locator(".sound-ask input[type=file]").set_input_files(
        {"name": "take.wav", "mimeType": "audio/wav", "buffer": b"no sound at all"}
    )
    seat.page.get_by_text("this is no WAV file").wait_for()


# ------------------------------------------------------------------------------------------------- on a phone


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_on_a_phone_gain_and_tone_of_one_link_stand_in_large_type(at_sound, app, theme):
    seat = at_sound("L02", size=PHONE, theme=theme)
    size = "(one) => parseFloat(getComputedStyle(one).fontSize)"
    assert seat.page.locator(".sound-gain dd b").evaluate(size) >= 60
    assert seat.page.locator(".lineup-tone b").first.evaluate(size) >= 30
    assert seat.page.locator(".sound-matrix").is_hidden()
    assert seat.page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0
    assert seat.violations() == []
    seat.page.get_by_role("link", name="All links").click()
    seat.page.locator(".sound-list a", has_text="L08").wait_for()
    assert seat.page.locator(".sound-line").is_hidden()
    assert seat.violations() == []
