import pytest
from desks import context, desk_of, entry_named, planned_desk

from bandwright.errors import InputError
from bandwright.service.entries import remove_entry
from bandwright.service.history import events_of, redo, undo
from bandwright.service.job_sheets import sheet_file
from bandwright.service.note_words import notes_for_sheet
from bandwright.service.notes import NoteConflict, add_note, change_note, notes_of, remove_note
from bandwright.service.sheets import plan_into_folder

CREW = '[[link]]\nid = "M"\nname = "Chorus"\nradio = "heron"\ncount = 2\n'


@pytest.fixture
def desk(tmp_path):
    from brief_examples import SAMPLE

    with desk_of(tmp_path, SAMPLE + CREW) as found:
        yield found


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    with planned_desk(tmp_path_factory.mktemp("job")) as found:
        yield found


def texts(desk, **about):
    return [note.text for note in notes_of(desk, **about)]


def last_sentence(desk):
    return events_of(desk)[-1].what


def test_a_note_is_about_the_job_a_table_or_a_link_that_a_count_makes(desk):
    link, crew = entry_named(desk, "L01").uid, entry_named(desk, "M").uid
    add_note(desk, who="Ines", text="Load-in by the quay door")
    add_note(desk, who="Tom", text="spare pack in the drawer", about=link)
    assert last_sentence(desk) == "Noted of link L01 (Mara): spare pack in the drawer"
    add_note(desk, who="Tom", text="tight costume", about=f"{crew}.2")
    found = notes_of(desk)
    assert [(note.who, note.text, note.about, note.plan, note.subject, note.gone) for note in found] == [
        ("Ines", "Load-in by the quay door", None, None, None, False),
        ("Tom", "spare pack in the drawer", link, None, "link L01 (Mara)", False),
        ("Tom", "tight costume", f"{crew}.2", None, "link M.2 (Chorus 2)", False),
    ]
    assert texts(desk, about=link) == ["spare pack in the drawer"]
    assert texts(desk, about="another") == []


def test_a_note_is_about_a_plan_by_its_number(planned):
    with planned.lock:
        uid = add_note(planned, who="Ines", text="as agreed with the house", plan=1).uid
    (note,) = notes_of(planned, plan=1)
    assert (note.uid, note.plan, note.about, note.subject) == (uid, 1, None, "plan 1")
    remove_note(planned, uid, who="Ines")
    with pytest.raises(InputError, match="there is no plan 9 in this job") as told:
        add_note(planned, who="Ines", text="x", plan=9)
    assert told.value.faults[0].code == "no-such-plan"


def test_undo_and_redo_know_notes(desk):
    uid = add_note(desk, who="Ines", text="first").uid
    change_note(desk, uid, who="Ines", text="second", base=notes_of(desk)[0].revision)
    assert texts(desk) == ["second"]
    undo(desk, who="Ines")
    assert texts(desk) == ["first"]
    remove_note(desk, uid, who="Ines")
    assert last_sentence(desk) == "Removed a note: first"
    undo(desk, who="Ines")
    undo(desk, who="Ines")
    assert texts(desk) == []
    redo(desk, who="Ines")
    assert texts(desk) == ["first"]


def test_what_somebody_else_wrote_meanwhile_is_not_lost(desk):
    uid = add_note(desk, who="Ines", text="first").uid
    base = notes_of(desk)[0].revision
    change_note(desk, uid, who="Tom", text="Tom's", base=base)
    with pytest.raises(NoteConflict, match="This note was changed by Tom while you were writing") as told:
        change_note(desk, uid, who="Ines", text="Ines's", base=base)
    assert (told.value.yours, told.value.theirs) == ({"text": "Ines's"}, {"text": "Tom's"})
    change_note(desk, uid, who="Ines", text="Tom's", base=base)  # both wrote the same
    remove_note(desk, uid, who="Tom")
    with pytest.raises(NoteConflict, match="This note was removed by Tom") as told:
        change_note(desk, uid, who="Ines", text="Ines's", base=base)
    assert told.value.theirs is None


def test_a_note_stays_when_what_it_is_about_goes_and_says_so(desk):
    link = entry_named(desk, "L01").uid
    add_note(desk, who="Ines", text="keep the belt", about=link)
    remove_entry(desk, link, who="Ines")
    (note,) = notes_of(desk)
    assert (note.subject, note.gone) == ("link L01 (Mara)", True)
    assert notes_for_sheet(desk.file, plan=1) == ()
    undo(desk, who="Ines")
    assert not notes_of(desk)[0].gone


def test_lines_stay_and_what_cannot_be_printed_is_refused(desk):
    add_note(desk, who="Ines", text="  one\r\n\ttwo  words \n\n")
    assert texts(desk) == ["one\ntwo words"]
    for text in ("", " \n ", "x" * 2001, "bell \x07"):
        with pytest.raises(InputError, match=r"a note has 1 to 2000 letters that can be printed"):
            add_note(desk, who="Ines", text=text)
    with pytest.raises(InputError, match="There is nothing with this uid"):
        add_note(desk, who="Ines", text="x", about="nobody")
    with pytest.raises(InputError, match="somebody removed it"):
        remove_note(desk, "nobody", who="Ines")


def test_the_same_request_again_notes_once(desk):
    one = add_note(desk, who="Ines", text="once", client_key="k")
    two = add_note(desk, who="Ines", text="once", client_key="k")
    assert one.uid == two.uid
    assert texts(desk) == ["once"]


def test_notes_stand_on_the_sheet_in_order_and_hide_names_as_the_sheet_does(planned):
    link = entry_named(planned, "L01").uid
    add_note(planned, who="Ines", text="Mara likes the left belt", about=link)
    add_note(planned, who="Ines", text="Agreed with the house", plan=1)
    add_note(planned, who="Ines", text="Quay door closes at 23:00")
    assert notes_for_sheet(planned.file, plan=1) == (
        "Quay door closes at 23:00",
        "Agreed with the house",
        "L01: Mara likes the left belt",
    )
    assert notes_for_sheet(planned.file, plan=2) == ("Quay door closes at 23:00", "L01: Mara likes the left belt")
    html = sheet_file(planned, "sheet.html").data.decode()
    assert "L01: Mara likes the left belt" in html
    hidden = sheet_file(planned, "sheet.html", names="roles").data.decode()
    assert "Mara" not in hidden
    assert "likes the left belt" in hidden


def test_a_plan_of_a_job_file_made_by_a_command_has_them_on_its_sheet_too(desk, tmp_path):
    add_note(desk, who="Ines", text="Quay door closes at 23:00")
    path = desk.path
    desk.close()
    planned = plan_into_folder(context(), path, out=tmp_path / "out", time_limit_s=1)
    assert planned.notes == ("Quay door closes at 23:00",)
    assert "Quay door closes at 23:00" in (tmp_path / "out" / "sheet.html").read_text(encoding="utf-8")
