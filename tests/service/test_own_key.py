"""The laptop's own key stays from run to run, and nobody else can read it."""

from __future__ import annotations

import os
import stat

import pytest

from bandwright.service import own_key as module
from bandwright.service.own_key import own_key


@pytest.fixture
def folder(monkeypatch, tmp_path):
    found = tmp_path / "state"
    monkeypatch.setattr(module, "state_folder", lambda: found)
    return found


def test_the_key_is_made_once_and_stays(folder):
    key = own_key()
    assert len(key) == 43
    assert own_key() == key
    assert [path.name for path in folder.iterdir()] == ["serve-key"]


@pytest.mark.skipif(os.name != "posix", reason="this system keeps rights in another way")
def test_only_the_user_may_read_it_and_one_that_others_could_read_is_replaced(folder):
    key = own_key()
    path = folder / "serve-key"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.chmod(0o644)
    assert own_key() != key
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("broken", [b"", b"short", b"\xff" * 43, b"x" * 44])
def test_what_is_no_key_is_replaced(folder, broken):
    folder.mkdir()
    (folder / "serve-key").write_bytes(broken)
    (folder / "serve-key").chmod(0o600)
    key = own_key()
    assert len(key) == 43
    assert own_key() == key


def test_without_a_folder_the_key_is_a_new_one_each_time(monkeypatch, tmp_path):
    monkeypatch.setattr(module, "state_folder", lambda: None)
    assert own_key() != own_key()
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(module, "state_folder", lambda: tmp_path / "file" / "below")
    assert own_key() != own_key()
