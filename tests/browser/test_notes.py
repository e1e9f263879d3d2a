"""Notes about the job and about one link: written, changed, taken away, brought back; two writers both see both."""

import pytest

PHONE = {"width": 390, "height": 844}


def notes_of(app) -> list[dict]:
    return app.client().get("/api/notes").json()["notes"]


def write(seat, text: str) -> None:
    seat.page.get_by_role("button", name="Write a note").click()
    seat.page.get_by_role("textbox", name="The note").fill(text)
    seat.press("Control+Enter")
    seat.page.locator(".notes li:not(.note-waiting)", has_text=text).wait_for()


def test_a_note_about_the_job_is_written_changed_removed_and_brought_back(sit, planned):
    seat = sit(at=planned)
    seat.page.get_by_text("Nothing noted about the job").wait_for()
    write(seat, "The loading door stays shut")
    assert [(note["text"], note["about"], note["who"]) for note in notes_of(planned)] == [
        ("The loading door stays shut", None, "laptop")
    ]
    seat.page.get_by_role("button", name="Change: The loading door").click()
    seat.page.get_by_role("textbox", name="The note").fill("The loading door stays open")
    seat.page.get_by_role("button", name="Keep it").click()
    seat.page.locator(".notes li", has_text="stays open").wait_for()
    seat.page.get_by_role("button", name="Remove: The loading door").click()
    seat.page.get_by_text("Nothing noted about the job").wait_for()
    assert notes_of(planned) == []
    seat.page.locator(".toast").get_by_role("button", name="Undo").click()
    seat.page.locator(".notes li", has_text="stays open").wait_for()
    assert [note["text"] for note in notes_of(planned)] == ["The loading door stays open"]


def test_a_note_about_a_link_stands_at_it_on_a_phone_on_the_plan_and_in_the_history(sit, planned):
    link = next(link for link in planned.client().get("/api/readiness").json()["links"]["all"] if link["id"] == "L03")
    phone = sit(at=planned, size=PHONE)
    phone.go(f"#/link/{link['uid']}")
    write(phone, "Sewn into the costume")
    assert [note["about"] for note in notes_of(planned)] == [link["uid"]]
    assert phone.violations() == []
    desk = sit(at=planned)
    desk.go("#/plan?link=L03")
    desk.page.locator(".hand .notes li", has_text="Sewn into the costume").wait_for()
    desk.go("#/history")
    row = desk.page.locator(".past-notes li", has_text="Sewn into the costume")
    assert row.get_by_role("link").get_attribute("href") == f"#/link/{link['uid']}"
    assert desk.violations() == []


def test_a_note_written_without_network_waits_and_counts_once(sit, planned):
    seat = sit(at=planned)
    seat.page.get_by_role("button", name="Write a note").wait_for()
    seat.page.context.set_offline(True)
    seat.page.get_by_role("button", name="Write a note").click()
    seat.page.get_by_role("textbox", name="The note").fill("Heard a hum at 18:10")
    seat.page.get_by_role("button", name="Keep it").click()
    seat.page.locator(".note-waiting", has_text="Heard a hum").wait_for()
    seat.page.context.set_offline(False)
    seat.page.locator(".note-waiting").wait_for(state="detached")
    seat.page.locator(".notes li", has_text="Heard a hum").wait_for()
    assert [note["text"] for note in notes_of(planned)] == ["Heard a hum at 18:10"]


def test_two_who_change_one_note_both_see_both_texts(sit, planned):
    planned.client().post("/api/notes", json={"text": "Call at seven"})
    one, two = sit(at=planned), sit(at=planned)
    for seat, text in ((one, "Call at eight"), (two, "Call at nine")):
        seat.page.get_by_role("button", name="Change: Call at seven").click()
        seat.page.get_by_role("textbox", name="The note").fill(text)
    one.page.get_by_role("button", name="Keep it").click()
    one.page.locator(".note-text", has_text="Call at eight").wait_for()
    two.page.get_by_role("button", name="Keep it").click()
    two.page.get_by_role("alert").get_by_text("Call at eight").wait_for()
    assert two.page.get_by_role("textbox", name="The note").input_value() == "Call at nine"
    two.page.get_by_role("button", name="Put mine").click()
    one.page.locator(".note-text", has_text="Call at nine").wait_for()
    assert [note["text"] for note in notes_of(planned)] == ["Call at nine"]


@pytest.mark.parametrize("size", [PHONE, {"width": 1440, "height": 900}], ids=["phone", "desk"])
def test_a_note_is_shown_as_it_was_written_and_never_run(sit, planned, size):
    text = "<b onclick=1>bold</b>\nsecond line"
    planned.client().post("/api/notes", json={"text": text})
    seat = sit(at=planned, size=size)
    note = seat.page.locator(".note-text")
    note.wait_for()
    assert note.inner_text() == text
