"""Take what the pages use from other projects into the repository: `python -m tools.vendor_assets [--check]`.

Without an option the packages are fetched with `npm pack` in the pinned versions, the files wanted are taken out of
them and written, with bare imports made relative (a strict content security policy forbids import maps in the page)
and references to source maps left out. The manifest beside them holds package, version, licence and two SHA-256 sums
of each file: as its package has it and as it stands here. `--check` needs no network: it holds every file against the
manifest. Only a developer needs npm, and only to renew a version; for the faces also fonttools with woff2
(`pip install "fonttools[woff]"`), which leaves out the weights that no page uses.
"""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from tools.generated import ROOT

__all__ = ["PACKAGES", "Package", "faults", "main", "rewritten"]

PAGES = ROOT / "src" / "bandwright" / "web" / "static" / "vendor"
TESTS = ROOT / "tests" / "browser" / "vendor"
MANIFEST = "manifest.json"


class Package(NamedTuple):
    """One package: which version, under which licence, and its files (name there -> name here)."""

    name: str
    version: str
    licence: str
    folder: Path
    files: dict[str, str]


# Greek and Cyrillic come from the face of the system: every system has one, and 63 kB are saved
FACES = {
    f"files/roboto-{part}-wdth-normal.woff2": f"roboto-{part}.woff2" for part in ("latin", "latin-ext", "vietnamese")
}
PACKAGES = (
    Package("preact", "11.2.0", "MIT", PAGES, {"dist/preact.mjs": "preact.js", "hooks/dist/hooks.mjs": "hooks.js"}),
    Package("htm", "3.1.1", "Apache-2.0", PAGES, {"dist/htm.mjs": "htm.js"}),
    Package("@preact/signals-core", "1.14.5", "MIT", PAGES, {"dist/signals-core.mjs": "signals-core.js"}),
    Package("@preact/signals", "2.11.4", "MIT", PAGES, {"dist/signals.mjs": "signals.js"}),
    Package("uplot", "1.6.32", "MIT", PAGES, {"dist/uPlot.iife.min.js": "uplot.js", "dist/uPlot.min.css": "uplot.css"}),
    Package("@fontsource-variable/roboto", "5.3.0", "OFL-1.1", PAGES, FACES),
    Package("axe-core", "4.14.1", "MPL-2.0", TESTS, {"axe.min.js": "axe.min.js"}),
)
WEIGHTS = "wght=400:800"
# what a package calls another one in an import -> the file of it that stands here
IMPORTS = {
    "preact": "./preact.js",
    "preact/hooks": "./hooks.js",
    "@preact/signals-core": "./signals-core.js",
}
# a file that is no module but leaves one name behind -> that name, exported
EXPORTS = {"uplot.js": "uPlot"}
IMPORT = re.compile(r"""(\bfrom|\bimport)\s*(["'])([@a-z][\w@/.-]*)\2""")
SOURCE_MAP = re.compile(r"^//# sourceMappingURL=.*\n?", re.MULTILINE)


def main() -> None:
    """Write the files and manifests, or check them."""
    if "--check" in sys.argv[1:]:
        wrong = [fault for folder in (PAGES, TESTS) for fault in faults(folder)]
        if wrong:
            sys.exit("\n".join(wrong))
        return
    for folder in (PAGES, TESTS):
        write(folder, [package for package in PACKAGES if package.folder == folder])


def faults(folder: Path) -> Iterator[str]:
    """Yield a sentence for every file that is not what the manifest says, and for every one it does not know."""
    entries = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))["files"]
    known = {entry["file"]: entry["sha256"] for entry in entries}
    licences = {entry["licence_text"] for entry in entries}
    for name in sorted(
        {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} - {MANIFEST}
    ):
        if name in licences:
            continue
        if name not in known:
            yield f"{folder / name}: not in the manifest; run `python -m tools.vendor_assets`"
        elif digest((folder / name).read_bytes()) != known[name]:
            yield f"{folder / name}: changed by hand; run `python -m tools.vendor_assets`, and change nothing here"
    yield from (
        f"{folder / name}: missing" for name in sorted(known | dict.fromkeys(licences)) if not (folder / name).is_file()
    )


def write(folder: Path, packages: list[Package]) -> None:
    """Fetch the packages and write their files, their licences and the manifest."""
    entries = []
    for package in packages:
        held = fetched(package)
        text = f"licences/{package.name.strip('@').replace('/', '-')}.txt"
        (folder / "licences").mkdir(parents=True, exist_ok=True)
        (folder / text).write_bytes(held["LICENSE"])
        for there, here in package.files.items():
            (folder / here).write_bytes(made := as_here(here, held[there]))
            entries.append(
                {
                    "file": here,
                    "package": package.name,
                    "version": package.version,
                    "from": there,
                    "licence": package.licence,
                    "licence_text": text,
                    "sha256_there": digest(held[there]),
                    "sha256": digest(made),
                }
            )
    (folder / MANIFEST).write_text(json.dumps({"files": entries}, indent=1) + "\n", encoding="utf-8")


def fetched(package: Package) -> dict[str, bytes]:
    """Return the files of a package by their names in it, as npm brings it."""
    with tempfile.TemporaryDirectory() as folder:
        command = ["npm", "pack", "--silent", "--pack-destination", folder, f"{package.name}@{package.version}"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        (archive,) = Path(folder).glob("*.tgz")
        with tarfile.open(archive) as held:
            return {
                member.name.partition("/")[2]: stream.read()
                for member in held.getmembers()
                if member.isfile() and (stream := held.extractfile(member)) is not None
            }


def as_here(name: str, data: bytes) -> bytes:
    """Return a file of a package as it stands here."""
    return trimmed(data) if name.endswith(".woff2") else rewritten(name, data)


def trimmed(data: bytes) -> bytes:
    """Return a variable face with only the weights that the pages use, and without hints.

    Screens are fine enough by now, and most systems pass over what a face says of its pixels.
    """
    with tempfile.TemporaryDirectory() as folder:
        whole, part = Path(folder) / "whole.woff2", Path(folder) / "part.woff2"
        whole.write_bytes(data)
        tools = [sys.executable, "-m", "fontTools"]
        less = [
            *tools,
            "varLib.instancer",
            str(whole),
            WEIGHTS,
            "--no-recalc-timestamp",
            "--quiet",
            "--output",
            str(part),
        ]
        subprocess.run(less, check=True)
        kept = ["--glyphs=*", "--unicodes=*", "--layout-features=*", "--name-IDs=*", "--no-hinting", "--flavor=woff2"]
        subprocess.run([*tools, "subset", str(part), *kept, f"--output-file={whole}"], check=True)
        return whole.read_bytes()


def rewritten(name: str, data: bytes) -> bytes:
    """Return a file as it stands here: an ES module with relative imports and no source map; any other unchanged.

    Raises
    ------
    ValueError
        For an import that no file here answers.
    """
    if not name.endswith(".js") or name.endswith(".min.js"):
        return data
    text = SOURCE_MAP.sub("", data.decode("utf-8"))

    def relative(found: re.Match[str]) -> str:
        if found[3] not in IMPORTS:
            raise ValueError(f"{name} imports {found[3]!r}; say in IMPORTS which file here that is")
        return f"{found[1]}{found[2]}{IMPORTS[found[3]]}{found[2]}"

    made = IMPORT.sub(relative, text)
    if name in EXPORTS:
        made = f"{made.rstrip()}\nexport default {EXPORTS[name]};\n"
    return made.encode("utf-8")


def digest(data: bytes) -> str:
    """Return the SHA-256 of some bytes, as lower-case hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


if __name__ == "__main__":
    main()
