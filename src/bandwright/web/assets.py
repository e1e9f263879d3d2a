"""The files of the pages: in memory, under one name that changes with any of them, so that they can be kept forever."""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from importlib import resources
from importlib.resources.abc import Traversable

from starlette.types import ASGIApp, Receive, Scope, Send

from bandwright.web.modules import ENTRY, modules_of_pages, needed_by, one_sheet

__all__ = ["KEPT_FOREVER", "Asset", "AssetFiles", "Assets", "load_assets"]

KEPT_FOREVER = "public, max-age=31536000, immutable"

_SHELL = "index.html"
_SHEET = "css/all.css"
_PLACE = b"__ASSETS__"
_PAGES = b"__PAGES__"
_MODULES = b"__MODULES__"
_TYPES = {
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".woff2": "font/woff2",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asset:
    """One file as it is sent."""

    data: bytes
    media_type: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Assets:
    """All files by their path, the digest of all, and the page that names them.

    Parameters
    ----------
    files
        Path with slashes, relative to the folder, to the file. Whatever is asked for is looked up here and nowhere
        else: no path leads out of the folder.
    """

    digest: str
    shell: bytes
    files: Mapping[str, Asset]


def load_assets(folder: Traversable | None = None) -> Assets:
    """Return all files of the pages; `folder` is another place to take them from.

    They are sent as they lie there, but for the style sheet of the shell, which holds those that it imports, and the
    shell itself, which names every module that a page will ask for.
    """
    root = resources.files("bandwright.web").joinpath("static") if folder is None else folder
    files = dict(sorted(_files(root, "")))
    texts = {path: asset.data.decode() for path, asset in files.items() if path.endswith((".js", ".css"))}
    if _SHEET in files:
        files[_SHEET] = replace(files[_SHEET], data=one_sheet(texts, _SHEET).encode())
    shell = files[_SHELL].data
    if ENTRY in files:
        shell = shell.replace(_PAGES, _pages(texts).encode()).replace(_MODULES, _modules(texts).encode())
    digest = hashlib.sha256()
    for path, asset in files.items():
        digest.update(f"{path}\0{len(asset.data)}\0".encode() + asset.data)
    name = digest.hexdigest()[:16]
    del files[_SHELL]
    return Assets(digest=name, shell=shell.replace(_PLACE, f"/a/{name}".encode()), files=files)


def _modules(texts: Mapping[str, str]) -> str:
    """Return the lines of the shell that name the modules which are needed on every page."""
    place = _PLACE.decode()
    return "\n".join(f'<link rel="modulepreload" href="{place}/{path}">' for path in needed_by(texts, ENTRY))


def _pages(texts: Mapping[str, str]) -> str:
    """Return the lines of the shell that name the modules which a page needs beside those."""
    pages = modules_of_pages(texts).items()
    return "\n".join(f'<meta name="modules-{name}" content="{" ".join(paths)}">' for name, paths in pages)


def _files(folder: Traversable, before: str) -> Iterator[tuple[str, Asset]]:
    for item in folder.iterdir():
        path = f"{before}{item.name}"
        if item.is_dir():
            yield from _files(item, f"{path}/")
        elif not item.name.startswith("."):
            yield path, Asset(data=item.read_bytes(), media_type=_media_type(item.name))


def _media_type(name: str) -> str:
    ending = f".{name.rpartition('.')[2]}"
    return _TYPES.get(ending) or mimetypes.guess_type(name)[0] or "application/octet-stream"


class AssetFiles:
    """Answers what asks for one of the files, before anything else sees it: a page asks for a hundred of them."""

    def __init__(self, assets: Assets, app: ASGIApp) -> None:
        self._app = app
        self._answers = {
            f"/a/{assets.digest}/{path}": (_head(asset), asset.data) for path, asset in assets.files.items()
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or let the application do it."""
        found = self._answers.get(scope["path"]) if scope["type"] == "http" and scope["method"] == "GET" else None
        if found is None:
            await self._app(scope, receive, send)
            return
        headers, data = found
        await send({"type": "http.response.start", "status": 200, "headers": list(headers)})
        await send({"type": "http.response.body", "body": data})


def _head(asset: Asset) -> tuple[tuple[bytes, bytes], ...]:
    told = {"content-type": asset.media_type, "content-length": str(len(asset.data)), "cache-control": KEPT_FOREVER}
    return tuple((name.encode(), value.encode()) for name, value in told.items())
