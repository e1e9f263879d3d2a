"""Head, foot, spare carriers and notes of the printed sheet, as blocks that know their height."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from bandwright.core.sheet import Sheet, SheetCell
from bandwright.core.words import CAUTIONS
from bandwright.sheets.fonts import Face, text_width
from bandwright.sheets.typeset import Line, Run, TypeCase, line_width, share_width, wrap

__all__ = ["Block", "PageFrame", "Pen", "closing_blocks", "foot_block", "head_block", "notes_block"]

_NOTES_SHARE = 0.27
_NOTES_GAP = 16.0
_NOTE_LINE = 9.0
_CLOSING_LABEL = 62.0
_WRITE_ON = 36.0

# Carriers smaller than this stand in a table that is short of room: what follows it then runs on without breaks.
_SHORT_OF_ROOM = 11.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PageFrame:
    """The part of a page inside its margins, in points from the lower left corner."""

    left: float
    bottom: float
    width: float
    height: float

    @property
    def top(self) -> float:
        """Upper edge."""
        return self.bottom + self.height


@dataclass(frozen=True, slots=True)
class Pen:
    """A canvas, and the type to write on it."""

    canvas: Canvas
    case: TypeCase

    def line(self, x: float, y: float, runs: Line) -> float:
        """Write runs from x on the base line y; return where they end."""
        for position, run in enumerate(runs):
            x += text_width(" ", run.face, run.size) if position else 0.0
            self.canvas.setFont(run.face.value, run.size)
            self.canvas.drawString(x, y, run.text)
            x += run.width
        return x

    def line_right(self, right: float, y: float, runs: Line) -> float:
        """Write runs so that they end at `right`; return where they begin."""
        left = right - line_width(runs)
        self.line(left, y, runs)
        return left

    def rule(self, x: float, y: float, width: float, weight: float) -> None:
        """Draw a level line."""
        self.canvas.setLineWidth(weight)
        self.canvas.line(x, y, x + width, y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A part of a page. `draw(pen, left, top)` paints it; `again` opens the next page where this one starts it."""

    height: float
    draw: Callable[[Pen, float, float], None]
    keep_with_next: bool = False
    again: Block | None = None


def head_block(sheet: Sheet, case: TypeCase, width: float) -> Block:
    """Return the head: title, place and hours; plan number, phrase and minute; permits, sweep, what not to use."""
    head = sheet.head
    stamp = (case.run(head.plan, Face.STRONG, 11), case.run(head.check_phrase, Face.FIGURES, 17))
    invented = (case.run("Invented example.", Face.STRONG, 8.5),) if head.invented else ()
    minute = (*invented, case.run(f"made {head.minute}", Face.TEXT, 8.5))
    stamp_width = max(line_width(stamp), line_width(minute))
    title = _fitted(case, head.title, Face.STRONG, (19, 16, 13), width - stamp_width - 20)
    when = " · ".join(part for part in (head.places, head.dates, head.hours) if part)
    below = _fitted(case, when, Face.TEXT, (9, 8, 7), width - stamp_width - 20)
    facts = _facts(sheet, case, width)
    title_height = 15.0 + 10.0 * len(below) + sum(line[0].size * 1.05 for line in title[1:])
    height = 8.0 + title_height + facts.height

    def draw(pen: Pen, x: float, top: float) -> None:
        y = top - 14.0
        pen.line_right(x + width, y, stamp)
        pen.line_right(x + width, y - 10.5, minute)
        for line in title:
            pen.line(x, y, line)
            y -= line[0].size * 1.05 if line is not title[-1] else 0.0
        for line in below:
            y -= 12.0 if line is below[0] else 10.0
            pen.line(x, y, line)
        facts.draw(pen, x, top - 8.0 - title_height)

    return Block(height=height, draw=draw)


def _fitted(case: TypeCase, text: str, face: Face, sizes: Sequence[float], width: float) -> tuple[Line, ...]:
    """Return the text on one line in the largest size that fits, or wrapped in the smallest."""
    for size in sizes:
        run = case.run(text, face, size)
        if run.width <= width:
            return ((run,),)
    return wrap((case.run(text, face, sizes[-1]),), width)


def _facts(sheet: Sheet, case: TypeCase, width: float) -> Block:
    """Return what the plan stands on, side by side under one rule; what not to use stands first, in reverse."""
    head = sheet.head
    size, leading, gap = 8.0, 9.2, 14.0
    closed = ", ".join(head.do_not_use) or "nothing known to be closed"
    texts = [("Do not use", closed), ("Permits", "; ".join(head.permits)), ("Sweep", head.sweep)]
    if head.common:
        texts.append(("Every carrier", ", ".join(head.common)))
    runs = [case.run(text, Face.TEXT if index else Face.STRONG, size) for index, (_, text) in enumerate(texts)]
    natural = [run.width + _label_width(label) + 1.0 for (label, _), run in zip(texts, runs, strict=True)]
    columns = share_width(natural, width - gap * (len(texts) - 1))
    cells = [
        (label, wrap((run,), column - _label_width(label)))
        for (label, _), run, column in zip(texts, runs, columns, strict=True)
    ]
    spare = (width - sum(columns) - gap * (len(texts) - 1)) / max(1, len(texts) - 1)
    lefts = [sum(columns[:index]) + index * (gap + spare) for index in range(len(texts))]
    height = 6.0 + leading * max(len(lines) for _, lines in cells)

    def draw(pen: Pen, x: float, top: float) -> None:
        pen.rule(x, top + 1.0, width, 1.4)
        for index, (label, lines) in enumerate(cells):
            left = x + lefts[index]
            _draw_label(pen, left, top - 8.6, label, reverse=label in {"Do not use", "Every carrier"})
            for number, line in enumerate(lines):
                pen.line(left + _label_width(label), top - 8.6 - number * leading, line)

    return Block(height=height, draw=draw)


def _label_width(label: str) -> float:
    return text_width(label, Face.STRONG, 7.2) + 9.0


def _draw_label(pen: Pen, x: float, y: float, label: str, *, reverse: bool) -> None:
    run = Run(label, Face.STRONG, 7.2)
    if reverse:
        pen.canvas.rect(x, y - 2.1, run.width + 5.0, 9.0, stroke=0, fill=1)
        pen.canvas.setFillGray(1)
        pen.line(x + 2.5, y, (run,))
        pen.canvas.setFillGray(0)
    else:
        pen.line(x, y, (run,))


def foot_block(sheet: Sheet, case: TypeCase, width: float, *, page: str = "page 1 of 1") -> Block:
    """Return the foot: the cautions in two lines, and the stamp repeated small."""
    stamp = (case.run(sheet.head.stamp, Face.STRONG, 6.6),)
    room = width - line_width(stamp) - 12.0
    cautions = [_fitted(case, text, Face.TEXT, (6.6, 6.2, 5.8), room)[0] for text in CAUTIONS]

    def draw(pen: Pen, x: float, top: float) -> None:
        pen.rule(x, top - 2.5, width, 0.4)
        for number, line in enumerate(cautions):
            pen.line(x, top - 9.5 - 7.6 * number, line)
        pen.line_right(x + width, top - 9.5, stamp)
        pen.line_right(x + width, top - 17.1, (Run(page, Face.TEXT, 6.6),))

    return Block(height=19.0, draw=draw)


def closing_blocks(sheet: Sheet, case: TypeCase, width: float, *, figures: float) -> tuple[Block, ...]:
    """Return what follows the table: spare carriers, others, how good the plan is, and what a reader must know.

    `figures` is the size of the carriers in the table; nothing here is larger.
    """
    size = min(11.0, figures)
    tight = figures < _SHORT_OF_ROOM
    room = width * (1 - _NOTES_SHARE) - _NOTES_GAP
    texts = {"No spare carrier": sheet.missing_spares, "This plan": sheet.about_plan}
    texts["Read this"] = sheet.warnings
    return (
        _gap(3.0 if tight else 7.0),
        *_cell_blocks("Spare carriers", "for", [_cell_line(cell, case, size) for cell in sheet.spares], room),
        *_cell_blocks("Not ours", None, [_cell_line(cell, case, size) for cell in sheet.others], room),
        *(
            block
            for label, told in texts.items()
            for block in _text_blocks(label, [" ".join(told)] if tight else told, case, room)
        ),
        _gap(2.0),
    )


def _gap(height: float) -> Block:
    return Block(height=height, draw=lambda *_: None)


def _cell_blocks(label: str, write_on: str | None, lines: Sequence[Line], width: float) -> tuple[Block, ...]:
    """Return carriers side by side, each line a block; with `write_on` each has a line to write a label on."""
    if not lines:
        return ()
    inner = width - _CLOSING_LABEL
    extra = _WRITE_ON if write_on else 10.0
    per_line = max(1, int(inner // (max(line_width(line) for line in lines) + extra)))
    rows = [lines[start : start + per_line] for start in range(0, len(lines), per_line)]
    return tuple(
        _cell_row(row, inner / per_line, label if not number else None, write_on) for number, row in enumerate(rows)
    )


def _cell_line(cell: SheetCell, case: TypeCase, size: float) -> Line:
    return (
        case.run(cell.label, Face.STRONG, 7.5),
        case.run(cell.mhz, Face.FIGURES, size),
        case.run(cell.about, Face.TEXT, 7.2),
    )


def _cell_row(lines: Sequence[Line], cell_width: float, label: str | None, write_on: str | None) -> Block:
    height = max(run.size for run in lines[0]) + (4.0 if write_on else 1.5)

    def draw(pen: Pen, x: float, top: float) -> None:
        y = top - 10.0
        if label:
            pen.line(x, y, (Run(label, Face.STRONG, 7.5),))
        for number, line in enumerate(lines):
            left = x + _CLOSING_LABEL + number * cell_width
            end = pen.line(left, y, line)
            if write_on:
                end = pen.line(end + 5.0, y, (Run(write_on, Face.TEXT, 6.4),))
                pen.rule(end + 2.0, y - 1.5, left + cell_width - end - 12.0, 0.4)

    return Block(height=height, draw=draw)


def _text_blocks(label: str, texts: Sequence[str], case: TypeCase, width: float) -> tuple[Block, ...]:
    lines = [line for text in texts for line in wrap((case.run(text, Face.TEXT, 7.2),), width - _CLOSING_LABEL)]
    return tuple(_text_row(line, label if not number else None) for number, line in enumerate(lines))


def _text_row(line: Line, label: str | None) -> Block:
    def draw(pen: Pen, x: float, top: float) -> None:
        if label:
            pen.line(x, top - 7.4, (Run(label, Face.STRONG, 7.2),))
        pen.line(x + _CLOSING_LABEL, top - 7.4, line)

    return Block(height=9.0, draw=draw)


def notes_block(sheet: Sheet, case: TypeCase, width: float, height: float) -> Block:
    """Return room for notes at the right, down to the foot: what is known already, then lines to write on.

    Notes that do not fit whole are left out, and how many those are is the last line.
    """
    room = width * _NOTES_SHARE
    known = _notes_that_fit(sheet.notes, case, room, most=int((height - 19.0) // _NOTE_LINE))

    def draw(pen: Pen, x: float, top: float) -> None:
        left = x + width - room
        y = top - 17.0
        pen.line(left, y, (Run("Notes", Face.STRONG, 7.5),))
        for line in known:
            y -= _NOTE_LINE
            pen.line(left, y, line)
        y -= 13.0
        while y > top - height + 2.0:
            pen.rule(left, y, room, 0.3)
            y -= 15.0

    return Block(height=height, draw=draw)


def _notes_that_fit(notes: Sequence[str], case: TypeCase, width: float, *, most: int) -> list[Line]:
    """Return the lines of as many whole notes as `most` lines hold, and of a word about those left out."""
    told = [_note_lines(note, case, width) for note in notes]
    if sum(map(len, told)) <= most:
        return [line for lines in told for line in lines]
    kept: list[Line] = []
    for number, lines in enumerate(told):
        left_out = len(told) - number
        more = _note_lines(_left_out(left_out), case, width)
        if len(kept) + len(lines) + len(more) > most:
            return [*kept, *more]
        kept += lines
    return kept


def _note_lines(note: str, case: TypeCase, width: float) -> list[Line]:
    return [line for part in note.splitlines() for line in wrap((case.run(part, Face.TEXT, 7.5),), width)]


def _left_out(count: int) -> str:
    return f"{count} note{'' if count == 1 else 's'} found no room here; look in the job."
