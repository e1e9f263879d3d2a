"""The table of the printed sheet: widths of columns, rows in groups, boxes to tick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bandwright.core.planning.plan import Status
from bandwright.core.sheet import Sheet, SheetGroup, SheetRow
from bandwright.sheets.blocks import Block, Pen
from bandwright.sheets.columns import TICKS, Column, visible_columns
from bandwright.sheets.fonts import Face, text_width
from bandwright.sheets.typeset import Line, Run, TypeCase, line_width, share_width, wrap

__all__ = ["MAX_ROW", "MIN_ROW", "TableStyle", "heading_row", "table_blocks"]

MIN_ROW = 9.0
MAX_ROW = 31.0
_TWO_LINES_FROM = 18.5
_GUTTER = 10.0
_GAP = 7.0
_HEADING_SIZE = 6.4
_ENDLESS = 1e6
_LEAST = 6.4
_SCALES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.64)

# Of the size of type: height of capitals and figures, distance of base lines, and the least white in a row (by whether
# a cell has several lines).
_CAPITALS = 0.711
_LEADING = 1.14
_BREATH = {False: 0.18, True: 0.6}

# No column but these gives way when a line gets too long; the most each may ask for, in widths of an "m", by whether
# the small part of a cell stands below its main part or beside it.
_FLEXIBLE = {
    True: {"who": 15.0, "radio": 15.0, "sound": 7.0, "receiver": 10.0, "closest": 19.0},
    False: {"who": 22.0, "radio": 24.0, "sound": 10.0, "receiver": 15.0, "closest": 22.0},
}
_LEAST_RADIO = 12.0
_MORE = "\N{HORIZONTAL ELLIPSIS}"

# Who takes what is left over on a line, in shares.
_GROWS = {
    "who": 3.0,
    "radio": 1.0,
    "mhz": 2.0,
    "power": 1.0,
    "sound": 1.0,
    "receiver": 1.0,
    "spare": 1.0,
    "closest": 3.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TableStyle:
    """Sizes of type and widths of columns for one height of rows."""

    row_height: float
    columns: tuple[Column, ...]
    widths: tuple[float, ...]
    width: float
    whole_digits: int
    scale: float = 1.0

    @classmethod
    def of(cls, rows: Sequence[SheetRow], case: TypeCase, *, width: float, row_height: float) -> TableStyle:
        """Return the style in which these rows fit the width; rows of one line get smaller type before they wrap."""
        columns = visible_columns(rows)
        digits = max((len(_whole(row)) for row in rows), default=0)
        bare = cls(row_height=row_height, columns=columns, widths=(), width=width, whole_digits=digits)
        room = width - _GUTTER - _GAP * len(columns) - len(TICKS) * bare.tick_pitch
        for scale in _SCALES:
            bare = replace(bare, scale=scale)
            natural = [bare.natural_width(column, rows, case) for column in columns]
            if bare.two_lines or sum(natural) <= room:
                break
        if not bare.two_lines:
            natural = _radio_first(columns, natural, room, least=_LEAST_RADIO * bare.main)
        return replace(bare, widths=_fit(columns, natural, room))

    @property
    def two_lines(self) -> bool:
        """Whether the small part of a cell stands below its main part."""
        return self.row_height >= _TWO_LINES_FROM

    @property
    def figures(self) -> float:
        """Size of the carriers."""
        return min(24.0, self.row_height * (0.84 if self.two_lines else 1.08))

    @property
    def main(self) -> float:
        """Size of what stands large in the other columns."""
        return (
            min(12.0, max(8.6, self.row_height * 0.42))
            if self.two_lines
            else max(_LEAST, min(10.0, self.row_height * 0.82) * self.scale)
        )

    @property
    def small(self) -> float:
        """Size of what stands small."""
        return max(7.2, self.main * 0.78) if self.two_lines else max(_LEAST, self.main * 0.94)

    @property
    def tick(self) -> float:
        """Side of a box to tick."""
        return min(13.0, max(7.2, self.row_height * 0.78))

    @property
    def tick_pitch(self) -> float:
        """Distance between boxes."""
        return max(self.tick + 6.0, 21.0)

    @property
    def right(self) -> float:
        """Where the columns of text end, from the left edge of the table."""
        return self.width - len(TICKS) * self.tick_pitch

    def left_of(self, position: int) -> float:
        """Return where a column begins, from the left edge of the table."""
        return _GUTTER + sum(self.widths[:position]) + _GAP * position

    def indent(self, row: SheetRow) -> float:
        """Return how far a carrier moves right so that decimal points stand below each other."""
        return (self.whole_digits - len(_whole(row))) * text_width("0", Face.FIGURES, self.figures)

    def natural_width(self, column: Column, rows: Sequence[SheetRow], case: TypeCase) -> float:
        """Return the width at which no cell of a column has to wrap, within what the column may ask for."""
        told = [row for row in rows if row.mhz is not None or column.key not in {"mhz", "closest"}]
        lines = [line for row in told for line in self.cell(column, row, case, _ENDLESS)]
        widest = max((line_width(line) for line in lines), default=0.0)
        if column.key == "mhz":
            widest = max(
                (
                    line_width(line) + self.indent(row)
                    for row in told
                    for line in self.cell(column, row, case, _ENDLESS)
                ),
                default=0.0,
            )
        limit = _FLEXIBLE[self.two_lines].get(column.key)
        return max(_heading_width(self.heading(column)), widest if limit is None else min(widest, limit * self.main))

    def cell(self, column: Column, row: SheetRow, case: TypeCase, width: float) -> tuple[Line, ...]:
        """Return the lines of one cell."""
        main, small = column.main(row), self._small(column, row)
        if column.key == "mhz":
            return ((case.run(main, Face.FIGURES, self.figures),),) if main else ()
        large = [case.run(main, Face.STRONG, self.main)] if main else []
        little = [case.run(small, Face.TEXT, self.small)] if small else []
        if column.key == "closest":
            end = ":" if little and not self.two_lines else ""
            words = [case.run(" · ".join(row.marks) + end, Face.STRONG, self.small)] if row.marks else []
            return self._stacked(words, little, width)
        if column.key == "radio" and large and not self.two_lines:
            taken = sum(run.width + text_width(" ", run.face, run.size) for run in little)
            large = [_cut(large[0], max(width - taken, 0.0), case)]
        return self._stacked(large, little, width)

    def heading(self, column: Column) -> str:
        """Return what stands over a column."""
        return column.heading if self.two_lines else column.shortest_heading

    def _small(self, column: Column, row: SheetRow) -> str | None:
        return column.small(row) if self.two_lines else column.shortest(row)

    def _stacked(self, large: list[Run], little: list[Run], width: float) -> tuple[Line, ...]:
        if self.two_lines:
            return (*wrap(large, width), *wrap(little, width))
        return wrap([*large, *little], width)


def _whole(row: SheetRow) -> str:
    return (row.mhz or "").partition(".")[0]


def _cut(run: Run, width: float, case: TypeCase) -> Run:
    """Return a run no wider than this, cut with an ellipsis where it must be; at least one word of it stays."""
    if run.width <= width:
        return run
    least = len(run.text.split(" ")[0])
    shown = (f"{run.text[:size].rstrip()}{_MORE}" for size in range(len(run.text) - 1, least - 1, -1))
    cuts = (case.run(text, run.face, run.size) for text in shown)
    return next((cut for cut in cuts if cut.width <= width), case.run(f"{run.text[:least]}{_MORE}", run.face, run.size))


def _heading_width(heading: str) -> float:
    return max(text_width(word, Face.TEXT, _HEADING_SIZE) for word in heading.split())


def _radio_first(columns: Sequence[Column], natural: Sequence[float], room: float, *, least: float) -> list[float]:
    """Take what is too long for a line from the names of the radios, as far as `least`; they can be cut."""
    excess = max(0.0, sum(natural) - room)
    return [
        min(width, max(width - excess, least)) if column.key == "radio" else width
        for column, width in zip(columns, natural, strict=True)
    ]


def _fit(columns: Sequence[Column], natural: Sequence[float], room: float) -> tuple[float, ...]:
    """Give the fixed columns what they need; the flexible ones share the rest, or take what is left over."""
    flexible = [position for position, column in enumerate(columns) if column.key in _FLEXIBLE[True]]
    rest = room - sum(width for position, width in enumerate(natural) if position not in flexible)
    widths = list(natural)
    for position, width in zip(flexible, share_width([natural[i] for i in flexible], max(rest, 1.0)), strict=True):
        widths[position] = max(width, 24.0)
    spare = max(0.0, room - sum(widths))
    shares = [_GROWS.get(column.key, 0.0) for column in columns]
    total = sum(shares)
    return tuple(width + spare * share / total for width, share in zip(widths, shares, strict=True))


def heading_row(style: TableStyle, case: TypeCase) -> Block:
    """Return the headings of the columns, on up to two lines, sitting on a rule."""
    cells = [
        wrap((case.run(style.heading(column), Face.TEXT, _HEADING_SIZE),), width + 1.5)
        for column, width in zip(style.columns, style.widths, strict=True)
    ]
    leading = _HEADING_SIZE * 1.08
    height = 5.0 + leading * max(len(lines) for lines in cells)

    def draw(pen: Pen, x: float, top: float) -> None:
        base = top - height + 2.6
        for position, lines in enumerate(cells):
            for number, line in enumerate(reversed(lines)):
                pen.line(x + style.left_of(position), base + number * leading, line)
        for number, word in enumerate(TICKS):
            run = Run(word, Face.TEXT, _HEADING_SIZE)
            pen.line(x + style.right + number * style.tick_pitch + (style.tick_pitch - run.width) / 2, base, (run,))

    return Block(height=height, draw=draw)


def table_blocks(sheet: Sheet, style: TableStyle, case: TypeCase) -> tuple[Block, ...]:
    """Return all groups: a heading and its rows each."""
    return tuple(block for group in sheet.groups for block in _group_blocks(group, style, case))


def _group_blocks(group: SheetGroup, style: TableStyle, case: TypeCase) -> tuple[Block, ...]:
    heading = _group_heading(group.name, str(len(group.rows)), style, case)
    again = _group_heading(group.name, "continued", style, case)
    return (heading, *(_row_block(row, style, case, again, first=not number) for number, row in enumerate(group.rows)))


def _group_heading(name: str, beside: str, style: TableStyle, case: TypeCase) -> Block:
    size = min(10.5, max(8.0, style.row_height * 0.56))
    height = size * 1.28 + 2.4 + max(0.0, style.row_height - 12.0) * 0.3
    runs = (case.run(name, Face.STRONG, size), case.run(beside, Face.TEXT, size * 0.85))

    def draw(pen: Pen, x: float, top: float) -> None:
        pen.line(x, top - height + 2.2, runs)
        pen.rule(x, top - height, style.width, 0.9)

    return Block(height=height, draw=draw, keep_with_next=True)


def _row_block(row: SheetRow, style: TableStyle, case: TypeCase, again: Block, *, first: bool) -> Block:
    cells = _cells(row, style, case)
    height = max(
        style.row_height, *(_stack_height(lines) + _BREATH[len(lines) > 1] * _size(lines[-1]) for _, lines in cells)
    )

    def draw(pen: Pen, x: float, top: float) -> None:
        if not first:
            pen.rule(x, top, style.width, 0.25)
        _draw_mark(pen, x, top - height / 2, row, style)
        for left, lines in cells:
            _draw_stack(pen, x + left, top, height, lines)
        if row.mhz is not None:
            _draw_ticks(pen, x + style.right, top - height / 2, style)

    return Block(height=height, draw=draw, again=again)


def _cells(row: SheetRow, style: TableStyle, case: TypeCase) -> list[tuple[float, tuple[Line, ...]]]:
    keys = [column.key for column in style.columns]
    told = len(keys) if row.mhz is not None else keys.index("mhz")
    cells = [
        (
            style.left_of(position) + (style.indent(row) if column.key == "mhz" else 0.0),
            style.cell(column, row, case, style.widths[position] + 0.5),
        )
        for position, column in enumerate(style.columns[:told])
    ]
    if row.mhz is None:
        left = style.left_of(told)
        runs = (case.run(row.marks[0], Face.STRONG, style.main), case.run(row.why, Face.TEXT, style.small))
        cells.append((left, wrap(runs, style.width - left)))
    return [(left, lines) for left, lines in cells if lines]


def _size(line: Line) -> float:
    return max(run.size for run in line)


def _stack_height(lines: Sequence[Line]) -> float:
    """Return the height from the top of the first capitals to the last base line."""
    return _CAPITALS * _size(lines[0]) + sum(_size(line) * _LEADING for line in lines[1:])


def _draw_stack(pen: Pen, x: float, top: float, height: float, lines: Sequence[Line]) -> None:
    """Write lines centred in the height of the row."""
    y = top - (height - _stack_height(lines)) / 2 - _CAPITALS * _size(lines[0])
    pen.line(x, y, lines[0])
    for line in lines[1:]:
        y -= _size(line) * _LEADING
        pen.line(x, y, line)


def _draw_mark(pen: Pen, x: float, middle: float, row: SheetRow, style: TableStyle) -> None:
    size = min(8.5, style.row_height * 0.8)
    if row.status == Status.CAUTION.value:
        path = pen.canvas.beginPath()
        path.moveTo(x, middle - size * 0.42)
        path.lineTo(x + size, middle - size * 0.42)
        path.lineTo(x + size / 2, middle + size * 0.5)
        path.close()
        pen.canvas.drawPath(path, stroke=0, fill=1)
        _reversed(pen, x + size / 2, middle - size * 0.33, "!", size * 0.78)
    elif row.status != Status.CLEAR.value:
        pen.canvas.rect(x, middle - size / 2, size, size, stroke=0, fill=1)
        _reversed(pen, x + size / 2, middle - size * 0.34, "×", size * 1.1)


def _reversed(pen: Pen, centre: float, y: float, text: str, size: float) -> None:
    run = Run(text, Face.FIGURES, size)
    pen.canvas.setFillGray(1)
    pen.line(centre - run.width / 2, y, (run,))
    pen.canvas.setFillGray(0)


def _draw_ticks(pen: Pen, x: float, middle: float, style: TableStyle) -> None:
    pen.canvas.setLineWidth(0.7)
    for number in range(len(TICKS)):
        left = x + number * style.tick_pitch + (style.tick_pitch - style.tick) / 2
        pen.canvas.rect(left, middle - style.tick / 2, style.tick, style.tick, stroke=1, fill=0)
