"""What works on this machine, and what to do about what does not."""

from __future__ import annotations

import platform
import shutil
import sys
import tempfile
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from importlib import metadata
from importlib.util import find_spec
from pathlib import Path

from bandwright import __version__
from bandwright.instruments.programs import PROGRAMS
from bandwright.kernels import jit
from bandwright.reference import kit_files, rasters, rule_tables
from bandwright.service.analysers import own_folder
from bandwright.service.context import Context
from bandwright.service.folders import kit_folder, state_folder
from bandwright.sheets.fonts import FOR_NAMES, Face, printable
from bandwright.sheets.terminal import wrapped

__all__ = ["Examination", "Finding", "State", "Terminal", "examine"]

# Names of people on a sheet, in letters beyond Latin-1.
NAMES = "Łukasz Nguyễn"
ROOM_NEEDED_BYTES = 200_000_000
OLDEST_PYTHON = (3, 11)


class State(StrEnum):
    """How one thing stands."""

    WORKS = "works"
    NOTE = "note"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that was looked at: `to_do` says what to do where it does not simply work."""

    about: str
    state: State
    text: str
    to_do: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Terminal:
    """What the face knows of the place where its text appears."""

    encoding: str
    is_terminal: bool
    colour_refused: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """All findings."""

    findings: tuple[Finding, ...]

    @property
    def ok(self) -> bool:
        """Whether nothing is broken; a note is no fault."""
        return all(finding.state is not State.BROKEN for finding in self.findings)

    def text(self, *, columns: int = 100) -> str:
        """Return the findings for a terminal of so many columns."""
        lines = []
        for finding in self.findings:
            lines += wrapped(finding.text, columns, first=f"{finding.state.value:<8}{finding.about:<20}")
            if finding.to_do:
                lines += wrapped(f"-> {finding.to_do}", columns, first=" " * 28)
        verdict = "Everything that is needed works." if self.ok else "Something is broken; see above."
        return "\n".join([*lines, "", verdict]) + "\n"


def examine(*, terminal: Terminal, folder: Path) -> Examination:
    """Look at everything Bandwright leans on; `folder` is where outputs would go."""
    checks: tuple[tuple[str, Callable[[], Finding]], ...] = (
        ("Python", _python),
        ("packages", _packages),
        ("kernel cache", _kernel_cache),
        ("kernels", _kernels),
        ("tables", _tables),
        ("fonts", _fonts),
        ("time zones", _time_zones),
        ("terminal", lambda: _terminal(terminal)),
        ("folder for outputs", lambda: _outputs(folder)),
        ("free disk", lambda: _room(folder)),
        ("own kit files", _own_kit),
        ("sources", _sources),
        ("reports", _reports),
    )
    return Examination(findings=tuple(_looked_at(about, check) for about, check in checks))


def _looked_at(about: str, check: Callable[[], Finding]) -> Finding:
    try:
        return check()
    except Exception as error:
        text = f"the look itself failed: {type(error).__name__}: {error}"
        return Finding(about=about, state=State.BROKEN, text=text, to_do="Install Bandwright again.")


def _python() -> Finding:
    text = f"Python {platform.python_version()} on {platform.system()} {platform.machine()}"
    if sys.version_info < OLDEST_PYTHON:
        return Finding(about="Python", state=State.BROKEN, text=text, to_do="Install Python 3.11 or later.")
    return Finding(about="Python", state=State.WORKS, text=text)


def _packages() -> Finding:
    found, missing = [f"bandwright {__version__}"], []
    for requirement in metadata.requires("bandwright") or ():
        if "extra ==" in requirement:
            continue
        name = requirement.partition(">")[0].strip()
        try:
            found.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            missing.append(name)
    if missing:
        text = f"missing: {', '.join(missing)}"
        return Finding(about="packages", state=State.BROKEN, text=text, to_do="Install Bandwright again.")
    return Finding(about="packages", state=State.WORKS, text=", ".join(found))


def _kernel_cache() -> Finding:
    if jit.uncompiled():
        return Finding(
            about="kernel cache",
            state=State.NOTE,
            text="not used: BANDWRIGHT_UNCOMPILED is set, kernels run as plain Python and slowly",
            to_do="Unset BANDWRIGHT_UNCOMPILED for planning.",
        )
    folder = jit.cache_folder()
    if folder is None:
        return Finding(
            about="kernel cache",
            state=State.NOTE,
            text="no folder can be written: kernels are compiled afresh at every start, which takes a while",
            to_do="Set BANDWRIGHT_CACHE to a folder you may write.",
        )
    return Finding(about="kernel cache", state=State.WORKS, text=f"{folder} can be written")


def _kernels() -> Finding:
    state = jit.cache_state()
    if state.compiled_files:
        return Finding(about="kernels", state=State.WORKS, text=f"prepared: {state.compiled_files} compiled files")
    if state.folder is None or jit.uncompiled():
        text = "none are kept; see kernel cache above"
        return Finding(about="kernels", state=State.NOTE, text=text, to_do="Plans work all the same, but start later.")
    text = "not prepared yet: the first plan prepares them, once"
    return Finding(about="kernels", state=State.NOTE, text=text, to_do="Make a plan once before the day.")


def _tables() -> Finding:
    counts = {"TV raster": len(rasters()), "rule table": len(rule_tables()), "kit file": len(kit_files())}
    text = ", ".join(f"{count} {what}{'' if count == 1 else 's'}" for what, count in counts.items())
    return Finding(about="tables", state=State.WORKS, text=text)


def _fonts() -> Finding:
    for face in FOR_NAMES:
        _, missing = printable(NAMES, face)
        if missing:
            text = f"{face.value} lacks {' '.join(sorted(missing))}"
            return Finding(about="fonts", state=State.BROKEN, text=text, to_do="Install Bandwright again.")
    return Finding(about="fonts", state=State.WORKS, text=f"{len(Face)} faces for sheets, bundled; they hold {NAMES}")


def _time_zones() -> Finding:
    zoneinfo.ZoneInfo("Europe/Lisbon")
    text = f"{len(zoneinfo.available_timezones())} time zones known"
    return Finding(about="time zones", state=State.WORKS, text=text)


def _terminal(terminal: Terminal) -> Finding:
    where = "a terminal" if terminal.is_terminal else "no terminal: plain text, no progress"
    text = f"{where}, {terminal.encoding}{', NO_COLOR' if terminal.colour_refused else ''}"
    try:
        NAMES.encode(terminal.encoding)
    except (UnicodeEncodeError, LookupError):
        return Finding(
            about="terminal",
            state=State.NOTE,
            text=f"{text}; it cannot show every letter, those become ? on screen (never in files)",
            to_do="Set a UTF-8 locale, such as LC_ALL=C.UTF-8.",
        )
    return Finding(about="terminal", state=State.WORKS, text=text)


def _outputs(folder: Path) -> Finding:
    if _writable(folder):
        return Finding(about="folder for outputs", state=State.WORKS, text=f"{folder} can be written")
    return Finding(
        about="folder for outputs",
        state=State.NOTE,
        text=f"{folder} cannot be written",
        to_do="Work in a folder of your own, or name one with --out.",
    )


def _room(folder: Path) -> Finding:
    free = shutil.disk_usage(folder).free
    text = f"{free // 1_000_000:,} MB free"
    if free < ROOM_NEEDED_BYTES:
        return Finding(about="free disk", state=State.BROKEN, text=text, to_do="Free at least 200 MB.")
    return Finding(about="free disk", state=State.WORKS, text=text)


def _own_kit() -> Finding:
    folder = kit_folder()
    if folder is None:
        text = "no home folder, so no kit files of your own"
        return Finding(about="own kit files", state=State.NOTE, text=text, to_do="Write radio types into the brief.")
    files = len(list(folder.glob("*.toml"))) if folder.is_dir() else 0
    return Finding(about="own kit files", state=State.WORKS, text=f"{files} in {folder}")


def _sources() -> Finding:
    there = {name: shutil.which(name) is not None for name in PROGRAMS}
    there["scpi (PyVISA)"] = all(find_spec(name) is not None for name in ("pyvisa", "pyvisa_py"))
    folder = own_folder(Context(kit_folder=kit_folder()))
    files = len(list(folder.glob("*.toml"))) if folder is not None and folder.is_dir() else 0
    text = ", ".join(f"{name} {'here' if found else 'missing'}" for name, found in there.items())
    if folder is not None:
        text += f"; {files} files on analysers in {folder}"
    if any(there.values()):
        return Finding(about="sources", state=State.WORKS, text=text)
    packages = ", ".join(f"apt install {program.package}" for program in PROGRAMS.values())
    to_do = f'To sweep from here: {packages}, or pip install "bandwright[instruments]".'
    return Finding(about="sources", state=State.NOTE, text=text, to_do=to_do)


def _reports() -> Finding:
    folder = state_folder()
    kept = len(list(folder.glob("bandwright-report-*.txt"))) if folder is not None and folder.is_dir() else 0
    if not kept:
        where = f"; the log is in {folder}" if folder is not None else "; no folder for a log"
        return Finding(about="reports", state=State.WORKS, text=f"no report of a mistake of ours{where}")
    text = f"{kept} about mistakes of ours in {folder}"
    return Finding(
        about="reports",
        state=State.NOTE,
        text=text,
        to_do="Send us what bandwright report makes of them, then delete them.",
    )


def _writable(folder: Path) -> bool:
    try:
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
