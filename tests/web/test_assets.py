"""The files of the pages."""

from __future__ import annotations

from bandwright.web.assets import load_assets


def test_the_name_of_all_changes_with_each_of_them(tmp_path):
    (tmp_path / "index.html").write_text('<script src="__ASSETS__/lib/app.js"></script>')
    (tmp_path / "lib").mkdir()
    (tmp_path / "lib" / "app.js").write_text("1")
    first = load_assets(tmp_path)
    assert first.shell == f'<script src="/a/{first.digest}/lib/app.js"></script>'.encode()
    assert first.files["lib/app.js"].media_type == "text/javascript; charset=utf-8"
    (tmp_path / "lib" / "app.js").write_text("2")
    assert load_assets(tmp_path).digest != first.digest


def test_the_pages_that_are_shipped_name_only_files_that_are_there():
    assets = load_assets()
    text = assets.shell.decode()
    named = [part.partition('"')[0] for part in text.split(f"/a/{assets.digest}/")[1:]]
    assert named
    assert set(named) <= set(assets.files)
    assert "<style" not in text
    assert "__ASSETS__" not in text
