import json
import shutil

import pytest
from tools.vendor_assets import IMPORT, PAGES, TESTS, faults, rewritten


@pytest.mark.parametrize("folder", [PAGES, TESTS])
def test_what_stands_here_is_what_the_manifest_says(folder):
    assert list(faults(folder)) == []


def test_a_file_changed_by_hand_is_told(tmp_path):
    folder = tmp_path / "vendor"
    shutil.copytree(PAGES, folder)
    (folder / "htm.js").write_text("export default 1;\n")
    (folder / "stray.js").write_text("")
    (folder / "hooks.js").unlink()
    told = list(faults(folder))
    assert ["htm.js: changed by hand" in told[0], "stray.js: not in the manifest" in told[1]] == [True, True]
    assert [text.endswith("hooks.js: missing") for text in told[2:]] == [True]


def test_bare_imports_become_relative_and_source_maps_go():
    there = b"import{h as t}from\"preact\";export{a}from'@preact/signals-core';\n//# sourceMappingURL=x.js.map\n"
    assert rewritten("x.js", there) == b"import{h as t}from\"./preact.js\";export{a}from'./signals-core.js';\n"


def test_an_import_that_nothing_here_answers_is_refused():
    with pytest.raises(ValueError, match="imports 'elsewhere'"):
        rewritten("x.js", b'import x from "elsewhere";')


def test_nothing_here_imports_by_a_bare_name():
    bare = {path.name: found for path in PAGES.glob("*.js") if (found := IMPORT.findall(path.read_text()))}
    assert bare == {}


def test_every_licence_text_stands_beside_its_files():
    entries = json.loads((PAGES / "manifest.json").read_text())["files"]
    assert all((PAGES / entry["licence_text"]).stat().st_size > 500 for entry in entries)
    assert {entry["licence"] for entry in entries} == {"Apache-2.0", "MIT", "OFL-1.1"}
