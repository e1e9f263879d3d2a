"""Pictures of sweeps: what is in the air and how it went over time, as SVG or PNG."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from bandwright.core.air import AirReport
from bandwright.core.drawing import Drawing, stacked
from bandwright.core.job import Job
from bandwright.core.picture_air import air_picture
from bandwright.documents.faults import list_text
from bandwright.errors import InputError
from bandwright.service.newfile import check_new_file, write_new_file
from bandwright.sheets.palette import Theme
from bandwright.sheets.picture_pdf import picture_pdf
from bandwright.sheets.png import png
from bandwright.sheets.svg import svg

__all__ = ["check_map", "check_picture", "draw_reports", "write_map"]

_WRITERS: Mapping[str, Callable[[Drawing, Theme], bytes]] = {
    ".svg": lambda drawing, theme: svg(drawing, theme=theme).encode(errors="replace"),
    ".png": lambda drawing, theme: png(drawing, theme=theme),
}
_MAP_WRITERS: Mapping[str, Callable[[Sequence[Drawing]], bytes]] = {
    ".svg": lambda drawings: svg(stacked(*drawings)).encode(errors="replace"),
    ".png": lambda drawings: png(stacked(*drawings)),
    ".pdf": picture_pdf,
}
_MAP_FILE = {"what": "map", "otherwise": "--map map-2.svg", "elsewhere": "--map FOLDER/map.svg"}
_FILE = {"what": "picture", "otherwise": "--draw air-2.svg", "elsewhere": "--draw FOLDER/air.svg"}


def check_picture(path: Path, count: int) -> tuple[Path, ...]:
    """Return the files of so many pictures; raises InputError where one cannot be written under its name."""
    if path.suffix.lower() not in _WRITERS:
        raise InputError.single(
            "unknown-picture",
            f'"{path.name}" does not say which picture it is; it ends with {list_text(_WRITERS)}.',
            key="--draw",
            given=str(path),
            allowed=f"a new file that ends with {list_text(_WRITERS)}",
        )
    paths = (path, *(path.with_name(f"{path.stem}-{number}{path.suffix}") for number in range(2, count + 1)))
    for item in paths:
        check_new_file(item, **_FILE)
    return paths


def draw_reports(
    reports: Sequence[AirReport], path: Path, *, job: Job | None = None, theme: str = "auto"
) -> tuple[Path, ...]:
    """Write one picture for each report, the second under NAME-2, and return the files.

    `theme` is auto, light, dark or print; a PNG cannot follow its reader, so auto is light there.
    """
    paths = check_picture(path, len(reports))
    for report, item in zip(reports, paths, strict=True):
        data = _WRITERS[item.suffix.lower()](air_picture(report, job), Theme(theme))
        write_new_file(item, data, **_FILE)
    return paths


def check_map(path: Path) -> None:
    """Raise InputError where a map cannot be written under this name."""
    if path.suffix.lower() not in _MAP_WRITERS:
        raise InputError.single(
            "unknown-picture",
            f'"{path.name}" does not say which picture it is; it ends with {list_text(_MAP_WRITERS)}.',
            key="--map",
            given=str(path),
            allowed=f"a new file that ends with {list_text(_MAP_WRITERS)}",
        )
    check_new_file(path, **_MAP_FILE)


def write_map(drawings: Sequence[Drawing], path: Path, *, brief: Path) -> None:
    """Write maps of a plan as one file, in a PDF one to a page.

    Raises
    ------
    InputError
        When there are none because the brief has no plan of the place, or the file cannot be written under its name.
    """
    if not drawings:
        text = "the brief has no plan of the place, so that there is no map to draw."
        hint = "Add [area] with width_m and depth_m, and at_m to each [[antenna]]."
        raise InputError.single("no-area", text, file=str(brief), key="area", allowed="an [area]", hint=hint)
    write_new_file(path, _MAP_WRITERS[path.suffix.lower()](drawings), **_MAP_FILE)
