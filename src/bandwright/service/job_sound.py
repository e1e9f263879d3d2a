"""How the links of an open job sound, and kinds of companding tried with a sound, beside whoever serves pages."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from bandwright.core.job import Job
from bandwright.core.readiness_facts import SoundFacts
from bandwright.core.sound.comparing import why_not
from bandwright.core.sound.remarks import Grade
from bandwright.core.sound.report import LinkReport, SoundReport, State, report_on
from bandwright.documents.outputs import Input, SoundCompareDocument, SoundDocument, sound_document
from bandwright.errors import InputError
from bandwright.reference import tables as reference
from bandwright.service.context import Context, Progress
from bandwright.service.desk import Desk
from bandwright.service.job_brief import brief_input
from bandwright.service.runs import RunState, Work, run_of, start_run
from bandwright.service.sound_compare import OwnSound, compare_in_job, levels_of, read_recording, subject_of

__all__ = [
    "MOST_RECORDING_BYTES",
    "Bench",
    "Comparable",
    "HeardFile",
    "RecordingLine",
    "SoundNow",
    "Tried",
    "bench_of",
    "forget_recording",
    "heard_file",
    "keep_recording",
    "run_compare",
    "sound_facts",
    "sound_now",
]

MOST_RECORDING_BYTES = 24 * 2**20
"""Of a recording: 30 s of stereo at 96 kHz and 32 bits."""

_MOST_KEPT_BYTES = 64 * 2**20
_LEVELS_FIRST = ("far", "limit", "near")
_FILE = "file"


# ------------------------------------------------------------------------------------------------- how links sound


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparable:
    """A radio type whose kinds of companding can be tried; else `why_not` says what is missing."""

    radio: str
    kinds: int
    why_not: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundNow:
    """How the links of the job sound now, and which radio types can be compared."""

    document: SoundDocument
    comparable: tuple[Comparable, ...]


def sound_now(desk: Desk) -> SoundNow:
    """Return how the links of the job sound.

    Raises
    ------
    CellFaults
        When the brief is not one that can be planned.
    """
    brief = desk.brief()
    job, report = brief.whole(), _report(desk)
    radios = {link.radio.id: link.radio for link in job.links}
    return SoundNow(
        document=sound_document(report, inputs=(brief_input(brief, desk.path.name),), warnings=()),
        comparable=tuple(
            Comparable(radio=radio.id, kinds=len(radio.companding), why_not=why_not(radio)) for radio in radios.values()
        ),
    )


def _report(desk: Desk) -> SoundReport:
    job = desk.job()
    make = partial(report_on, job, job.links, reference.sound_tables())
    return desk.keep_apart("sound", desk.file.seq_of("entry"), make)


def sound_facts(desk: Desk) -> SoundFacts | None:
    """Return what is known of how links sound; None where the brief says nothing of it."""
    job = desk.brief().job
    if job is None or not job.links or not _is_stated(job):
        return None
    report = _report(desk)
    wrong = [item for item in report.links if item.state is State.WRONG]
    clocks = [clock.device for clock in report.clocks if clock.one is False]
    reasons = [_reason(item) for item in wrong[:1]]
    reasons += [f"two clocks meet in {device}" for device in clocks]
    return SoundFacts(
        fits=sum(item.state in (State.FITS, State.CAUTION) for item in report.links),
        cautions=tuple(_called(item) for item in report.links if item.state is State.CAUTION),
        wrong=tuple(map(_called, wrong)),
        untold=tuple(_called(item) for item in report.links if item.state is State.OPEN),
        reason=next(iter(reasons), None),
    )


def _is_stated(job: Job) -> bool:
    """Whether anything of the brief is about sound."""
    return bool(job.sources or job.feeds or job.microphones or any(link.radio.companding for link in job.links))


def _called(item: LinkReport) -> str:
    return item.link.id if item.link.name == item.link.id else f"{item.link.id} {item.link.name}"


def _reason(item: LinkReport) -> str:
    """Return the first thing that is wrong with a link."""
    texts = [one.text for way in item.ways for one in way.remarks if one.grade is Grade.WRONG]
    return next(iter(texts), "its two ends do not go together")


# ------------------------------------------------------------------------------------------ companding that is tried


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingLine:
    """A recording that somebody brought: `seconds` of `of_seconds` are taken, its channels averaged."""

    name: str
    seconds: float
    of_seconds: float
    channels: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardFile:
    """A sound to listen to: what was sent (`kind` null), or what a kind made of it at an RF level.

    `lowered_db` is by how much it was lowered so that it is no louder than what was sent.
    """

    name: str
    kind: str | None
    level: str | None
    size: int
    lowered_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """The newest comparison: the run it came from, when it ended, and what changed since (`stale`)."""

    run: str
    ended: str
    stale: str | None
    files: tuple[HeardFile, ...]
    document: SoundCompareDocument


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What there is to try companding with: a comparison that runs, somebody's recording, the newest comparison."""

    run: RunState | None
    recording: RecordingLine | None
    tried: Tried | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareTask:
    """What the worker is given to compare kinds of companding; `sound` is None for the one most like the source."""

    job: Job
    file: str
    inputs: tuple[Input, ...]
    name: str
    sound: str | None
    walking: bool
    recording: OwnSound | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareResult:
    """What the worker gives back: the document as text, and the sounds with their data."""

    document: str
    files: tuple[tuple[HeardFile, bytes], ...]


@dataclass(slots=True)
class _Sounds:
    """What is kept of sounds beside an open job: in memory, and only the newest of each."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    recording: OwnSound | None = None
    tried: Tried | None = None
    task: CompareTask | None = None
    data: dict[str, bytes] = field(default_factory=dict)


def _sounds(desk: Desk) -> _Sounds:
    with desk.lock:
        if not isinstance(desk.sounds, _Sounds):
            desk.sounds = _Sounds()
        return desk.sounds


def keep_recording(desk: Desk, *, name: str, data: bytes) -> RecordingLine:
    """Keep somebody's recording to try companding with; it takes the place of the one before.

    Raises
    ------
    InputError
        When it is no WAV file that can be read, or nothing but silence is in it.
    """
    ready = read_recording(data, size=len(data), name=name)
    _sounds(desk).recording = OwnSound(name=name, ready=ready)
    return _line(OwnSound(name=name, ready=ready))


def forget_recording(desk: Desk) -> None:
    """Let go of somebody's recording."""
    _sounds(desk).recording = None


def _line(own: OwnSound) -> RecordingLine:
    ready = own.ready
    return RecordingLine(
        name=own.name,
        seconds=round(ready.seconds, 2),
        of_seconds=round(ready.of_seconds, 2),
        channels=ready.channels,
    )


def run_compare(desk: Desk, *, name: str, sound: str | None = None, walking: bool = False) -> RunState:
    """Compare the kinds of companding of a radio type, or of a link's, in the worker.

    Parameters
    ----------
    name
        A link or a radio type, by its id.
    sound
        speech, sung, keys, clapper; "file" for the recording that somebody brought; None for the one most like the
        source of the link.
    walking
        Whether the carrier fades at the farthest point.

    Raises
    ------
    CellFaults
        When the brief is not one that can be planned.
    InputError
        When the name is unknown, nothing of it can be compared, or there is no recording.
    RunGoing
        When a run is going on.
    """
    brief, sounds = desk.brief(), _sounds(desk)
    job, recording = brief.whole(), sounds.recording
    subject_of(job, name, file=desk.path.name)
    if sound == _FILE and recording is None:
        raise InputError.single("no-recording", "There is no recording yet; choose a WAV file first.", key="sound")
    own = sound == _FILE
    task = CompareTask(
        job=job,
        file=desk.path.name,
        inputs=(brief_input(brief, desk.path.name),),
        name=name,
        sound=None if own else sound,
        walking=walking,
        recording=recording if own else None,
    )
    work = Work(
        kind="sound",
        function=compare_in_worker,
        arguments=(task, desk.context.now()),
        limit_s=None,
        stale=lambda: None,  # it stays worth hearing; the page says what changed
        keep=partial(_keep, desk, task),
    )
    return start_run(desk, work)


def compare_in_worker(
    task: CompareTask, now: datetime, *, progress: Callable[[Progress], None], cancelled: Callable[[], bool]
) -> CompareResult:
    """Compare kinds of companding; runs in the worker."""
    found = compare_in_job(
        Context(now=lambda: now, progress=progress, cancelled=cancelled),
        task.job,
        file=task.file,
        inputs=task.inputs,
        name=task.name,
        recording=task.recording,
        material=task.sound,
        walking=task.walking,
        keep_sounds=True,
    )
    compared, data = found.compared, found.wavs()
    whose = [(None, None), *((kind.name, level.name) for kind in compared.kinds for level in compared.levels)]
    files = [
        (
            HeardFile(
                name=track.name,
                kind=kind,
                level=level,
                size=len(data[f"{track.name}.wav"]),
                lowered_db=round(track.lowered_db, 2),
            ),
            data[f"{track.name}.wav"],
        )
        for track, (kind, level) in zip(compared.tracks, whose, strict=False)  # no tracks where somebody stopped it
    ]
    return CompareResult(document=found.document().model_dump_json(by_alias=True), files=tuple(_that_fit(files)))


def _that_fit(files: list[tuple[HeardFile, bytes]]) -> list[tuple[HeardFile, bytes]]:
    """Return the sounds that are kept: what was sent, then level by level, as long as there is room."""
    order = {None: -1} | {name: number for number, name in enumerate(_LEVELS_FIRST)}
    room, kept = _MOST_KEPT_BYTES, set()
    for item, data in sorted(files, key=lambda pair: order.get(pair[0].level, len(order))):
        room -= len(data)
        if room >= 0:
            kept.add(item.name)
    return [pair for pair in files if pair[0].name in kept]


def _keep(desk: Desk, task: CompareTask, result: CompareResult) -> tuple[str, bool, int | None]:
    document = SoundCompareDocument.model_validate_json(result.document)
    done, of = len(document.cases), len(document.kinds) * 3
    if document.found is None:
        return f"Stopped after {done} of {of} cases: nothing was found.", True, None
    sounds, run = _sounds(desk), run_of(desk)
    with sounds.lock:
        sounds.task = task
        sounds.data = {item.name: data for item, data in result.files}
        sounds.tried = Tried(
            run="" if run is None else run.run,
            ended=desk.context.now().isoformat(),
            stale=None,
            files=tuple(item for item, _ in result.files),
            document=document,
        )
    return f"Found among {len(document.kinds)} kinds: {document.found.kind}.", False, None


def bench_of(desk: Desk) -> Bench:
    """Return what there is to try companding with."""
    sounds, run = _sounds(desk), run_of(desk)
    with sounds.lock:
        tried, task, recording = sounds.tried, sounds.task, sounds.recording
    if tried is not None and task is not None:
        tried = Tried(
            run=tried.run,
            ended=tried.ended,
            stale=_changed_since(desk, task),
            files=tried.files,
            document=tried.document,
        )
    return Bench(
        run=run if run is not None and run.kind == "sound" else None,
        recording=None if recording is None else _line(recording),
        tried=tried,
    )


def _changed_since(desk: Desk, task: CompareTask) -> str | None:
    """Return what of a comparison is another one now; None where it stands."""
    job = desk.brief().job
    if job is None:
        return None
    try:
        now, before = (_stands_on(one, task) for one in (job, task.job))
    except InputError:
        return f"{task.name} is not there any more, or nothing of it can be compared."
    return None if now == before else f"{task.name} has changed since: its companding, or how far it reaches."


def _stands_on(job: Job, task: CompareTask) -> object:
    link, radio = subject_of(job, task.name, file=task.file)
    return radio, levels_of(job, link, radio, walking=task.walking)


def heard_file(desk: Desk, name: str, *, run: str) -> bytes:
    """Return a sound of the newest comparison as a WAV file.

    Raises
    ------
    InputError
        `no-such-sound` where there is none of this name, or another comparison came since.
    """
    sounds = _sounds(desk)
    with sounds.lock:
        tried, data = sounds.tried, sounds.data.get(name)
    if tried is None or tried.run != run or data is None:
        text = "There is no such sound any more; a newer comparison has taken its place."
        raise InputError.single("no-such-sound", text, given=name, hint="Load the page again.")
    return data
