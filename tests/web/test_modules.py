"""What a page of modules needs is named before a browser finds it by itself."""

from __future__ import annotations

import re

import pytest

from bandwright.web.assets import load_assets
from bandwright.web.modules import ENTRY, modules_of_pages, needed_by, one_sheet

TEXTS = {
    "app.js": 'import { a } from "./lib/a.js";\nimport "./lib/b.js";\n',
    "lib/a.js": '/** @typedef {import("./types.js").T} T */\nexport { b } from "./b.js";\nexport const a = 1;',
    "lib/b.js": 'import{c}from"../vendor/c.js";',
    "vendor/c.js": "export const c = 1",
    "lib/types.js": "export {};",
    "pages/index.js": '{ name: "plan", load: () => import("./plan.js") },\n',
    "pages/plan.js": 'import { a } from "../lib/a.js";\nimport { d } from "./plan/d.js";',
    "pages/plan/d.js": "",
}


def test_imports_are_followed_whatever_their_form_and_types_alone_are_none():
    assert needed_by(TEXTS, "app.js") == ("app.js", "lib/a.js", "lib/b.js", "vendor/c.js")


def test_of_a_page_only_what_is_not_there_already_is_named():
    assert modules_of_pages(TEXTS) == {"plan": ("pages/plan.js", "pages/plan/d.js")}


def test_an_import_of_what_is_not_there_is_an_error():
    with pytest.raises(KeyError, match="gone"):
        needed_by({"app.js": 'import "./gone.js";'}, "app.js")


def test_sheets_stand_in_the_place_of_their_imports():
    texts = {"css/all.css": '@import url("a.css");\n@import url("../vendor/v.css");\nb {}\n', "css/a.css": "a {}\n"}
    assert one_sheet({**texts, "vendor/v.css": "v {}"}, "css/all.css") == "a {}\nv {}\nb {}\n"
    with pytest.raises(ValueError, match=r"vendor/v\.css names files"):
        one_sheet({**texts, "vendor/v.css": "v { src: url(f) }"}, "css/all.css")


def test_the_shell_that_is_shipped_names_every_module_of_the_beginning_and_every_page():
    assets = load_assets()
    text = assets.shell.decode()
    scripts = {path: asset.data.decode() for path, asset in assets.files.items() if path.endswith(".js")}
    named = re.findall(rf'rel="modulepreload" href="/a/{assets.digest}/([^"]+)"', text)
    assert named == list(needed_by(scripts, ENTRY))
    pages = dict(re.findall(r'<meta name="modules-(\w+)" content="([^"]+)">', text))
    assert set(pages) == set(re.findall(r'name: "(\w+)"', scripts["pages/index.js"]))
    assert all(path in scripts for paths in pages.values() for path in paths.split())
    assert b"@import" not in assets.files["css/all.css"].data
