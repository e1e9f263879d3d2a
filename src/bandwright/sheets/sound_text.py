"""How links sound, as text for a terminal: one line a link, then levels along each way, the kit's companding, times."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from bandwright.core.reach.facts import gap_lines
from bandwright.core.sound.clock import Clock, clock_words
from bandwright.core.sound.lineup import Point, Setting
from bandwright.core.sound.matching import NOT_COMPARED, Match, Pairing
from bandwright.core.sound.remarks import Grade
from bandwright.core.sound.report import LinkReport, SoundReport, Way, alike, untold
from bandwright.core.sound.timing import Loop, Together
from bandwright.core.words import and_list, one_line
from bandwright.sheets.terminal import cut, padded, wrapped

__all__ = ["sound_text"]

_LEAST_WIDTH = 80
_SIGNS = {Match.SAME: "same", Match.COMPATIBLE: "loss", Match.WRONG: "wrong", Match.OPEN: "open"}
_MOST_IN_MATRIX = 12
_HEADS = (("noise", 6), ("quietest", 8), ("loudest", 7), ("peak", 6), ("clips", 6), ("full", 6), ("tone", 6))
_GRADES = {Grade.WRONG: "wrong: ", Grade.CAUTION: "caution: ", Grade.NOTE: ""}


def sound_text(report: SoundReport, *, notes: Sequence[str], columns: int = 100) -> str:
    """Return how links sound, for a terminal of so many columns."""
    width = max(columns, _LEAST_WIDTH)
    parts: list[Iterable[str]] = [_summary(report.links, width)]
    parts += [_group(group, width) for group in alike(report.links) if not group[0].silent]
    parts += [wrapped(text, width) for text in [untold(report.links)] if text is not None]
    parts += [_matrix(report.matrix, width)]
    parts += [_together(item, width) for item in report.together]
    parts += [_loops(report.loops, width), _clocks(report.clocks, width), _missing(report, width)]
    parts.append([line for text in notes for line in wrapped(one_line(text), width, first="Note: ")])
    parts.append([line for text in report.cautions for line in wrapped(text, width)])
    return "\n\n".join("\n".join(lines) for part in parts if (lines := list(part))) + "\n"


def _summary(links: Sequence[LinkReport], width: int) -> Iterator[str]:
    label = max(5, *(len(item.link.id) for item in links))
    feed = 16
    room = width - label - feed - 50
    figures = f"{'Gain':>6} {'Headroom':>9} {'Over noise':>11} {'ms':>6}"
    yield f"{'Label':<{label}}  {'Name':<{room}} {'To':<{feed}} {figures}  State"
    for item in links:
        for number, way in enumerate(item.ways):
            yield _row(item, way, label if number == 0 else 0, (label, room, feed))


def _row(item: LinkReport, way: Way, first: int, widths: tuple[int, int, int]) -> str:
    label, room, wide = widths
    feed, gain = way.line_up.facts.feed, way.line_up.setting("transmitter gain")
    name = one_line(item.link.name) if first else ""
    to = "?" if feed is None else one_line(feed.name)
    state = item.state.value if first else ""
    return (
        f"{item.link.id if first else '':<{label}}  {padded(cut(name, room), room)} {padded(cut(to, wide), wide)} "
        f"{_signed(gain):>6} {_figure(way.line_up.headroom_db):>9} {_figure(way.line_up.over_noise_db):>11} "
        f"{_figure(way.arrival.total_ms):>6}  {state}"
    ).rstrip()


def _signed(setting: Setting | None) -> str:
    return "?" if setting is None else f"{setting.value_db:+g}"


def _figure(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


# ------------------------------------------------------------------------------------------------------- one link


def _group(group: Sequence[LinkReport], width: int) -> Iterator[str]:
    item, ends = group[0], group[0].pairing
    about = ends.transmitter.words
    if ends.receiver != ends.transmitter:
        about = f"{ends.transmitter.label} ({about}) to {ends.receiver.label} ({ends.receiver.words})"
    ids = ", ".join(one.link.id for one in group)
    yield from wrapped(f"{ids}: {one_line(item.link.radio.name)}, {about}", width)
    told: set[str] = set()
    for way in item.ways:
        yield from _way(way, width)
        for remark in way.remarks:
            if remark.text in told:
                continue
            told.add(remark.text)
            basis = "" if remark.basis == "computed" else f" ({remark.basis})"
            yield from wrapped(one_line(f"{_GRADES[remark.grade]}{remark.text}{basis}"), width, first="  - ")


def _way(way: Way, width: int) -> Iterator[str]:
    lined = way.line_up
    settings = ", ".join(
        f"{one.what} {one.value_db:+g} dB{'' if one.stated else ' (recommended)'}"
        for one in lined.settings
        if one.control is not None or one.stated
    )
    feed = lined.facts.feed
    to = "to nowhere that is stated" if feed is None else f"to {one_line(feed.name)}"
    yield from wrapped(f"{to}: {settings or 'no controls'}", width, first="  ")
    if not lined.told:
        return
    room = width - 63
    heads = " ".join(f"{word:>{wide}}" for word, wide in _HEADS)
    yield f"    {'':<{room}} {'':<6} {heads}"
    for point in lined.points:
        yield _point(point, room)
    yield from wrapped(_tone(way), width, first="    ")


def _tone(way: Way) -> str:
    """Return what the 1 kHz tone must read along the way."""
    lined = way.line_up
    if lined.tone_dbfs is None:
        return ""
    reads = [_reads(point) for point in lined.points if _readable(point)]
    reads += [f"{one.what} {one.value_db:+g} dB" for one in lined.settings if one.what == "input trim"]
    return one_line(f"1 kHz tone at {lined.tone_dbfs:g} dBFS: {', '.join(reads)}") if reads else ""


def _reads(point: Point) -> str:
    if point.where == "transmitter":
        return f"transmitter {point.tone:+.1f} dB against full deviation"
    return f"{point.name} {point.tone:+.1f} {point.unit}"


def _readable(point: Point) -> bool:
    """Whether something shows the tone there: the transmitter's meter, or a meter at the receiver's output."""
    return point.tone is not None and point.where in ("transmitter", "receiver")


def _point(point: Point, room: int) -> str:
    values = (point.noise, point.quietest, point.loudest, point.peak, point.clip, point.full, point.tone)
    cells = " ".join(
        f"{'' if value is None else f'{value:.1f}':>{wide}}" for value, (_, wide) in zip(values, _HEADS, strict=True)
    )
    unit = "dB full" if point.unit == "dB" else point.unit
    return f"    {padded(cut(one_line(point.name), room - 1), room - 1)} {unit:<7} {cells}".rstrip()


# ------------------------------------------------------------------------------------------------------ everything


def _matrix(pairs: Sequence[Pairing], width: int) -> Iterator[str]:
    ends = list(dict.fromkeys(pair.transmitter for pair in pairs))
    if len(ends) < 2:
        return
    found = {(pair.transmitter, pair.receiver): pair for pair in pairs}
    yield "Companding of the kit: transmitters down, receivers across"
    if len(ends) > _MOST_IN_MATRIX:
        wrong = sum(pair.match is Match.WRONG for pair in pairs)
        yield f"  {len(ends)} kinds; {wrong} of {len(pairs)} pairs are wrong. --json has all of them."
        return
    label = min(28, max(len(end.label) for end in ends)) + 2
    heads = " ".join(f"{f'({number})':<6}" for number in range(1, len(ends) + 1))
    yield f"  {'':<{label + 4}}{heads}".rstrip()
    for number, one in enumerate(ends, start=1):
        cells = " ".join(f"{_sign(found.get((one, two))):<6}" for two in ends)
        yield f"  {f'({number})':<4}{padded(cut(one.label, label - 2), label)}{cells}".rstrip()
    if len(pairs) < len(ends) ** 2:
        yield from wrapped(NOT_COMPARED, width, first="  ")
    for pair in pairs:
        if pair.match is Match.COMPATIBLE:
            text = f"{pair.transmitter.label} to {pair.receiver.label}: {'; '.join(pair.losses)}."
            yield from wrapped(one_line(text), width, first="  - ")


def _sign(pair: Pairing | None) -> str:
    return "" if pair is None else _SIGNS[pair.match]


def _together(item: Together, width: int) -> Iterator[str]:
    device = "" if item.device is None else f" in {one_line(item.device)}"
    yield from wrapped(f"One sound by several ways{device} ({one_line(item.source)}): delay to add", width)
    ids = [one.arrival.facts.link.id for one in item.members]
    for one in item.members:
        link, feed = one.arrival.facts.link, one.arrival.facts.feed
        by = f" by {one_line(feed.name)}" if feed is not None and ids.count(link.id) > 1 else ""
        notches = ", ".join(f"{notch:.0f}" for notch in one.notches_hz)
        comb = f"; mixed with the latest it has notches at {notches} Hz and on" if notches else ""
        yield from wrapped(
            f"{link.id}{by}: arrives after {one.arrival.total_ms or 0:.2f} ms; add {one.early_ms:.2f} ms = "
            f"{one.samples} samples at {item.sample_rate_hz / 1000:g} kHz = {one.metres:.2f} m{comb}",
            width,
            first="  - ",
        )
    if item.inverted:
        text = f"polarity of {and_list(item.inverted)} is turned against the others: they cancel in a mix."
        yield from wrapped(text, width, first="  - ")


def _loops(loops: Sequence[Loop], width: int) -> Iterator[str]:
    for loop in loops:
        if loop.total_ms is not None:
            text = (
                f"{one_line(loop.wearer)} hears the own voice after {loop.total_ms:.1f} ms "
                f"({loop.microphone.facts.link.id} to {loop.ear.facts.link.id}); from about 10 ms on it disturbs, and "
                "below that it colours with what comes through the head (common practice)."
            )
            yield from wrapped(text, width)


def _clocks(clocks: Sequence[Clock], width: int) -> Iterator[str]:
    for clock in clocks:
        fix = " Choose one master, or inputs that convert rates." if clock.one is False else ""
        yield from wrapped(one_line(f"{clock_words(clock)}.{fix}"), width)


def _missing(report: SoundReport, width: int) -> Iterator[str]:
    gaps = [gap for item in report.links for gap in item.gaps] + [gap for item in report.clocks for gap in item.gaps]
    lines = gap_lines(gaps)
    if not lines:
        return
    yield "To fill in:"
    for line in lines:
        yield from wrapped(line, width, first="  ")
