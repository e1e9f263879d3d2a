"""What a command is given: files read once, named and hashed, briefs and sweeps as values."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from bandwright import readers
from bandwright.core.artefacts import without_overload
from bandwright.core.job import Job
from bandwright.core.library import Library
from bandwright.core.planning.plan import Warn
from bandwright.core.rig import Response
from bandwright.core.sweep import Sweep
from bandwright.documents.brief import read_brief, read_kit
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.documents.outputs import Input
from bandwright.documents.sweep_note import SweepNote, read_stated, read_sweep_note
from bandwright.errors import InputError, MachineError
from bandwright.readers.networks import read_network
from bandwright.reference import tables as reference
from bandwright.service.context import Context, Progress
from bandwright.service.job_brief import brief_input, read_entries
from bandwright.service.kept import KeptSweep, is_job_file, kept_sweeps
from bandwright.service.note_words import notes_for_sheet
from bandwright.service.output import standing
from bandwright.store import JobFile

__all__ = [
    "Brought",
    "Output",
    "bandwidths_of",
    "input_of",
    "library_of",
    "load_brief",
    "load_sweep",
    "load_sweeps",
    "read_kept",
    "read_output",
    "read_text",
]

_MOST_BYTES = 16 * 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """A job as it was brought, the files it came from, and what a job file brings along: sweeps and notes."""

    job: Job
    inputs: tuple[Input, ...]
    sweeps: tuple[KeptSweep, ...] = ()
    notes: tuple[str, ...] = ()

    def sweeps_or(self, given: Sequence[Path]) -> Sequence[Path | KeptSweep]:
        """Return the sweeps that were named, or else those of the job file."""
        return given or self.sweeps


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """The text of a file that we, or others, wrote; and what a reader must know of the folder it was in."""

    text: str
    input: Input
    warnings: tuple[Warn, ...]


def read_output(path: Path, what: str) -> Output:
    """Return a text file that may lie in a folder of outputs; where a write was stopped half-way, as it was before.

    Raises
    ------
    InputError, MachineError
        As `read_text` does; and when all there is was written half-way.
    """
    found = standing(path)
    if found is None:
        text = f"a write was stopped half-way in this folder, and before it there was no {what}."
        hint = "Run the same bandwright plan again: it puts the folder in order first."
        raise InputError.single("half-written", text, file=str(path), hint=hint)
    text, own = _text_and_input(found, what)
    if found == path:
        return Output(text=text, input=own, warnings=())
    told = (
        f"A write was stopped half-way in {path.parent}; {path.name} is read as it was before. "
        "The next bandwright plan into it puts the folder in order."
    )
    as_named = Input(name=path.name, sha256=own.sha256)
    return Output(text=text, input=as_named, warnings=(Warn(code="half-written", text=told, where=str(path.parent)),))


def read_text(path: Path, what: str) -> str:
    """Return a text file; `what` names it in errors ("brief", "carriers").

    Raises
    ------
    InputError
        When there is no such file, it is a folder, too large, or no UTF-8 text.
    MachineError
        When the disk does not give it.
    """
    return _decoded(_bytes_of(path, what), path, what)


def _text_and_input(path: Path, what: str) -> tuple[str, Input]:
    """Return a text file, as `read_text` does, with its name and hash: read once, for a pipe gives nothing twice."""
    data = _bytes_of(path, what)
    return _decoded(data, path, what), Input(name=path.name, sha256=hashlib.sha256(data).hexdigest())


def _bytes_of(path: Path, what: str) -> bytes:
    name = str(path)
    if not path.exists():
        raise InputError.single("no-file", f"there is no {what} here; check the path.", file=name)
    if path.is_dir():
        raise InputError.single("folder", f"this is a folder; name the {what} file in it.", file=name)
    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)  # never all of what has no end
    except OSError as error:
        raise MachineError(f"{name}: the {what} cannot be read: {error.strerror}.") from error
    if len(data) > _MOST_BYTES:
        text = f"a {what} of more than {_MOST_BYTES // 2**20} MiB is not read; name the {what} itself."
        raise InputError.single("too-large", text, file=name)
    return data


def _decoded(data: bytes, path: Path, what: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        text = f"this is no UTF-8 text (byte {data[error.start]:#04x}); save the {what} as UTF-8."
        raise InputError.single("not-text", text, file=str(path), line=line) from error


def library_of(context: Context) -> Library:
    """Return everything a brief may call on by name: what is shipped, and the user's own kit files."""
    classes = reference.generic_classes()
    texts = list(reference.kit_files())
    if context.kit_folder is not None and context.kit_folder.is_dir():
        texts.extend((str(path), read_text(path, "kit file")) for path in sorted(context.kit_folder.glob("*.toml")))
    kit = tuple(radio for name, text in texts for radio in read_kit(text, file=name, classes=classes))
    return Library(
        classes=classes,
        kit=kit,
        rasters=reference.rasters(),
        rules=reference.rule_tables(),
        reach=reference.reach_tables(),
        sound=reference.sound_tables(),
    )


def load_brief(context: Context, path: Path) -> Brought:
    """Return the job of a brief, or of a job file, whatever its name; with everything that is wrong as an InputError.

    A job file counts as the brief it would be exported to, and brings its own sweeps along.
    """
    if is_job_file(path):
        return _load_job(context, path)
    text, own = _text_and_input(path, "brief")
    files = Beside(folder=path.parent)
    job = read_brief(text, file=str(path), library=replace(library_of(context), touchstone=files.response))
    return Brought(job=job, inputs=(own, *files.inputs))


@dataclass(slots=True, kw_only=True)
class Beside:
    """Touchstone files that a brief names, from its folder; `inputs` are those that were read."""

    folder: Path
    inputs: list[Input] = field(default_factory=list)

    def response(self, name: str, ports: int) -> Response:
        """Return what a file says of a device of so many ports; raises InputError as `read_network` does."""
        path = self.folder / name
        found = read_network(path, name=name, ports=ports)
        own = input_of(path)
        if own not in self.inputs:
            self.inputs.append(own)
        return found


def _load_job(context: Context, path: Path) -> Brought:
    with JobFile.open(path, read_only=True, now=context.now) as file, file.snapshot():
        brief = read_entries(file.entries(), seq=file.seq, file=str(path), library=library_of(context))
        own = brief_input(brief, path.name)
        notes = notes_for_sheet(file, plan=None)
        return Brought(job=brief.whole(), inputs=(own,), sweeps=tuple(kept_sweeps(file)), notes=notes)


def load_sweeps(
    context: Context, given: Sequence[Path | KeptSweep], job: Job, *, own_transmitters: str = "unknown"
) -> tuple[tuple[Sweep, ...], tuple[Input, ...]]:
    """Return the sweeps, read for the bandwidths of the job's radios, and their hashes.

    Each is given as FILE or, with the place where it was made, as PLACE=FILE; or it is one that a job file keeps.
    """
    found = [(None, item) if isinstance(item, KeptSweep) else _place_and_file(item, job) for item in given]
    places = [place.id for place in job.places]
    bandwidths = bandwidths_of(job)
    sweeps: list[Sweep] = []
    inputs: list[Input] = []
    for place, source in found:
        files: tuple[Input, ...]
        if isinstance(source, KeptSweep):
            sweep, files = read_kept(context, source, bandwidths_hz=bandwidths), (source.input,)
        else:
            sweep, files = load_sweep(context, source, bandwidths_hz=bandwidths, places=places)
        stated = None if own_transmitters == "unknown" else own_transmitters
        sweep = sweep.described(own_transmitters=stated, place=place)
        sweeps.append(sweep)
        inputs.extend((files[0].of_sweep(sweep), *files[1:]))
    return tuple(sweeps), tuple(inputs)


def load_sweep(
    context: Context,
    path: Path,
    *,
    bandwidths_hz: Sequence[int],
    places: Sequence[str] | None = None,
) -> tuple[Sweep, tuple[Input, ...]]:
    """Return a sweep with what a note beside it states, and the files that it stands on, its own first.

    The note of FILE is FILE.toml in the same folder. `places` are those that it may name (None: any).
    """
    beside = path.parent / f"{path.name}.toml"
    note = SweepNote()
    if beside.is_file() or beside.is_symlink():  # a link that leads nowhere is told, not passed over
        note = read_sweep_note(read_text(beside, "note on a sweep"), file=str(beside))
    if note.place is not None and places is not None and note.place not in places:
        raise InputError.single(
            "unknown-place",
            f'there is no place "{note.place}" in this brief; places: {list_text(places)}.',
            key="place",
            file=str(beside),
            given=note.place,
            allowed=list_text(places),
            hint=nearest_hint(note.place, places),
        )
    piped = hashlib.sha256()  # of a pipe, which cannot be read again
    sweep = _read_with_note(context, path, note, bandwidths_hz=bandwidths_hz, piped=piped.update)
    own = input_of(path) if path.is_file() else Input(name=path.name, sha256=piped.hexdigest())
    others = [*readers.other_files(path), *([beside] if beside.is_file() else [])]
    return sweep, (own.of_sweep(sweep), *map(input_of, others))


def _read_with_note(
    context: Context,
    path: Path,
    note: SweepNote,
    *,
    bandwidths_hz: Sequence[int],
    piped: Callable[[bytes], None] | None = None,
) -> Sweep:
    return without_overload(
        readers.read(
            path,
            piped=piped,
            bandwidths_hz=bandwidths_hz,
            trace=context.trace or note.trace,
            rbw_hz=note.rbw_khz,
            progress=lambda done: context.progress(Progress(text=f"reading {path.name}", done=done)),
            cancelled=context.cancelled,
        ).described(
            own_transmitters=note.own_transmitters,
            place=note.place,
            antenna=note.antenna,
            gain_ahead_db=note.gain_ahead_db,
            started=note.started,
        )
    )


def read_kept(context: Context, kept: KeptSweep, *, bandwidths_hz: Sequence[int]) -> Sweep:
    """Return a sweep that a job file keeps, with what is stated of it there."""
    note = read_stated(kept.stated, file=kept.name)
    with tempfile.TemporaryDirectory(prefix="bandwright-") as folder:
        path = Path(folder) / kept.name
        path.write_bytes(kept.data())
        return _read_with_note(context, path, note, bandwidths_hz=bandwidths_hz)


def bandwidths_of(job: Job) -> list[int]:
    """Return the bandwidths that sweeps are read for."""
    return sorted({link.radio.bandwidth_hz for link in job.links} | {radio.bandwidth_hz for radio in job.radios})


def _place_and_file(given: Path, job: Job) -> tuple[str | None, Path]:
    """Return place and file of PLACE=FILE; without a known place before the first "=" all of it is the file's name.

    Raises
    ------
    InputError
        When there is no such file and what stands before "=" could be meant as a place.
    """
    places = [place.id for place in job.places]
    name, equals, file = str(given).partition("=")
    if equals and name in places and not file:
        text = f'"{given}" names no file behind the place.'
        raise InputError.single("no-file", text, key="--sweep", given=str(given), allowed="PLACE=FILE")
    if equals and name in places:
        return name, Path(file).expanduser()  # shells put no home folder in place of ~ behind "="
    if equals and Path(name).name == name and not given.exists():
        raise InputError.single(
            "unknown-place",
            f'there is no place "{name}" in this brief, and no file "{given}"; places: {list_text(places)}.',
            key="--sweep",
            given=str(given),
            allowed=f"FILE, or PLACE=FILE with one of {list_text(places)}",
            hint=nearest_hint(name, places),
        )
    return None, given


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
