"""The user's own folders."""

from __future__ import annotations

from pathlib import Path

import pytest

from bandwright.service import folders


@pytest.fixture
def linux(monkeypatch):
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        monkeypatch.delenv(name, raising=False)


def test_without_variables_the_folders_are_where_the_xdg_base_directory_specification_says(linux, monkeypatch):
    # XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME is $HOME/.config, $XDG_STATE_HOME is $HOME/.local/state.
    monkeypatch.setenv("HOME", "/home/crew")
    assert folders.kit_folder() == Path("/home/crew/.config/bandwright/kit")
    assert folders.state_folder() == Path("/home/crew/.local/state/bandwright")


def test_an_absolute_variable_moves_the_folder_and_a_relative_one_is_ignored(linux, monkeypatch):
    # The same specification: "All paths set in these environment variables must be absolute", else ignored.
    monkeypatch.setenv("HOME", "/home/crew")
    monkeypatch.setenv("XDG_CONFIG_HOME", "/elsewhere")
    monkeypatch.setenv("XDG_STATE_HOME", "relative")
    assert folders.kit_folder() == Path("/elsewhere/bandwright/kit")
    assert folders.state_folder() == Path("/home/crew/.local/state/bandwright")


def test_without_a_home_there_is_no_folder(linux, monkeypatch):
    def no_home():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr("pathlib.Path.home", no_home)
    assert folders.kit_folder() is None
    assert folders.state_folder() is None
