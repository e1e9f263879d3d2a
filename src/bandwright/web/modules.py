"""What a page of modules needs, found by reading its imports: so that a browser asks for all of it at once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from posixpath import dirname, join, normpath

__all__ = ["ENTRY", "PAGES", "modules_of_pages", "needed_by", "one_sheet"]

ENTRY = "app.js"
PAGES = "pages/index.js"

_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_IMPORT = re.compile(r'\b(?:from|import)\s*"(\.[^"]+)"')
_PAGE = re.compile(r'\{ name: "(\w+)".*import\("(\./\w+\.js)"\)')
_SHEET = re.compile(r'@import url\("([^"]+)"\);\n?')


def needed_by(texts: Mapping[str, str], *entries: str) -> tuple[str, ...]:
    """Return the paths of these modules and of all that they import, nearest first; `texts` holds each by its path.

    Raises
    ------
    KeyError
        When one imports what is not there.
    """
    found = dict.fromkeys(entries)
    waiting = list(entries)
    while waiting:
        path = waiting.pop(0)
        new = [near for near in _imports(path, texts[path]) if near not in found]
        found |= dict.fromkeys(new)
        waiting += new
    return tuple(found)


def modules_of_pages(texts: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Return the modules that each page needs beside those of the beginning, by the name of the page."""
    always = set(needed_by(texts, ENTRY))
    pages = {name: _beside(PAGES, path) for name, path in _PAGE.findall(texts[PAGES])}
    return {name: _without(needed_by(texts, path), always) for name, path in pages.items()}


def one_sheet(texts: Mapping[str, str], path: str) -> str:
    """Return a style sheet with those that it imports in their place.

    Raises
    ------
    ValueError
        When one of another folder names files by `url(...)`: they would be looked for beside the first.
    """

    def put(found: re.Match[str]) -> str:
        near = _beside(path, found[1])
        text = one_sheet(texts, near)
        if dirname(near) != dirname(path) and "url(" in text:
            raise ValueError(f"{near} names files and cannot stand in {path}")
        return f"{text.rstrip()}\n"

    return _SHEET.sub(put, texts[path])


def _imports(path: str, text: str) -> Iterator[str]:
    return (_beside(path, near) for near in _IMPORT.findall(_COMMENT.sub("", text)))


def _beside(path: str, near: str) -> str:
    return normpath(join(dirname(path), near))


def _without(paths: Iterable[str], known: set[str]) -> tuple[str, ...]:
    return tuple(path for path in paths if path not in known)
