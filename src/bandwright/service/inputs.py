"""What a command is given: files read once, named and hashed, briefs and sweeps as values."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bandwright import readers
from bandwright.core.job import Job
from bandwright.core.library import Library
from bandwright.core.sweep import Sweep
from bandwright.documents.brief import read_brief, read_kit
from bandwright.documents.outputs import Input
from bandwright.errors import InputError, MachineError
from bandwright.reference import tables as reference
from bandwright.service.context import Context, Progress

__all__ = ["Brought", "input_of", "load_brief", "load_sweeps", "read_text"]

_MOST_BYTES = 16 * 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """A job as it was brought, and the files it came from."""

    job: Job
    inputs: tuple[Input, ...]


def read_text(path: Path, what: str) -> str:
    """Return a text file; `what` names it in errors ("brief", "carriers").

    Raises
    ------
    InputError
        When there is no such file, it is a folder, too large, or no UTF-8 text.
    MachineError
        When the disk does not give it.
    """
    name = str(path)
    if not path.exists():
        raise InputError.single("no-file", f"there is no {what} here; check the path.", file=name)
    if path.is_dir():
        raise InputError.single("folder", f"this is a folder; name the {what} file in it.", file=name)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise MachineError(f"{name}: the {what} cannot be read: {error.strerror}.") from error
    if len(data) > _MOST_BYTES:
        text = f"a {what} of {len(data)} bytes is too large; at most {_MOST_BYTES} are read."
        raise InputError.single("too-large", text, file=name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        text = f"this is no UTF-8 text (byte {data[error.start]:#04x}); save the {what} as UTF-8."
        raise InputError.single("not-text", text, file=name, line=line) from error


def _library(context: Context) -> Library:
    """Return everything a brief may call on by name: what is shipped, and the user's own kit files."""
    classes = reference.generic_classes()
    texts = list(reference.kit_files())
    if context.kit_folder is not None and context.kit_folder.is_dir():
        texts.extend((str(path), read_text(path, "kit file")) for path in sorted(context.kit_folder.glob("*.toml")))
    kit = tuple(radio for name, text in texts for radio in read_kit(text, file=name, classes=classes))
    return Library(classes=classes, kit=kit, rasters=reference.rasters(), rules=reference.rule_tables())


def load_brief(context: Context, path: Path) -> Brought:
    """Return the job of a brief; raises InputError with everything that is wrong with it."""
    text = read_text(path, "brief")
    job = read_brief(text, file=str(path), library=_library(context))
    return Brought(job=job, inputs=(input_of(path),))


def load_sweeps(
    context: Context, paths: Sequence[Path], job: Job, *, own_transmitters: str = "unknown"
) -> tuple[tuple[Sweep, ...], tuple[Input, ...]]:
    """Return the sweeps, read for the bandwidths of the job's radios, and their hashes."""
    bandwidths = sorted({link.radio.bandwidth_hz for link in job.links} | {radio.bandwidth_hz for radio in job.radios})
    sweeps = []
    for path in paths:
        context.progress(Progress(text=f"reading {path.name}"))
        sweep = readers.read(path, bandwidths_hz=bandwidths, cancelled=context.cancelled)
        sweeps.append(sweep.described(own_transmitters=own_transmitters))
    return tuple(sweeps), tuple(input_of(path) for path in paths)


def input_of(path: Path) -> Input:
    """Return a file's name and hash."""
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while block := file.read(2**20):
                digest.update(block)
    except OSError as error:
        raise MachineError(f"{path}: cannot be read: {error.strerror}.") from error
    return Input(name=path.name, sha256=digest.hexdigest())
