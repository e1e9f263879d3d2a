"""Check the types of the pages, as their comments state them: `python -m tools.check_pages`.

The pages are plain modules that a browser reads as they are; nothing is built. What the API answers is checked too, by
the types that `tools.make_api_types` makes of its description. This check is for developers only: it fetches the type
checker and the types of the vendored packages with npm into `build/`, in the versions below and in those of
`tools.vendor_assets`. Without npm it says so and ends well.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

from tools.generated import ROOT
from tools.make_api_types import TYPES
from tools.vendor_assets import PACKAGES, PAGES

__all__ = ["main"]

CHECKER = "typescript@7.0.2"
FOLDER = ROOT / "build" / "pages"
# vendored module -> what stands for it while types are checked: the declarations that its package brings
DECLARED = {
    "preact.js": 'export * from "preact";',
    "hooks.js": 'export * from "preact/hooks";',
    "signals.js": 'export * from "@preact/signals";',
    "uplot.js": 'export { default } from "uplot";',
    "htm.js": "declare const htm: { bind(h: unknown): (strings: TemplateStringsArray, ...values: any[]) => any };\n"
    "export default htm;",
}
OPTIONS = {
    "allowJs": True,
    "checkJs": True,
    "noEmit": True,
    "strict": True,
    "skipLibCheck": True,
    "target": "es2022",
    "module": "es2022",
    "moduleResolution": "bundler",
    "lib": ["es2022", "dom", "dom.iterable"],
    "types": [],
}


def main() -> None:
    """End with exit code 1 and the checker's list where a type does not fit."""
    npm, node = shutil.which("npm"), shutil.which("node")
    if npm is None or node is None:
        print("npm is not installed here: the types of the pages are not checked")
        return
    install(npm)
    lay_out()
    checker = FOLDER / "node_modules" / "typescript" / "bin" / "tsc"
    ended = subprocess.run([node, str(checker), "-p", str(FOLDER), "--pretty", "false"], check=False)
    sys.exit(ended.returncode)


def install(npm: str) -> None:
    """Bring the checker and the packages whose types are used, unless exactly these are there."""
    wanted = [CHECKER, *(f"{package.name}@{package.version}" for package in PACKAGES if package.folder == PAGES)]
    record = FOLDER / "installed.json"
    if record.exists() and json.loads(record.read_text(encoding="utf-8")) == wanted:
        return
    FOLDER.mkdir(parents=True, exist_ok=True)
    (FOLDER / "package.json").write_text("{}\n", encoding="utf-8")
    command = [npm, "install", "--silent", "--no-audit", "--no-fund", "--no-package-lock", "--ignore-scripts", *wanted]
    subprocess.run(command, check=True, cwd=FOLDER)
    record.write_text(json.dumps(wanted), encoding="utf-8")


def lay_out() -> None:
    """Copy the pages beside the packages and the types of the API; declarations take the place of vendored modules."""
    pages: Path = FOLDER / "static"
    shutil.rmtree(pages, ignore_errors=True)
    shutil.copytree(PAGES.parent, pages)
    for name in DECLARED | dict.fromkeys(path.name for path in PAGES.glob("*.js")):
        (pages / "vendor" / name).unlink()
    for name, text in DECLARED.items():
        (pages / "vendor" / name).with_suffix(".d.ts").write_text(f"{text}\n", encoding="utf-8")
    shutil.copy(TYPES, pages / TYPES.name)
    settings = {"compilerOptions": OPTIONS, "include": ["static/**/*.js"]}
    (FOLDER / "tsconfig.json").write_text(json.dumps(settings, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
