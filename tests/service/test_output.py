"""A folder of outputs is written whole or not at all, whatever fails and whenever."""

import contextlib
import errno
import os
from pathlib import Path

import pytest

from bandwright.errors import BrokenPromise, InputError, MachineError
from bandwright.service import output
from bandwright.service.output import recover, standing, write_folder

OLD = {"carriers.csv": b"old carriers", "plan.json": b"old plan", "sweep.svg": b"old picture"}
NEW = {"carriers.csv": b"new carriers", "plan.json": b"new plan", "sheet.pdf": b"new sheet"}


def ours(name):
    return name in OLD or name in NEW


class PowerLoss(BaseException):
    """Ends the work without any cleaning up."""


def everything_in(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def fail_at(monkeypatch, number, error):
    """Make the given one of all file-system steps fail: making a file, forcing it to disk, renaming, removing."""
    count = iter(range(1, 1_000))

    def step(real):
        def wrapped(*args, **kwargs):
            if next(count) == number:
                raise error
            return real(*args, **kwargs)

        return wrapped

    for owner, name in [(Path, "open"), (os, "fsync"), (Path, "replace"), (Path, "unlink"), (Path, "read_bytes")]:
        monkeypatch.setattr(owner, name, step(getattr(owner, name)))


def steps_needed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("count")
    write_folder(folder, OLD, last="plan.json")
    with pytest.MonkeyPatch.context() as patch:
        seen = []
        for owner, name in [(Path, "open"), (os, "fsync"), (Path, "replace"), (Path, "unlink"), (Path, "read_bytes")]:
            real = getattr(owner, name)
            patch.setattr(
                owner, name, lambda *args, real=real, name=name, **kwargs: (seen.append(name), real(*args, **kwargs))[1]
            )
        write_folder(folder, NEW, last="plan.json", ours=ours)
    return len(seen)


def test_files_are_written_and_nothing_else_is_left(tmp_path):
    write_folder(tmp_path, NEW, last="plan.json")
    assert everything_in(tmp_path) == NEW


def test_existing_outputs_are_replaced_and_other_files_left_alone(tmp_path):
    (tmp_path / "my notes.txt").write_bytes(b"mine")
    write_folder(tmp_path, OLD, last="plan.json")
    write_folder(tmp_path, NEW, last="plan.json")
    assert everything_in(tmp_path) == {**OLD, **NEW, "my notes.txt": b"mine"}


def test_what_an_earlier_set_had_and_the_new_one_does_not_goes_away_with_it(tmp_path):
    (tmp_path / "my notes.txt").write_bytes(b"mine")
    (tmp_path / "sweep.svg").mkdir()
    write_folder(tmp_path, NEW, last="plan.json", ours=ours)
    assert (tmp_path / "sweep.svg").is_dir()
    (tmp_path / "sweep.svg").rmdir()
    write_folder(tmp_path, OLD, last="plan.json", ours=ours)
    assert everything_in(tmp_path) == {**OLD, "my notes.txt": b"mine"}
    write_folder(tmp_path, NEW, last="plan.json", ours=ours)
    assert everything_in(tmp_path) == {**NEW, "my notes.txt": b"mine"}


def test_who_reads_finds_the_whole_earlier_set_at_whatever_step_a_write_was_stopped(tmp_path_factory):
    names = sorted(OLD.keys() | NEW.keys())
    for number in range(1, steps_needed(tmp_path_factory) + 1):
        folder = tmp_path_factory.mktemp("read")
        write_folder(folder, OLD, last="plan.json")
        with pytest.MonkeyPatch.context() as patch:
            fail_at(patch, number, PowerLoss())
            patch.setattr(output, "recover", _dead)
            patch.setattr(output, "_in_words", _dead)
            with pytest.raises(PowerLoss):
                _put(folder)
        before = everything_in(folder)
        places = {name: standing(folder / name) for name in names}
        found = {name: place.read_bytes() for name, place in places.items() if place is not None and place.exists()}
        assert found in (OLD, NEW)
        assert everything_in(folder) == before


def _put(folder):
    """Write the new set into a folder that needs no repair, as `write_folder` does after `recover`."""
    order = [*sorted(name for name in NEW if name != "plan.json"), "plan.json"]
    output._put_in_place(folder, NEW, order, ["sweep.svg"])
    raise PowerLoss


def test_who_reads_finds_it_also_when_putting_back_was_stopped(tmp_path):
    (tmp_path / ".bandwright-undo").write_text('{"plan.json": true, "sheet.pdf": false}')
    (tmp_path / "plan.json").write_bytes(b"old plan")  # its copy was put back already
    (tmp_path / "sheet.pdf").write_bytes(b"half")
    (tmp_path / "my notes.txt").write_bytes(b"mine")
    assert standing(tmp_path / "plan.json") == tmp_path / "plan.json"
    assert standing(tmp_path / "sheet.pdf") is None
    assert standing(tmp_path / "my notes.txt") == tmp_path / "my notes.txt"


def test_a_missing_folder_is_made_with_its_parents(tmp_path):
    folder = tmp_path / "a" / "b"
    write_folder(folder, NEW, last="plan.json")
    assert everything_in(folder) == NEW


def test_the_plan_changes_last(tmp_path, monkeypatch):
    order = []
    real = Path.replace
    monkeypatch.setattr(Path, "replace", lambda path, to: (order.append(Path(to).name), real(path, to))[1])
    write_folder(tmp_path, NEW, last="plan.json")
    assert order[-1] == "plan.json"
    assert sorted(order[-3:]) == sorted(NEW)


def test_a_failure_at_any_step_leaves_what_was_there(tmp_path_factory):
    for number in range(1, steps_needed(tmp_path_factory) + 1):
        folder = tmp_path_factory.mktemp("failing")
        write_folder(folder, OLD, last="plan.json")
        with pytest.MonkeyPatch.context() as patch:
            fail_at(patch, number, OSError(errno.ENOSPC, "No space left on device"))
            try:
                write_folder(folder, NEW, last="plan.json", ours=ours)
            except MachineError as error:
                assert "the disk is full" in str(error)  # noqa: PT017 - a late failure does not raise
                expected = [OLD]
            else:
                expected = [NEW]
        recover(folder)
        assert everything_in(folder) in expected


def test_a_loss_of_power_at_any_step_leaves_one_whole_set(tmp_path_factory):
    for number in range(1, steps_needed(tmp_path_factory) + 1):
        folder = tmp_path_factory.mktemp("killed")
        write_folder(folder, OLD, last="plan.json")
        with pytest.MonkeyPatch.context() as patch:
            fail_at(patch, number, PowerLoss())
            patch.setattr(output, "_in_words", _dead)
            with pytest.raises(PowerLoss):
                write_folder(folder, NEW, last="plan.json", ours=ours)
        recover(folder)
        assert everything_in(folder) in (OLD, NEW)


def _dead(_):
    raise PowerLoss


def test_putting_back_can_itself_be_stopped_and_done_again(tmp_path_factory):
    for number in range(1, 12):
        folder = tmp_path_factory.mktemp("twice")
        write_folder(folder, OLD, last="plan.json")
        with pytest.MonkeyPatch.context() as patch:
            real = Path.replace
            patch.setattr(Path, "replace", lambda path, to, real=real: _unless_plan(real, path, to))
            patch.setattr(output, "_in_words", _dead)
            with pytest.raises(PowerLoss):
                write_folder(folder, NEW, last="plan.json", ours=ours)
        with pytest.MonkeyPatch.context() as patch:
            fail_at(patch, number, PowerLoss())
            with contextlib.suppress(PowerLoss):
                recover(folder)
        recover(folder)
        assert everything_in(folder) == OLD


def _unless_plan(real, path, to):
    if Path(to).name == "plan.json":
        raise PowerLoss
    return real(path, to)


def test_the_next_write_repairs_an_interrupted_one(tmp_path):
    write_folder(tmp_path, OLD, last="plan.json")
    (tmp_path / ".carriers.csv.bandwright-old").write_bytes(b"old carriers")
    (tmp_path / "carriers.csv").write_bytes(b"half")
    (tmp_path / "sheet.pdf").write_bytes(b"half")
    (tmp_path / ".bandwright-undo").write_text('{"carriers.csv": true, "sheet.pdf": false, "plan.json": true}')
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(output, "_put_in_place", lambda *_: (_ for _ in ()).throw(OSError(errno.EROFS, "read-only")))
        with pytest.raises(MachineError, match="the disk is read-only"):
            write_folder(tmp_path, NEW, last="plan.json")
    assert everything_in(tmp_path) == OLD


def test_recover_says_whether_there_was_anything_to_repair(tmp_path):
    assert recover(tmp_path) is False
    (tmp_path / ".bandwright-undo").write_text("{}")
    assert recover(tmp_path) is True
    assert recover(tmp_path / "not there") is False


def test_a_damaged_journal_is_told_in_words(tmp_path):
    (tmp_path / ".bandwright-undo").write_text("[")
    with pytest.raises(MachineError, match=r"its journal is damaged. Keep the files you trust"):
        write_folder(tmp_path, NEW, last="plan.json")


def test_leftovers_of_a_stopped_write_go_away(tmp_path):
    (tmp_path / ".plan.json.bandwright-new").write_bytes(b"half a pl")
    write_folder(tmp_path, NEW, last="plan.json")
    assert everything_in(tmp_path) == NEW


def test_a_folder_that_was_made_goes_away_again_when_nothing_could_be_written(tmp_path, monkeypatch):
    monkeypatch.setattr(output, "_write", lambda *_: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
    with pytest.raises(MachineError, match=r"the disk is full. Free some space or choose another folder with --out\."):
        write_folder(tmp_path / "a" / "b", NEW, last="plan.json")
    assert everything_in(tmp_path) == {}


def test_a_folder_that_may_not_be_written_is_told_in_words(tmp_path, monkeypatch):
    monkeypatch.setattr(output, "_write", lambda *_: (_ for _ in ()).throw(PermissionError(errno.EACCES, "denied")))
    with pytest.raises(MachineError) as caught:
        write_folder(tmp_path, NEW, last="plan.json")
    assert str(caught.value) == (
        f"Nothing was written to {tmp_path}: the folder may not be written. Choose another folder with --out."
    )


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(MachineError, match="the folder may not be written"):
        write_folder(tmp_path, NEW, last="plan.json")


def test_an_unknown_failure_uses_the_systems_own_words(tmp_path, monkeypatch):
    monkeypatch.setattr(output, "_write", lambda *_: (_ for _ in ()).throw(OSError(errno.EIO, "Input/output error")))
    with pytest.raises(MachineError, match="Input/output error"):
        write_folder(tmp_path, NEW, last="plan.json")


def test_when_even_putting_back_fails_that_is_said(tmp_path, monkeypatch):
    def broken(_):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(output, "recover", broken)
    with pytest.raises(
        MachineError, match=r"left half-written and could not be put back .* Run the same command again"
    ):
        write_folder(tmp_path, NEW, last="plan.json")


def test_a_file_in_place_of_the_folder_is_refused_in_words(tmp_path):
    (tmp_path / "out").write_bytes(b"a file")
    with pytest.raises(InputError, match=r"out is a file; outputs need a folder. Choose another folder with --out."):
        write_folder(tmp_path / "out", NEW, last="plan.json")
    with pytest.raises(InputError, match="out is a file"):
        write_folder(tmp_path / "out" / "deeper", NEW, last="plan.json")
    assert (tmp_path / "out").read_bytes() == b"a file"


def test_a_folder_in_place_of_a_file_is_refused_in_words(tmp_path):
    (tmp_path / "plan.json").mkdir()
    with pytest.raises(InputError, match="a file of that name is to be written there"):
        write_folder(tmp_path, NEW, last="plan.json")
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]


def test_cancelling_by_hand_leaves_what_was_there(tmp_path, monkeypatch):
    write_folder(tmp_path, OLD, last="plan.json")
    fail_at(monkeypatch, 9, KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path, NEW, last="plan.json")
    monkeypatch.undo()
    assert everything_in(tmp_path) == OLD


@pytest.mark.parametrize(("files", "last"), [(NEW, "other"), ({"../x": b""}, "../x"), ({".x": b""}, ".x")])
def test_our_own_mistakes_are_called_so(tmp_path, files, last):
    with pytest.raises(BrokenPromise):
        write_folder(tmp_path, files, last=last)
