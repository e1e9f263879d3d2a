"""What the doctor finds on machines in a worse state than this one."""

from __future__ import annotations

from collections import namedtuple
from importlib import metadata
from pathlib import Path

import pytest

from bandwright.kernels import jit
from bandwright.service import doctor
from bandwright.service.doctor import State, Terminal

PLAIN = Terminal(encoding="utf-8", is_terminal=False, colour_refused=False)


def finding(about, *, terminal=PLAIN, folder):
    examination = doctor.examine(terminal=terminal, folder=folder)
    (found,) = (item for item in examination.findings if item.about == about)
    return examination, found


def test_a_missing_package_is_broken_and_named(monkeypatch, tmp_path):
    real = metadata.version

    def version(name):
        if name == "reportlab":
            raise metadata.PackageNotFoundError(name)
        return real(name)

    monkeypatch.setattr(metadata, "version", version)
    examination, found = finding("packages", folder=tmp_path)
    assert not examination.ok
    assert (found.state, found.text) == (State.BROKEN, "missing: reportlab")


def test_no_folder_for_kernels_is_a_note_with_the_variable_that_helps(monkeypatch, tmp_path):
    monkeypatch.setattr(jit, "cache_folder", lambda: None)
    monkeypatch.setattr(jit, "uncompiled", lambda: False)
    examination, found = finding("kernel cache", folder=tmp_path)
    assert examination.ok
    assert found.state is State.NOTE
    assert "BANDWRIGHT_CACHE" in found.to_do


def test_kernels_run_as_plain_python_are_a_note(monkeypatch, tmp_path):
    monkeypatch.setattr(jit, "uncompiled", lambda: True)
    _, found = finding("kernel cache", folder=tmp_path)
    assert found.state is State.NOTE
    assert "BANDWRIGHT_UNCOMPILED" in found.to_do


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "no-such-encoding"])
def test_a_terminal_that_lacks_letters_is_a_note(tmp_path, encoding):
    terminal = Terminal(encoding=encoding, is_terminal=True, colour_refused=True)
    _, found = finding("terminal", terminal=terminal, folder=tmp_path)
    assert found.state is State.NOTE
    assert "UTF-8" in found.to_do


def test_a_full_disk_is_broken(monkeypatch, tmp_path):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr("shutil.disk_usage", lambda _: usage(10**12, 10**12, 1_000_000))
    examination, found = finding("free disk", folder=tmp_path)
    assert not examination.ok
    assert (found.state, found.text) == (State.BROKEN, "1 MB free")


def test_a_folder_that_cannot_be_written_is_a_note(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("", encoding="utf-8")
    _, found = finding("folder for outputs", folder=blocked)
    assert found.state is State.NOTE
    assert "--out" in found.to_do


def test_unreadable_tables_are_broken_and_the_rest_is_still_looked_at(monkeypatch, tmp_path):
    def no_tables():
        raise FileNotFoundError("rules")

    monkeypatch.setattr(doctor, "rule_tables", no_tables)
    examination, found = finding("tables", folder=tmp_path)
    assert found.state is State.BROKEN
    assert "FileNotFoundError: rules" in found.text
    assert next(item for item in examination.findings if item.about == "time zones").state is State.WORKS


def test_a_report_of_ours_is_a_note(monkeypatch, tmp_path):
    (tmp_path / "bandwright-report-1.txt").write_text("", encoding="utf-8")
    monkeypatch.setattr(doctor, "state_folder", lambda: Path(tmp_path))
    _, found = finding("reports", folder=tmp_path)
    assert found.state is State.NOTE
    assert found.text.startswith("1 about mistakes of ours")


def test_sources_of_sweeps_are_named_and_where_none_is_there_what_to_install(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(doctor, "find_spec", lambda _: None)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    _, found = finding("sources", folder=tmp_path)
    assert found.state is State.NOTE
    assert found.text.startswith(
        "hackrf_sweep missing, rtl_power missing, scpi (PyVISA) missing; 0 files on analysers in "
    )
    assert found.to_do is not None
    assert "apt install hackrf, apt install rtl-sdr" in found.to_do
    monkeypatch.setattr(doctor, "find_spec", lambda name: name)
    assert finding("sources", folder=tmp_path)[1].state is State.WORKS
