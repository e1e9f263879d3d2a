"""Plain columns: a frequency and one or more levels in each row, also below the settings of an analyser.

Delimiter, decimal sign, units and the meaning of columns are taken from the file's head; what the file does not say is
assumed in words (a fault of code `assumed`), never silently.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain, islice

import numpy as np
import numpy.typing as npt

from bandwright.core.fold import MOST_POINTS
from bandwright.core.sweep import SweepBlock, SweepFault
from bandwright.readers.text import level_of, lines_of, number_of

__all__ = ["Layout", "layout_of", "parse", "sniff"]

Floats = npt.NDArray[np.float64]

_HEAD_LINES = 400
_LOOKED_AT = 60
_DELIMITERS = (
    ";",
    "\t",
    "^",
    "|",
    ",",
    None,
)  # None: any run of spaces; a comma may be a decimal sign, so it comes late
_HZ_PER = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_UNIT_WORD = re.compile(r"(?<![a-z])([kmg]?hz)(?![a-z])", re.IGNORECASE)
_FREQUENCY = re.compile(r"freq|(?<![a-z])[kmg]?hz(?![a-z])|frequenz|fr[eé]quence", re.IGNORECASE)
_DBM = re.compile(r"dbm(?![a-z])", re.IGNORECASE)
_DBUV = re.compile(r"db\s*[uµμ]v|db\xb5v", re.IGNORECASE)
_LOWEST = re.compile(r"(?<![a-z])min", re.IGNORECASE)
_HIGHEST = re.compile(r"(?<![a-z])max|peak|hold", re.IGNORECASE)
_MEAN = re.compile(r"(?<![a-z])(avg|average|mean|typ)", re.IGNORECASE)
_FEWEST_ROWS = 3
_SORTED_ROWS = 16  # so many rising rows are no accident
_MOST_HZ = 1e12

# Words of analysers' settings and what they are to us.
_SETTINGS = {
    "rbw": "rbw",
    "resolution bandwidth": "rbw",
    "y axis unit": "unit",
    "amplitude unit": "unit",
    "x axis units": "frequency_unit",
    "number of points": "points",
    "points": "points",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How to read a row. `levels` are the columns that hold levels; `skip` is how many lines stand before the rows."""

    delimiter: str | None
    decimal_comma: bool
    joined: bool
    frequency: int
    levels: tuple[int, ...]
    hz_per_unit: float
    unit: str
    rbw_hz: float | None
    points: int | None
    skip: int
    said: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """The rows of numbers that were found in the head, and the words above them."""

    delimiter: str | None
    decimal_comma: bool
    joined: bool
    skip: int
    names: tuple[str, ...]
    rows: tuple[tuple[float, ...], ...]


def sniff(head: bytes) -> bool:
    """Whether at least three rows of the file's head hold two or more numbers."""
    return layout_of(_lines(head)) is not None


def _lines(head: bytes) -> list[str]:
    return [line.decode("latin-1") for line in islice(lines_of([head]), _HEAD_LINES)]


def parse(blocks: Iterable[bytes]) -> Iterator[SweepBlock | SweepFault]:
    """Yield a block for each column of levels of each run through the band, and faults."""
    lines = (line.decode("latin-1") for line in lines_of(blocks))
    head = list(islice(lines, _HEAD_LINES))
    layout = layout_of(head)
    if layout is None:
        yield SweepFault(code="no-table", text="No rows with a frequency and a level were found.")
        return
    for sentence in layout.said:
        yield SweepFault(code="assumed", text=sentence)
    trace = _Trace(layout=layout)
    for number, line in enumerate(chain(head[layout.skip :], lines), start=layout.skip + 1):
        yield from _row(trace, line, number)
    yield from trace.blocks()
    if layout.points is not None and trace.rows < layout.points:
        text = f"The header promises {layout.points} points; {trace.rows} follow."
        yield SweepFault(code="fewer-points", text=text)
    if trace.no_levels:
        yield SweepFault(code="no-level", text=f"{trace.no_levels} levels are nan, inf or empty: not measured there.")


@dataclass(slots=True, kw_only=True)
class _Trace:
    """The rows of one run through the band, until the frequency starts over."""

    layout: Layout
    hz: array[float] = field(default_factory=lambda: array("d"))
    levels: list[array[float]] = field(init=False)
    low_hz: float = math.inf
    high_hz: float = 0.0
    rises: bool = True
    rows: int = 0
    no_levels: int = 0

    def __post_init__(self) -> None:
        self.levels = [array("d") for _ in self.layout.levels]

    def starts_over(self, hz: float) -> bool:
        """Whether a row at this frequency begins a new run.

        It does at the first frequency again, and at a fall over half the band after rows that only rose; rows out of
        order are one run.
        """
        if len(self.hz) < _FEWEST_ROWS:
            return False
        falls = len(self.hz) >= _SORTED_ROWS and self.rises and self.hz[-1] - hz > 0.5 * (self.high_hz - self.low_hz)
        return falls or hz == self.hz[0]

    def take(self, hz: float, levels: list[float]) -> None:
        self.rises = self.rises and hz >= self.high_hz
        self.hz.append(hz)
        self.low_hz, self.high_hz = min(self.low_hz, hz), max(self.high_hz, hz)
        for column, level in zip(self.levels, levels, strict=True):
            column.append(level)
        self.rows += 1

    def blocks(self) -> Iterator[SweepBlock | SweepFault]:
        """Yield what was gathered, one block for each column of levels, and begin anew."""
        centres = np.array(self.hz, dtype=np.float64)
        columns = [np.array(column, dtype=np.float64) for column in self.levels]
        self.hz, self.levels = array("d"), [array("d") for _ in self.layout.levels]
        self.low_hz, self.high_hz, self.rises = math.inf, 0.0, True
        steps = np.diff(np.unique(centres))
        if not steps.size:
            if centres.size:
                yield SweepFault(code="one-frequency", text="A single frequency shows no bin width. Not used.")
            return
        for levels in columns:
            yield SweepBlock(
                first_hz=float(centres[0]),
                bin_hz=float(np.median(steps)),
                levels_db=levels,
                centres_hz=centres,
                rbw_hz=self.layout.rbw_hz,
                whole=self.layout.rbw_hz is not None,
                unit=self.layout.unit,
            )


def _row(trace: _Trace, line: str, number: int) -> Iterator[SweepBlock | SweepFault]:
    if not line.strip():
        return
    layout = trace.layout
    fields = _split(line, layout.delimiter, joined=layout.joined)
    frequency = _number(fields[layout.frequency], layout) if len(fields) > layout.frequency else None
    if frequency is None or not 0 <= frequency * layout.hz_per_unit <= _MOST_HZ:
        shown = line.strip()[:40]
        yield SweepFault(code="bad-row", text=f"No row of frequency and level: {shown!r}. Not used.", line=number)
        return
    levels: list[float] = []
    for column in layout.levels:
        word = fields[column] if column < len(fields) else ""
        level = level_of(word.replace(",", ".") if layout.decimal_comma else word)
        if level is None:
            yield SweepFault(code="bad-level", text=f"{word.strip()[:20]!r} is no level: not measured.", line=number)
        elif math.isnan(level):
            trace.no_levels += 1
        levels.append(math.nan if level is None else level)
    hz = frequency * layout.hz_per_unit
    if trace.starts_over(hz):
        yield from trace.blocks()
    trace.take(hz, levels)
    if len(trace.hz) > MOST_POINTS:
        yield from trace.blocks()


def _number(word: str, layout: Layout) -> float | None:
    return number_of(word.replace(",", ".") if layout.decimal_comma else word)


def _split(line: str, delimiter: str | None, *, joined: bool) -> list[str]:
    """Return the fields of a line, quotes off; `joined` puts numbers with an unquoted decimal comma together."""
    if delimiter is None:
        fields = line.split()
    elif '"' not in line:
        fields = line.split(delimiter)
    else:
        fields = _unquoted(line, delimiter)
    if joined and len(fields) % 2 == 0:
        return [f"{whole.strip()},{part.strip()}" for whole, part in zip(fields[::2], fields[1::2], strict=True)]
    return fields


def _unquoted(line: str, delimiter: str) -> list[str]:
    """Return the fields of a line with quotes around whole fields taken off; a quote anywhere else stays and spoils it.

    >>> _unquoted('606,5;"-64,7";-6"4', ";")
    ['606,5', '-64,7', '-6"4']
    """
    fields: list[str] = [""]
    quoted = False
    for character in line:
        if character == '"' and not quoted and not fields[-1].strip():
            quoted = True
            fields[-1] = character
        elif character == delimiter and not (quoted and fields[-1].count('"') == 1):
            fields.append("")
            quoted = False
        else:
            fields[-1] += character
    return [_bare(field) for field in fields]


def _bare(field: str) -> str:
    whole = field.strip()
    return whole[1:-1] if len(whole) > 1 and whole[0] == whole[-1] == '"' and whole.count('"') == 2 else field


def layout_of(lines: list[str]) -> Layout | None:
    """Return how the rows are to be read, or None where there are no rows of numbers."""
    table = _best_table(lines)
    if table is None:
        return None
    above = lines[: table.skip]
    settings = _settings(above)
    frequency = _frequency_column(table)
    levels, chosen = _level_columns(table, frequency)
    if not levels:
        return None
    head_text = " ".join(above[-8:])
    hz_per_unit, said_unit = _frequency_unit(table, frequency, settings.get("frequency_unit", ""), head_text)
    named = " ".join(table.names[column] for column in levels if column < len(table.names))
    unit, said_level = _level_unit(settings.get("unit", ""), named, head_text)
    points = number_of(settings.get("points", ""))
    rbw_hz = _hz_of(settings.get("rbw", ""))
    said_rbw = (
        "" if rbw_hz else "The file states no resolution bandwidth: carriers narrower than a step are not measured."
    )
    return Layout(
        delimiter=table.delimiter,
        decimal_comma=table.decimal_comma,
        joined=table.joined,
        frequency=frequency,
        levels=levels,
        hz_per_unit=hz_per_unit,
        unit=unit,
        rbw_hz=rbw_hz,
        points=int(points) if points is not None and points >= 1 else None,
        skip=table.skip,
        said=tuple(sentence for sentence in (said_unit, said_level, said_rbw, chosen) if sentence),
    )


def _best_table(lines: list[str]) -> _Table | None:
    """Return the table that the delimiter with the most rows of numbers shows."""
    stated = _stated_delimiter(lines[0]) if lines else None
    best: _Table | None = None
    for delimiter in (stated,) if stated else _DELIMITERS:
        for decimal_comma in (False, True):
            if decimal_comma and delimiter == "," and not any('"' in line for line in lines):
                continue
            table = _table(lines, delimiter, decimal_comma=decimal_comma, joined=False)
            if table is not None and (best is None or len(table.rows) > len(best.rows)):
                best = table
    if (
        best is not None
        and best.delimiter == ","
        and not best.decimal_comma
        and _is_split_by_decimal_comma(best, lines)
    ):
        return _table(lines, ",", decimal_comma=True, joined=True) or best
    return best


def _stated_delimiter(line: str) -> str | None:
    return line[4] if line.lower().startswith("sep=") and len(line) > 4 else None


def _is_split_by_decimal_comma(table: _Table, lines: list[str]) -> bool:
    """Whether `606,5,-64,7` means two numbers: four whole fields, the second and fourth without a sign."""
    rows = table.rows
    texts = [line.split(",") for line in lines[table.skip : table.skip + _LOOKED_AT] if line.strip()]
    plain = all(len(fields) == 4 and all("." not in word and word.strip() for word in fields) for fields in texts)
    return plain and all(len(row) == 4 and row[2] < 0 <= row[1] and row[3] >= 0 and row[0] < 1e6 for row in rows)


def _table(lines: list[str], delimiter: str | None, *, decimal_comma: bool, joined: bool) -> _Table | None:
    rows: list[tuple[float, ...]] = []
    skip = 0
    names: tuple[str, ...] = ()
    for index, line in enumerate(lines):
        row = _numbers(_split(line, delimiter, joined=joined), decimal_comma=decimal_comma)
        if row is None:
            if len(rows) < _FEWEST_ROWS:
                rows.clear()
            continue
        if not rows:
            skip, names = index, _names(lines[:index], delimiter)
        rows.append(row)
        if len(rows) == _LOOKED_AT:
            break
    if len(rows) < _FEWEST_ROWS:
        return None
    return _Table(
        delimiter=delimiter, decimal_comma=decimal_comma, joined=joined, skip=skip, names=names, rows=tuple(rows)
    )


def _numbers(fields: list[str], *, decimal_comma: bool) -> tuple[float, ...] | None:
    """Return the numbers of a row: at least two fields, the first plain, the rest levels; None for any other row."""
    fields = fields[:-1] if fields and not fields[-1].strip() else fields
    if len(fields) < 2:
        return None
    words = [field.replace(",", ".") if decimal_comma else field for field in fields]
    if number_of(words[0]) is None:
        return None
    values = [level_of(word) for word in words]
    if values[1] is None:
        return None
    return tuple(math.nan if value is None else value for value in values)


def _names(above: list[str], delimiter: str | None) -> tuple[str, ...]:
    """Return the names of the columns: the last line above the rows, where it has several fields."""
    line = next((line for line in reversed(above) if line.strip()), "")
    names = tuple(name.strip() for name in _split(line.lstrip("#! "), delimiter, joined=False))
    return names if len(names) > 1 and not _is_setting(names) else ()


def _is_setting(names: tuple[str, ...]) -> bool:
    return names[0].lower() in _SETTINGS or (len(names) == 2 and number_of(names[1]) is not None)


def _settings(above: list[str]) -> dict[str, str]:
    """Return what the lines above the table state: `RBW,+1.0e+03,MAN` or `RBW: 10 kHz`."""
    found: dict[str, str] = {}
    for line in above:
        key, _, value = re.sub(r"[:;=\t]", ",", line, count=1).partition(",")
        bare = re.sub(r"[(\[].*", "", key).strip(' #!"').lower()
        unit = _UNIT_WORD.search(key)
        if bare in _SETTINGS:
            first = re.split(r"[,;\t]", value)[0].strip(' "')
            found[_SETTINGS[bare]] = f"{first} {unit.group(1)}" if unit and not _UNIT_WORD.search(first) else first
    return found


def _hz_of(words: str) -> float | None:
    """Return Hz from `+1.0e+03`, `10 kHz`; None where it is no number above 0."""
    unit = _UNIT_WORD.search(words)
    value = number_of(_UNIT_WORD.sub("", words))
    hz = value * _HZ_PER[unit.group(1).lower() if unit else "hz"] if value is not None else None
    return hz if hz is not None and hz > 0 else None


def _frequency_column(table: _Table) -> int:
    named = [index for index, name in enumerate(table.names) if _FREQUENCY.search(name) and index < len(table.rows[0])]
    if named:
        return named[0]
    columns = list(zip(*(row[:2] for row in table.rows), strict=True))
    counts = all(two - one == 1 for one, two in zip(columns[0], columns[0][1:], strict=False))
    rises = all(one < two for one, two in zip(columns[1], columns[1][1:], strict=False))
    return 1 if len(table.rows[0]) > 2 and counts and columns[0][0] in (0, 1) and rises else 0


def _level_columns(table: _Table, frequency: int) -> tuple[tuple[int, ...], str]:
    """Return the columns of levels and, where some were left out, the sentence that says so.

    A second column of frequencies begins another table. Held, mean and lowest traces beside each other are of
    different kinds: the held one is used (it closes), or else the mean one; never the lowest.
    """
    width = min(len(row) for row in table.rows)
    candidates = list(range(frequency + 1, width)) or [index for index in range(width) if index != frequency][-1:]
    names = {column: table.names[column] for column in candidates if column < len(table.names)}
    other = [column for column, name in names.items() if not name or _FREQUENCY.search(name)]
    if other and other[0] != candidates[0]:
        candidates = [column for column in candidates if column < other[0]]
    in_db = [column for column in candidates if "db" in names.get(column, "").lower()]
    candidates = in_db or candidates
    for kind in (_HIGHEST, _MEAN):
        chosen = [column for column in candidates if kind.search(names.get(column, ""))]
        if chosen and len(chosen) < len(candidates):
            shown = ", ".join(repr(names[column]) for column in chosen)
            return tuple(
                chosen
            ), f"Of the traces beside each other only {shown} is used: the others are of another kind."
    kept = [column for column in candidates if not _LOWEST.search(names.get(column, ""))]
    left_out = "" if len(kept) == len(candidates) else "Traces of lowest levels are not used."
    return tuple(kept), left_out


def _frequency_unit(table: _Table, frequency: int, stated: str, head_text: str) -> tuple[float, str]:
    name = table.names[frequency] if frequency < len(table.names) else ""
    for words in (name, stated, head_text if not table.names else ""):
        unit = _UNIT_WORD.search(words)
        if unit:
            return _HZ_PER[unit.group(1).lower()], ""
    highest = max(row[frequency] for row in table.rows)
    guess = next(unit for unit, limit in (("ghz", 8), ("mhz", 7e3), ("khz", 5e6), ("hz", math.inf)) if highest <= limit)
    shown = {"ghz": "GHz", "mhz": "MHz", "khz": "kHz", "hz": "Hz"}[guess]
    return _HZ_PER[guess], f"The file does not name the unit of its frequencies: read as {shown}."


def _level_unit(stated: str, named: str, head_text: str) -> tuple[str, str]:
    for words in (stated, named, head_text):
        if _DBM.search(words):
            return "dBm", ""
        if _DBUV.search(words):
            return "dBuV", ""
    return "dB", "The file does not name a calibrated unit of its levels: read as dB relative to their own floor."
