"""Sound as drawings for paper and screen: settings and margins of all links, level diagrams, and what goes together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from bandwright.core.drawing import Anchor, Drawing, Ink, Item, Line, Text
from bandwright.core.picture_levels import PANEL_HEIGHT, level_items
from bandwright.core.picture_words import cut, folded
from bandwright.core.reach.facts import gap_lines
from bandwright.core.sound.clock import clock_words
from bandwright.core.sound.lineup import Setting
from bandwright.core.sound.matching import NOT_COMPARED, Match, Pairing
from bandwright.core.sound.remarks import Grade
from bandwright.core.sound.report import LinkReport, SoundReport, State, Way, alike, untold
from bandwright.core.sound.timing import Together
from bandwright.core.words import one_line

__all__ = ["HEIGHT", "WIDTH", "sound_pictures"]

WIDTH, HEIGHT = 806.0, 486.0
_ROW, _HEAD, _SMALL, _TEXT, _LEADING = 15.0, 34.0, 8.0, 9.5, 11.0
# What a column is called, where it ends (figures) or begins (words), and how much room it has.
_COLUMNS: tuple[tuple[str, float, Anchor], ...] = (
    ("Link", 0, Anchor.START),
    ("Name", 62, Anchor.START),
    ("To", 196, Anchor.START),
    ("gain dB", 340, Anchor.END),
    ("output dB", 394, Anchor.END),
    ("trim dB", 442, Anchor.END),
    ("headroom", 498, Anchor.END),
    ("over noise", 552, Anchor.END),
    ("tone at output", 622, Anchor.END),
    ("ms", 658, Anchor.END),
    ("companding", 668, Anchor.START),
    ("state", WIDTH, Anchor.END),
)
_ROOMS = {"Link": 58.0, "Name": 128.0, "To": 98.0, "companding": 92.0}
_SIGNS = {Match.SAME: "same", Match.COMPATIBLE: "loss", Match.WRONG: "wrong", Match.OPEN: "open"}
_MOST_KINDS = 14


def sound_pictures(report: SoundReport, names: Mapping[str, str]) -> tuple[Drawing, ...]:
    """Return everything about the sound of a job: the table, a diagram for each kind of way, then the rest.

    `names` says what each link (by id) is called.
    """
    return (*_tables(report, names), *_diagrams(report), *_rest(report))


def _page(items: Sequence[Item], title: str, about: str) -> Drawing:
    return Drawing(width=WIDTH, height=HEIGHT, items=tuple(items), title=title, description=about)


# ---------------------------------------------------------------------------------------------------------- the table


def _tables(report: SoundReport, names: Mapping[str, str]) -> Iterator[Drawing]:
    rows = [(item, way, number == 0) for item in report.links for number, way in enumerate(item.ways)]
    most = int((HEIGHT - _HEAD - 60) // _ROW)
    pages = [rows[start : start + most] for start in range(0, len(rows), most)] or [[]]
    lacking = [gap for item in report.links for gap in item.gaps]
    gaps = gap_lines([*lacking, *(gap for clock in report.clocks for gap in clock.gaps)])
    said = untold(report.links)
    told = [] if said is None else [said]
    lines = [line for text in [*told, *gaps] for line in folded(one_line(text), size=_SMALL, width=WIDTH)]
    about = "For each link its settings, headroom, noise, tone, companding and time."
    for page in pages:
        items: list[Item] = list(_heading())
        for number, row in enumerate(page):
            items += _row(*row, names, _HEAD + number * _ROW + 10.5)
        top = _HEAD + len(page) * _ROW + 22
        if page is pages[-1] and len(lines) <= _lines_from(top):
            items += _to_fill_in(lines, top)
            lines = []
        yield _page(items, "Line-up of links", about)
    most = _lines_from(9)
    for start in range(0, len(lines), most):
        yield _page(list(_to_fill_in(lines[start : start + most], 9)), "To fill in", "What the brief does not state.")


def _heading() -> Iterator[Item]:
    yield Text(at=(0, 11), text="Line-up: what to set, and what is left", size=12, bold=True)
    for words, x, anchor in _COLUMNS:
        yield Text(at=(x, 27), text=words, size=_SMALL, ink=Ink.MUTED, anchor=anchor)
    yield Line(start=(0, _HEAD - 3), end=(WIDTH, _HEAD - 3), ink=Ink.TEXT, width=0.8)


def _row(item: LinkReport, way: Way, first: bool, names: Mapping[str, str], base: float) -> Iterator[Item]:
    lined = way.line_up
    feed, receiver = lined.facts.feed, lined.point("receiver")
    tone = None if receiver is None else receiver.tone
    words = (
        item.link.id if first else "",
        one_line(names[item.link.id]) if first else "",
        "?" if feed is None else one_line(feed.name),
        _set(lined.setting("transmitter gain")),
        _set(lined.setting("receiver output")),
        _set(lined.setting("input trim")),
        _db(lined.headroom_db),
        _db(lined.over_noise_db),
        "" if tone is None or receiver is None else f"{tone:+.1f} {receiver.unit}",
        _db(way.arrival.total_ms),
        _kind(item) if first else "",
        item.state.value if first else "",
    )
    for (column, x, anchor), text in zip(_COLUMNS, words, strict=True):
        bold = column == "Link" or (column == "state" and item.state in (State.WRONG, State.OPEN))
        shown = cut(text, size=_TEXT, width=_ROOMS.get(column, 200), bold=bold)
        if shown:
            yield Text(at=(x, base), text=shown, size=_TEXT, anchor=anchor, bold=bold)
    yield Line(start=(0, base + 4), end=(WIDTH, base + 4), ink=Ink.GRID, width=0.4)


def _kind(item: LinkReport) -> str:
    kind = item.pairing.transmitter.kind
    if kind is None:
        return ""
    return one_line(kind.name) if kind.name is not None else item.pairing.transmitter.words


def _set(setting: Setting | None) -> str:
    if setting is None or (setting.control is None and not setting.stated):
        return ""
    return f"{setting.value_db:+g}" if setting.value_db else "0"


def _db(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


def _lines_from(top: float) -> int:
    """Return how many small lines fit the page under a heading at `top`."""
    return int((HEIGHT - top - _LEADING) // _LEADING)


def _to_fill_in(lines: Sequence[str], top: float) -> Iterator[Item]:
    """Yield a heading with its lines, which stay together; nothing without lines."""
    if lines:
        yield Text(at=(0, top), text="To fill in", size=_TEXT, bold=True)
        yield from _lines(lines, top + _LEADING)


def _lines(lines: Sequence[str], top: float) -> Iterator[Item]:
    """Yield small lines from `top` on; what does not fit the page is counted."""
    room = max(1, int((HEIGHT - top) // _LEADING))
    shown = list(lines) if len(lines) <= room else [*lines[: room - 1], f"and {len(lines) - room + 1} more lines"]
    for number, line in enumerate(shown):
        yield Text(at=(0, top + number * _LEADING), text=line, size=_SMALL)


# ------------------------------------------------------------------------------------------------------ the diagrams


def _diagrams(report: SoundReport) -> Iterator[Drawing]:
    """Yield level diagrams, as many on a page as fit with what is said of them."""
    items: list[Item] = []
    top = 0.0
    for group in alike(report.links):
        for number, way in enumerate(group[0].ways):
            panel, height = _panel(group, way, number, top)
            if len(panel) == 1:  # a title without anything under it
                continue
            if items and top + height > HEIGHT:
                yield _page(items, "Level diagrams", "Levels from the source to where they are read.")
                items, top = [], 0.0
                panel, height = _panel(group, way, number, top)
            items += panel
            top += height + 8
    if items:
        yield _page(items, "Level diagrams", "Levels from the source to where they are read.")


def _panel(group: Sequence[LinkReport], way: Way, number: int, top: float) -> tuple[list[Item], float]:
    item = group[0]
    feed = way.line_up.facts.feed
    ids = ", ".join(one.link.id for one in group)
    to = "nowhere that is stated" if feed is None else one_line(feed.name)
    title = cut(f"{ids} to {to}", size=10, width=WIDTH, bold=True)
    items: list[Item] = [Text(at=(0, top + 9), text=title, size=10, bold=True)]
    drawn = list(level_items(way.line_up, top=top + 14, width=WIDTH))
    items += drawn
    y = top + 14 + (PANEL_HEIGHT if drawn else 0.0)
    remarks = [one for one in way.remarks if one.grade is not Grade.NOTE]
    told = {one.text for earlier in item.ways[:number] for one in earlier.remarks}
    for remark in remarks:
        if remark.text in told:
            continue
        for line in folded(f"{remark.grade.value}: {one_line(remark.text)}", size=_SMALL, width=WIDTH):
            y += _LEADING
            items.append(Text(at=(0, y - 2), text=line, size=_SMALL, bold=remark.grade is Grade.WRONG))
    return items, y - top + 2


# ---------------------------------------------------------------------------------------------------------- the rest


def _rest(report: SoundReport) -> Iterator[Drawing]:
    items: list[Item] = []
    top = 0.0
    drawn = list(_matrix(report.matrix))
    if drawn:
        items += drawn
        top = max(one.at[1] for one in drawn if isinstance(one, Text)) + 24
    lines = [line for text in _sentences(report) for line in folded(one_line(text), size=_SMALL, width=WIDTH)]
    if lines:
        items.append(Text(at=(0, top + 9), text="Times and clocks", size=12, bold=True))
        items += _lines(lines, top + 24)
    if items:
        yield _page(items, "Companding, times, clocks", "What goes together, delays to add, and clocks.")


def _matrix(pairs: Sequence[Pairing]) -> Iterator[Item]:
    ends = list(dict.fromkeys(pair.transmitter for pair in pairs))
    if not 2 <= len(ends) <= _MOST_KINDS:
        return
    found = {(pair.transmitter, pair.receiver): pair.match for pair in pairs}
    column = 40.0
    yield Text(at=(0, 11), text="Companding of the kit: transmitters down, receivers across", size=12, bold=True)
    for number in range(len(ends)):
        x = 236 + number * column
        yield Text(at=(x, 27), text=f"({number + 1})", size=_SMALL, ink=Ink.MUTED, anchor=Anchor.MIDDLE)
    for row, one in enumerate(ends):
        base = _HEAD + row * _ROW + 10.5
        name = cut(f"({row + 1}) {one_line(one.label)}", size=_TEXT, width=206)
        yield Text(at=(0, base), text=name, size=_TEXT)
        for number, two in enumerate(ends):
            match = found.get((one, two))
            if match is not None:
                x = 236 + number * column
                bold = match is Match.SAME
                yield Text(at=(x, base), text=_SIGNS[match], size=_SMALL, anchor=Anchor.MIDDLE, bold=bold)
        yield Line(start=(0, base + 4), end=(WIDTH, base + 4), ink=Ink.GRID, width=0.4)
    if len(pairs) < len(ends) ** 2:
        yield Text(at=(0, _HEAD + len(ends) * _ROW + 10.5), text=NOT_COMPARED, size=_SMALL)


def _sentences(report: SoundReport) -> Iterator[str]:
    for group in report.together:
        yield from _delays(group)
    for loop in report.loops:
        if loop.total_ms is not None:
            way = f"{loop.microphone.facts.link.id} to {loop.ear.facts.link.id}"
            yield f"{loop.wearer} hears the own voice after {loop.total_ms:.1f} ms ({way})."
    for clock in report.clocks:
        yield f"{clock_words(clock)}."


def _delays(group: Together) -> Iterator[str]:
    for one in group.members:
        yield (
            f"{group.source} by {one.arrival.facts.link.id}: after {one.arrival.total_ms or 0:.2f} ms; add "
            f"{one.early_ms:.2f} ms = {one.samples} samples at {group.sample_rate_hz / 1000:g} kHz = "
            f"{one.metres:.2f} m."
        )
    if group.inverted:
        yield f"Polarity of {', '.join(group.inverted)} is turned against the others."
