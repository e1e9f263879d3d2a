import pytest
from brief_examples import SAMPLE, job_of
from desks import desk_of, entry_named

from bandwright.errors import InputError
from bandwright.service.entries import add_entry, edit_entry, remove_entry
from bandwright.service.history import events_of, undo
from bandwright.service.versions import (
    keep_version,
    restore_version,
    version_difference,
    version_named,
    versions_of,
)


@pytest.fixture
def desk(tmp_path):
    with desk_of(tmp_path) as found:
        yield found


def edit(desk, named, **changes):
    entry = entry_named(desk, named)
    return edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes=changes)


def test_a_version_is_kept_compared_and_brought_back(desk):
    _, number = keep_version(desk, who="Ines", name=" as  rehearsed ")
    edit(desk, "L01", id="A1", hold_mhz="606.7", worn=None)
    remove_entry(desk, entry_named(desk, "house-talkback").uid, who="Ines")
    add_entry(desk, who="Ines", kind="link", value={"id": "L01", "radio": "heron"})
    found = version_difference(desk, number)
    assert [(line.text, line.kind, line.id) for line in found.lines] == [
        ("link L01 is called A1 now.", "link", "A1"),
        ('link A1: worn says nothing any more, and was "body".', "link", "A1"),
        ("link A1: hold_mhz is 606.7, and said nothing before.", "link", "A1"),
        ("link L01 is new.", "link", "L01"),
        ("other house-talkback is gone.", "other", "house-talkback"),
    ]
    done = restore_version(desk, number, who="Ines")
    assert done.what == 'Brought back version 1 "as rehearsed"'
    assert version_difference(desk, number).same
    assert desk.job() == job_of(SAMPLE)
    undo(desk, who="Ines")
    assert [link.id for link in desk.job().links] == ["A1", "L01"]


def test_two_versions_are_compared_with_each_other(desk):
    keep_version(desk, who="Ines", name="one")
    edit(desk, "L01", name="Ida")
    keep_version(desk, who="Ines", name="two")
    edit(desk, "L01", name="Ada")
    (line,) = version_difference(desk, 1, against=2).lines
    assert line.text == 'link L01: name was "Mara" and is "Ida".'
    assert [version.name for version in versions_of(desk)] == ["two", "one"]
    assert version_named(desk, 1).made_by == "Ines"


def test_ids_that_change_hands_are_brought_back(desk):
    add_entry(desk, who="Ines", kind="link", value={"id": "L02", "radio": "heron"})
    _, number = keep_version(desk, who="Ines", name="before")
    edit(desk, "L01", id="x")
    edit(desk, "L02", id="L01")
    edit(desk, "x", id="L02")
    restore_version(desk, number, who="Ines")
    assert version_difference(desk, number).same


def test_another_order_is_a_difference(desk):
    add_entry(desk, who="Ines", kind="link", value={"id": "L02", "radio": "heron"})
    keep_version(desk, who="Ines", name="a")
    from bandwright.service.entries import order_entries

    order_entries(desk, who="Ines", kind="link", uids=[entry_named(desk, "L02").uid])
    assert {line.text for line in version_difference(desk, 1).lines} == {
        "link L01 stands in another place.",
        "link L02 stands in another place.",
    }


@pytest.mark.parametrize("name", ["", "  ", "x" * 101])
def test_a_version_needs_a_name_on_one_line(desk, name):
    with pytest.raises(InputError, match="a version is called by 1 to 100 letters on one line"):
        keep_version(desk, who="Ines", name=name)


def test_an_unknown_version_is_refused_with_those_there_are(desk):
    with pytest.raises(InputError, match="there is no version 7 of this job") as caught:
        restore_version(desk, 7, who="Ines")
    assert (caught.value.faults[0].code, caught.value.faults[0].allowed) == ("no-such-version", "none yet")


def test_the_list_of_events_tells_who_did_what_to_which_kind_of_table(desk):
    before = desk.seq
    edit(desk, "L01", name="Ida")
    keep_version(desk, who="Tom", name="a")
    assert [(line.who, line.what, line.kind) for line in events_of(desk, after=before)] == [
        ("Ines", 'link L01 (Mara): name is "Ida"', "link"),
        ("Tom", 'Kept a version "a"', "version"),
    ]
