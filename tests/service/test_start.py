import errno
import os

import pytest

from bandwright.documents.brief import init_text
from bandwright.errors import InputError, MachineError
from bandwright.service import output
from bandwright.service.start import start_brief


def test_a_brief_to_start_from_is_written_whole(tmp_path):
    start_brief(tmp_path / "quay.toml")
    assert (tmp_path / "quay.toml").read_text(encoding="utf-8") == init_text()
    assert [path.name for path in tmp_path.iterdir()] == ["quay.toml"]


def test_folders_on_the_way_are_made(tmp_path):
    start_brief(tmp_path / "jobs" / "quay" / "brief.toml")
    assert (tmp_path / "jobs" / "quay" / "brief.toml").is_file()


@pytest.mark.parametrize("name", ["brief.toml", "folder"])
def test_what_is_there_already_is_never_touched(name, tmp_path):
    (tmp_path / "brief.toml").write_text("mine")
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="is there already and is not overwritten") as caught:
        start_brief(tmp_path / name)
    (fault,) = caught.value.faults
    assert (fault.code, fault.file) == ("exists", str(tmp_path / name))
    assert fault.hint is not None
    assert (tmp_path / "brief.toml").read_text() == "mine"


def test_a_link_that_leads_nowhere_is_not_written_through(tmp_path):
    (tmp_path / "brief.toml").symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(InputError, match="is there already"):
        start_brief(tmp_path / "brief.toml")
    assert not (tmp_path / "elsewhere.toml").exists()


@pytest.mark.parametrize("name", [".brief", ".."])
def test_a_name_that_no_file_should_have_is_refused(name, tmp_path):
    with pytest.raises(InputError):
        start_brief(tmp_path / name)


def test_a_file_in_the_place_of_a_folder_is_refused(tmp_path):
    (tmp_path / "file").write_text("mine")
    with pytest.raises(InputError, match="is a file; outputs need a folder"):
        start_brief(tmp_path / "file" / "brief.toml")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_is_the_fault_of_the_machine(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(MachineError, match="may not be written"):
        start_brief(tmp_path / "brief.toml")


def test_advice_for_a_brief_speaks_of_files_and_not_of_an_option_it_does_not_have(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "full")

    (tmp_path / "file").write_text("mine")
    with pytest.raises(InputError, match="Name a file in another folder: bandwright init") as caught:
        start_brief(tmp_path / "file" / "brief.toml")
    monkeypatch.setattr(output, "_write", full)
    with pytest.raises(MachineError, match="Free some space or name a file in another folder") as failed:
        start_brief(tmp_path / "brief.toml")
    assert "--out" not in f"{caught.value}{failed.value}"
