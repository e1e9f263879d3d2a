"""Kinds of companding of a radio type, tried with a sound at several RF levels, and files to listen to."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.kit import Link, RadioType
from bandwright.core.planning.plan import Warn
from bandwright.core.reach.link import LinkReach, link_reach
from bandwright.core.sound.comparing import (
    RATE_HZ,
    SECONDS,
    Compared,
    kinds_of,
    levels_for,
    material_for,
    why_not,
)
from bandwright.core.sound.material import Material, made
from bandwright.core.sound.recording import LONGEST_S, Prepared, Track, made_ready, prepared, tracks
from bandwright.core.sound.simulate import RfLevel
from bandwright.documents.outputs import Input, SoundCompareDocument, sound_compare_document
from bandwright.engines.prepare import prepare_sound
from bandwright.engines.sound_compare import ComparisonStep, compare_chains
from bandwright.errors import Cancelled, InputError, MachineError
from bandwright.readers import wav as wav_reader
from bandwright.reference import tables as reference
from bandwright.service.context import PREPARING, Context, Progress
from bandwright.service.inputs import input_of, load_brief
from bandwright.service.names import named
from bandwright.service.output import check_folder, write_folder
from bandwright.service.reach import EVERY_S
from bandwright.sheets.sound_compare_text import sound_compare_text
from bandwright.sheets.wav import wav

__all__ = ["OwnSound", "SoundCompared", "compare_in_job", "compare_sound", "levels_of", "read_recording", "subject_of"]

_MOST_BYTES = 128 * 2**20  # of a recording; 30 s of 96 kHz, 32 bits and 11 channels
_FILE_HZ = 48_000
_ELSEWHERE = "name another folder with --wav"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundCompared:
    """How kinds of companding carry a sound, with the inputs that it rests on."""

    compared: Compared
    inputs: tuple[Input, ...]
    warnings: tuple[Warn, ...]

    @property
    def exit_code(self) -> int:
        """How a command ends that shows this: 0, since a comparison has no wrong outcome."""
        return 0

    def document(self) -> SoundCompareDocument:
        """Return it as the JSON document."""
        return sound_compare_document(self.compared, inputs=self.inputs, warnings=self.warnings)

    def text(self, *, columns: int) -> str:
        """Return it for a terminal of so many columns."""
        return sound_compare_text(self.compared, notes=[item.text for item in self.warnings], columns=columns)

    def wavs(self) -> dict[str, bytes]:
        """Return what was sent and everything received as WAV files, by their names; empty where nothing was kept."""
        return {f"{track.name}.wav": wav(track.samples, rate_hz=_FILE_HZ) for track in self.compared.tracks}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnSound:
    """A recording of somebody's, by the name of its file."""

    name: str
    ready: Prepared


def compare_sound(
    context: Context,
    brief: Path,
    *,
    name: str,
    wav: Path | None = None,
    source_file: Path | None = None,
    material: str | None = None,
    walking: bool = False,
    seed: int = 1,
) -> SoundCompared:
    """Compare the kinds of companding that a radio type, or the type of a link, can be set to.

    Parameters
    ----------
    context
        Clock, progress and cancel.
    brief
        A brief or a job file.
    name
        A link, whose farthest point and source count, or a radio type.
    wav
        Where the sound sent and everything received go as files: a folder.
    source_file
        A WAV file to try instead of a sound of ours.
    material
        Which sound of ours: speech, sung, keys or clapper; None takes the one most like the source of the link.
    walking
        Whether the carrier fades at the farthest point as it does while somebody walks.
    seed
        Of our sound, of noise and of fading.

    Raises
    ------
    InputError
        When a file cannot be read, the name is unknown, or the type has nothing that can be compared.
    MachineError
        When a file cannot be written.
    Cancelled
        When somebody stopped it before any case was done.
    """
    if wav is not None:
        _check_files(wav, source_file)
    brought = load_brief(context, brief)
    recording = None if source_file is None else OwnSound(name=source_file.name, ready=_read(source_file))
    own = () if source_file is None else (input_of(source_file),)
    found = compare_in_job(
        context,
        brought.job,
        file=str(brief),
        inputs=(*brought.inputs, *own),
        name=name,
        recording=recording,
        material=material,
        walking=walking,
        seed=seed,
        keep_sounds=wav is not None,
    )
    if wav is not None and found.compared.tracks:
        write_folder(wav, found.wavs(), last="sent.wav", elsewhere=_ELSEWHERE)
    return found


def compare_in_job(
    context: Context,
    job: Job,
    *,
    file: str,
    inputs: tuple[Input, ...],
    name: str,
    recording: OwnSound | None = None,
    material: str | None = None,
    walking: bool = False,
    seed: int = 1,
    keep_sounds: bool = False,
) -> SoundCompared:
    """Compare the kinds of companding of a radio type or link as `compare_sound` does, in a job that is read already.

    `file` is what the brief is called in errors, `recording` somebody's own sound; with `keep_sounds` everything
    received is kept.

    Raises
    ------
    InputError
        When the name is unknown, or the type has nothing that can be compared.
    Cancelled
        When somebody stopped it before any case was done.
    """
    link, radio = subject_of(job, name, file=file)
    cn_db, levels = levels_of(job, link, radio, walking=walking)
    sound, ready = ("file", recording.ready) if recording is not None else _made(job, link, material, seed)
    kinds = kinds_of(radio, rate_hz=RATE_HZ)
    prepare_sound(lambda: context.progress(PREPARING))
    result = compare_chains(
        [kind.chain for kind in kinds],
        levels,
        ready.sound,
        seed=seed,
        keep_sounds=keep_sounds,
        progress=partial(_tell, context),
        cancelled=context.cancelled,
    )
    if not result.cases:
        raise Cancelled("Stopped before anything was compared.")
    whole = keep_sounds and result.found is not None
    compared = Compared(
        radio=radio.id,
        link=None if link is None else link.id,
        sound=sound,
        file=None if recording is None else recording.name,
        ready=ready,
        seed=seed,
        kinds=kinds,
        levels=levels,
        cases=result.cases,
        found=result.found,
        stopped=result.stopped,
        skipped=tuple(kind.name or "a kind without a name" for kind in radio.companding if kind.ratio is None),
        tracks=_named_for_files(tracks(ready, result.received, rate_hz=RATE_HZ, to_hz=_FILE_HZ)) if whole else (),
    )
    return SoundCompared(compared=compared, inputs=inputs, warnings=tuple(_warnings(compared, link, cn_db)))


def _check_files(folder: Path, source_file: Path | None) -> None:
    """Raise InputError where files cannot go into a folder, or might go over the recording that they come from."""
    check_folder(folder, elsewhere=_ELSEWHERE)
    if source_file is not None and source_file.resolve().parent == folder.resolve():
        text = f"{source_file.name} lies in this folder itself, and nothing is written beside it."
        raise InputError.single("same-folder", text, file=str(folder), key="--wav", hint="Name another folder.")


def subject_of(job: Job, name: str, *, file: str) -> tuple[Link | None, RadioType]:
    """Return the link that a name means, and its radio type; or the radio type alone.

    Raises
    ------
    InputError
        When nothing is called so, or the type has nothing that can be compared.
    """
    links = {link.id: link for link in job.links}
    link = links.get(name)
    known: dict[str, RadioType] = {radio.id: radio for radio in job.radios}
    known |= {one.id: one.radio for one in job.links}
    radio = named(name, known, what="radio or link", file=file)
    if reason := why_not(radio):
        hint = "Add companding = [{ name = ..., ratio = ... }] to a radio type that is FM in mono."
        raise InputError.single("nothing-to-compare", f"{reason}.", file=file, given=name, hint=hint)
    return link, radio


def levels_of(
    job: Job, link: Link | None, radio: RadioType, *, walking: bool
) -> tuple[float | None, tuple[RfLevel, ...]]:
    """Return how far a link is over the noise at its farthest point, where that is known, and the RF levels to try."""
    reached = None if link is None else _reached(job, link)
    cn_db = None if reached is None else reached.best.cn_db
    carrier_hz = _carrier_hz(radio) if reached is None else reached.facts.carrier_hz
    return cn_db, levels_for(cn_db, carrier_hz=carrier_hz, walking=walking)


def _reached(job: Job, link: Link) -> LinkReach:
    return link_reach(job, link, carriers={}, tables=reference.reach_tables(), every_s=EVERY_S)


def _carrier_hz(radio: RadioType) -> int:
    return min([item.low_hz for item in radio.tuning] + [item.carrier_hz for item in radio.presets])


def _made(job: Job, link: Link | None, material: str | None, seed: int) -> tuple[str, Prepared]:
    """Return a sound of ours with its name: the one asked for, or the one most like the source of the link."""
    if material is not None:
        chosen = named(material, {item.value: item for item in Material}, what="sound", file="--sound")
    else:
        sources = {source.id: source for source in job.sources}
        source = None if link is None or link.sound.source is None else sources.get(link.sound.source)
        chosen = material_for(None if source is None else source.kind)
    return chosen.value, made_ready(made(chosen, seconds=SECONDS, rate_hz=RATE_HZ, seed=seed), rate_hz=RATE_HZ)


def _read(path: Path) -> Prepared:
    name = str(path)
    if not path.is_file():
        raise InputError.single("no-file", "there is no WAV file here; check the path.", file=name)
    try:
        with path.open("rb") as file:
            data, size = file.read(_MOST_BYTES), path.stat().st_size
    except OSError as error:
        raise MachineError(f"{name}: the recording cannot be read: {error.strerror}.") from error
    return read_recording(data, size=size, name=name)


def read_recording(data: bytes, *, size: int, name: str) -> Prepared:
    """Return a WAV file, or the beginning of one that has `size` bytes, ready for a link.

    Raises
    ------
    InputError
        When it cannot be read, or nothing but silence is in it.
    """
    recording = wav_reader.parse(data, size=size, name=name, most_s=LONGEST_S)
    try:
        return prepared(recording, rate_hz=RATE_HZ)
    except ValueError as error:
        text = f"there is {error} in this recording; choose one with sound in it."
        raise InputError.single("silence", text, file=name) from error


def _tell(context: Context, step: ComparisonStep) -> None:
    context.progress(Progress(text=f"simulating: {step.cases} of {step.of} cases done", done=step.done))


def _named_for_files(found: tuple[Track, ...]) -> tuple[Track, ...]:
    """Return tracks under names that a file may have anywhere."""
    taken: dict[str, int] = {}
    out = []
    for track in found:
        plain = re.sub(r"[^A-Za-z0-9._-]+", "-", track.name).strip(".-") or "sound"
        taken[plain.lower()] = taken.get(plain.lower(), 0) + 1
        out.append(replace(track, name=plain if taken[plain.lower()] == 1 else f"{plain}-{taken[plain.lower()]}"))
    return tuple(out)


def _warnings(compared: Compared, link: Link | None, cn_db: float | None) -> list[Warn]:
    found = []
    if link is not None and cn_db is None:
        text = f"how far {link.id} is over the noise at its farthest point is not known; 25 dB counts meanwhile."
        found.append(Warn(code="cn-assumed", text=text, where=link.id))
    if compared.ready.cut:
        text = f"{compared.file} ends before it says; what it holds is taken."
        found.append(Warn(code="cut-off", text=text, where=compared.file))
    return found
