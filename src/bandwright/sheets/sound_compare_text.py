"""A comparison of kinds of companding, as text for a terminal: a table of numbers, and what they decide."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from bandwright.core.sound.comparing import CAUTIONS, Compared
from bandwright.core.sound.judging import CLEAR_DB, Case, Recommendation
from bandwright.core.sound.recording import PEAK_DB
from bandwright.core.words import and_list, one_line
from bandwright.sheets.terminal import cut, padded, wrapped

__all__ = ["sound_compare_text"]

_LEAST_WIDTH = 80
_SOUNDS = {"speech": "speech-like", "sung": "sung", "keys": "keys jangling", "clapper": "a clapper"}
_AXES = {
    "detector": "detector",
    "attack_ms": "attack",
    "release_ms": "release",
    "bands": "bands",
    "preemphasis_us": "pre-emphasis",
    "peak_deviation_hz": "peak deviation",
}


def sound_compare_text(compared: Compared, *, notes: Sequence[str], columns: int = 100) -> str:
    """Return how kinds of companding carry a sound, for a terminal of so many columns."""
    width = max(columns, _LEAST_WIDTH)
    parts: list[Iterable[str]] = [_head(compared, width), _kinds(compared, width), _table(compared.cases, width)]
    parts += [_verdict(compared, width), _files(compared, width)]
    parts.append([line for text in notes for line in wrapped(one_line(text), width, first="Note: ")])
    parts.append([line for text in CAUTIONS for line in wrapped(text, width)])
    return "\n\n".join("\n".join(lines) for part in parts if (lines := list(part))) + "\n"


def _head(compared: Compared, width: int) -> Iterator[str]:
    ready = compared.ready
    sound = _SOUNDS.get(compared.sound, compared.sound) if compared.file is None else one_line(compared.file)
    text = f"{one_line(compared.radio)} with {ready.seconds:.1f} s of {sound}"
    if ready.seconds < ready.of_seconds:
        text += f" (of {ready.of_seconds:.1f} s)"
    if ready.channels > 1:
        text += f", its {ready.channels} channels averaged"
    yield from wrapped(f"{text}; its highest peak {-PEAK_DB:g} dB under full modulation.", width)


def _kinds(compared: Compared, width: int) -> Iterator[str]:
    for kind in compared.kinds:
        assumed = [_AXES.get(axis, axis) for axis in kind.chain.assumed]
        taken = f"; assumed: {and_list(assumed)}" if assumed else ""
        yield from wrapped(f"{one_line(kind.words)}{taken}", width, first=f"{one_line(kind.name)}: ")
    for name in compared.skipped:
        yield from wrapped("left out, since it states no ratio", width, first=f"{one_line(name)}: ")


def _table(cases: Sequence[Case], width: int) -> Iterator[str]:
    if not cases:
        return
    label = min(max(4, *(len(one_line(case.chain)) for case in cases)), width - 70)
    yield (
        f"{'Kind':<{label}}  {'RF':<6} {'C/N dB':>6}  {'Error':>6} {'468':>6} {'clean':>6}  "
        f"{'At rest':>7} {'Behind':>6} {'Tail s':>6}  {'Burst':>6}"
    )
    for case in cases:
        noise, fades = case.noise, "~" if case.doppler_hz is not None else " "
        name = padded(cut(one_line(case.chain), label), label)
        cn_db = "-" if case.cn_db is None else f"{case.cn_db:.0f}"
        tail = ">1" if noise.tail_s is None else f"{noise.tail_s:.2f}"
        yield (
            f"{name}  {cut(case.level, 6):<6} {cn_db:>6}{fades} {case.error_db:6.1f} {case.error_468_db:6.1f} "
            f"{case.tracking_468_db:6.1f}  {noise.rest_468_db:7.1f} {noise.behind_468_db:6.1f} {tail:>6}  "
            f"{case.burst.error_db:6.1f}"
        )
    yield ""
    yield from wrapped(
        "Error: what came out less what went in, in dB against the sound, 20 Hz to 20 kHz alike, and (468) weighted by "
        "Rec. ITU-R BS.468; clean: the same without noise. At rest and Behind: noise in silence and behind a 200 Hz "
        "tone, weighted, against full modulation; Tail: until it is gone. Burst: error on 20 ms of 8 kHz. Lower is "
        "better everywhere. ~ fades as at walking speed, with one antenna.",
        width,
    )


def _verdict(compared: Compared, width: int) -> list[str]:
    if compared.found is None:
        return wrapped("Stopped before the end: nothing is recommended.", width)
    return wrapped(_found(compared.found), width)


def _found(found: Recommendation) -> str:
    what = "weighted error at its worst" if found.decided_by == "error_468_db" else "noise at rest at its worst"
    text = f"Found: {one_line(found.chain)}, {what} {found.value_db:.1f} dB"
    if found.decided_by == "error_468_db":
        text += f" ({found.level})"
    if found.next_chain is None or found.next_db is None or found.margin_db is None:
        return f"{text}; there is no other to compare with."
    text += f", {found.margin_db:.1f} dB before {one_line(found.next_chain)} ({found.next_db:.1f} dB)."
    if len(found.alike) == 1:
        return text
    names = and_list([one_line(name) for name in found.alike])
    alike = f" {names} are alike in their error, within {CLEAR_DB:g} dB"
    return (
        f"{text}{alike}." if found.decided_by == "rest_468_db" else f"{text}{alike}, and at rest: any of them will do."
    )


def _files(compared: Compared, width: int) -> Iterator[str]:
    if not compared.tracks:
        return
    lowered = [
        f"{track.name}.wav by {track.lowered_db:.1f} dB" for track in compared.tracks if track.lowered_db >= 0.05
    ]
    text = f"Written: {and_list([f'{track.name}.wav' for track in compared.tracks])}, all on one scale."
    if lowered:
        text += f" Lowered, so as not to be louder than what went in: {and_list(lowered)}."
    yield from wrapped(text, width)
