"""How a table of columns is to be read: delimiter, decimal sign, units and columns, from the head of the file.

What the head does not say is assumed, and the assumption is put in words.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from bandwright.readers.layout_words import (
    FREQUENCY,
    HZ_PER,
    UNIT_WORD,
    hz_of,
    is_upper_edge,
    level_unit,
    plain_frequency,
    settings_in,
)
from bandwright.readers.text import level_of, number_of, time_of
from bandwright.readers.traces import chosen_traces

__all__ = ["Layout", "fields_of", "layout_of", "names_columns"]

_LOOKED_AT = 60
# None: any run of spaces; a comma may be a decimal sign, so it comes late.
_DELIMITERS = (";", "\t", "^", "|", ",", None)
_FEWEST_ROWS = 3
_LONGEST_QUOTED = 20_000  # a longer line with quotes in it is no row of ours


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How to read a row.

    `levels` are the columns that hold levels; `skip` is how many lines stand before the rows. `frequency` is a column,
    or -1 where only `start_hz` and `stop_hz` tell the frequencies; `second` is the column of upper edges beside lower
    ones. `upper_edge` says that frequencies are edges of bins (False: lower ones). `traces` are the names that could be
    chosen from, `trace` the one that was; `block` is the name of the trace that the whole table is, `kind` the words
    that tell its kind. `heading` is the line that names the columns. `settings` is what the file stated so far.
    """

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
    second: int | None = None
    upper_edge: bool | None = None
    start_hz: float | None = None
    stop_hz: float | None = None
    traces: tuple[str, ...] = ()
    trace: str | None = None
    block: str | None = None
    kind: str = ""
    time: datetime | None = None
    heading: str = ""
    settings: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """The rows of numbers that were found in the head, and the words above them."""

    delimiter: str | None
    decimal_comma: bool
    joined: bool
    skip: int
    names: tuple[str, ...]
    rows: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Columns:
    """Where frequencies and levels stand, and what was chosen."""

    frequency: int
    second: int | None
    upper_edge: bool | None
    levels: tuple[int, ...]
    traces: tuple[str, ...]
    trace: str | None
    said: str


def fields_of(line: str, delimiter: str | None, *, joined: bool) -> list[str]:
    """Return the fields of a line, quotes off; `joined` puts numbers with an unquoted decimal comma together."""
    if delimiter is None:
        fields = line.split()
    elif '"' not in line:
        fields = line.split(delimiter)
    else:
        fields = _unquoted(line, delimiter) if len(line) <= _LONGEST_QUOTED else [line]
    if joined and len(fields) % 2 == 0:
        return [f"{whole.strip()},{part.strip()}" for whole, part in zip(fields[::2], fields[1::2], strict=True)]
    return fields


def _unquoted(line: str, delimiter: str) -> list[str]:
    """Return the fields of a line with quotes around whole fields taken off; a quote anywhere else stays and spoils it.

    >>> _unquoted('606,5;"-64,7";-6"4', ";")
    ['606,5', '-64,7', '-6"4']
    """
    fields: list[str] = []
    part: list[str] = []
    quotes = 0
    quoted = False
    for character in line:
        if character == delimiter and not (quoted and quotes == 1):
            fields.append("".join(part))
            part, quotes, quoted = [], 0, False
            continue
        if character == '"':
            if not quoted and not "".join(part).strip():
                part, quotes, quoted = [], 0, True
            quotes += 1
        part.append(character)
    return [_bare(text) for text in (*fields, "".join(part))]


def _bare(text: str) -> str:
    whole = text.strip()
    return whole[1:-1] if len(whole) > 1 and whole[0] == whole[-1] == '"' and whole.count('"') == 2 else text


def layout_of(lines: list[str], *, wanted: str | None = None, before: Mapping[str, str] | None = None) -> Layout | None:
    """Return how the rows are to be read, or None where there are no rows of numbers.

    `wanted` is the trace that the user asked for, `before` what earlier tables of the file stated.

    Raises
    ------
    UnknownTraceError
        When several traces stand beside each other and none, or more than one, is called `wanted`.
    """
    table = _best_table(lines)
    settings = settings_in(lines[: table.skip if table is not None else len(lines)], before or {})
    if table is None:
        return _levels_alone(lines, settings)
    above = lines[: table.skip]
    columns = _columns(table, None if "trace" in settings else wanted)
    if not columns.levels:
        return None
    head_text = " ".join(above[-8:])
    start_hz, stop_hz = _counted_range(table, columns, settings)
    hz_per_unit, said_unit = 1.0, ""
    if start_hz is None:
        stated = settings.get("frequency_unit", "")
        hz_per_unit, said_unit = _frequency_unit(table, columns.frequency, stated, head_text)
    named = " ".join(table.names[column] for column in columns.levels if column < len(table.names))
    unit, said_level = level_unit(named, settings.get("unit", ""), head_text)
    rbw_hz = hz_of(settings.get("rbw", "")) or None
    return Layout(
        delimiter=table.delimiter,
        decimal_comma=table.decimal_comma,
        joined=table.joined,
        frequency=columns.frequency if start_hz is None else -1,
        start_hz=start_hz,
        stop_hz=stop_hz,
        second=columns.second,
        upper_edge=columns.upper_edge,
        levels=columns.levels,
        hz_per_unit=hz_per_unit,
        unit=unit,
        rbw_hz=rbw_hz,
        points=_points(settings),
        skip=table.skip,
        said=tuple(text for text in (said_unit, said_level, _said_rbw(rbw_hz), columns.said) if text),
        traces=columns.traces,
        trace=columns.trace,
        block=settings.get("trace"),
        kind=settings.get("kind", ""),
        time=time_of(settings.get("stamp", "")),
        heading=_heading(above, table.delimiter),
        settings=settings,
    )


def _counted_range(table: _Table, columns: _Columns, settings: Mapping[str, str]) -> tuple[float | None, float | None]:
    """Return start and stop frequency where the file states them and its rows are only counted."""
    start, stop = hz_of(settings.get("start", "")), hz_of(settings.get("stop", ""))
    named = columns.frequency < len(table.names) and _is_frequency(table.names[columns.frequency])
    counted = all(row[0] - table.rows[0][0] == index for index, row in enumerate(table.rows))
    if start is None or stop is None or named or not start < stop or table.rows[0][0] not in (0, 1) or not counted:
        return None, None
    return (start, stop) if columns.frequency == 0 else (None, None)


def _heading(above: list[str], delimiter: str | None) -> str:
    last = next((line.strip() for line in reversed(above) if line.strip()), "")
    return last if names_columns(last, delimiter) else ""


def _said_rbw(rbw_hz: float | None) -> str:
    return "" if rbw_hz else "The file states no resolution bandwidth: carriers narrower than a step are not measured."


def _points(settings: Mapping[str, str]) -> int | None:
    points = number_of(settings.get("points", ""))
    return int(points) if points is not None and 1 <= points < 1e9 else None


def _levels_alone(lines: list[str], settings: dict[str, str]) -> Layout | None:
    """Return the layout of levels without frequencies, one in each row, below a start and a stop frequency."""
    start, stop = hz_of(settings.get("start", "")), hz_of(settings.get("stop", ""))
    if start is None or stop is None or not start < stop:
        return None
    alone = [bool(line.strip()) and level_of(line.strip(' ",;\t').replace(",", ".")) is not None for line in lines]
    skip = next((row for row in range(len(alone)) if all(alone[row : row + _FEWEST_ROWS])), len(lines))
    if skip + _FEWEST_ROWS > len(lines):
        return None
    above = lines[:skip]
    unit, said_level = level_unit(settings.get("unit", ""), " ".join(above[-8:]))
    rbw_hz = hz_of(settings.get("rbw", "")) or None
    return Layout(
        delimiter=";",
        decimal_comma=any("," in line.strip(' ",;\t') for line in lines[skip:]),
        joined=False,
        frequency=-1,
        levels=(0,),
        hz_per_unit=1.0,
        unit=unit,
        rbw_hz=rbw_hz,
        points=_points(settings),
        skip=skip,
        said=tuple(text for text in (said_level, _said_rbw(rbw_hz)) if text),
        start_hz=start,
        stop_hz=stop,
        block=settings.get("trace"),
        kind=settings.get("kind", ""),
        time=time_of(settings.get("stamp", "")),
        settings=settings,
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
            if table is not None and (best is None or _is_better(table, best)):
                best = table
    if (
        best is not None
        and best.delimiter == ","
        and not best.decimal_comma
        and _is_split_by_decimal_comma(best, lines)
    ):
        return _table(lines, ",", decimal_comma=True, joined=True) or best
    return best


def _is_better(one: _Table, two: _Table) -> bool:
    """Whether a table begins earlier by more than the rows of the other, or else has more rows."""
    return (len(one.rows) > len(two.rows) and one.skip <= two.skip) or one.skip + len(one.rows) <= two.skip


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
        row = _numbers(fields_of(line, delimiter, joined=joined), decimal_comma=decimal_comma)
        if row is None:
            if len(rows) >= _FEWEST_ROWS and line.strip():
                break  # another table may follow, with another layout
            if line.strip():
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
    first = number_of(plain_frequency(fields[0], decimal_comma=decimal_comma))
    if first is None:
        return None
    words = [part.replace(",", ".") if decimal_comma else part for part in fields]
    values = [level_of(word) for word in words]
    if values[1] is None:
        values[1] = number_of(plain_frequency(fields[1], decimal_comma=decimal_comma))
    if values[1] is None:
        return None
    return (first, *(math.nan if value is None else value for value in values[1:]))


def _names(above: list[str], delimiter: str | None) -> tuple[str, ...]:
    """Return the names of the columns: the last line above the rows, where it has several fields."""
    line = next((line for line in reversed(above) if line.strip()), "")
    return _as_names(line, delimiter)


def _as_names(line: str, delimiter: str | None) -> tuple[str, ...]:
    names = tuple(part.strip() for part in fields_of(line.lstrip("#! "), delimiter, joined=False))
    is_setting = bool(settings_in([line], {})) and not FREQUENCY.search(names[0])
    return names if len(names) > 1 and not is_setting and number_of(names[1]) is None else ()


def names_columns(line: str, delimiter: str | None) -> bool:
    """Whether a line between rows names the columns of another table."""
    names = _as_names(line, delimiter)
    return any(FREQUENCY.search(name) for name in names) and all(number_of(name) is None for name in names)


def _columns(table: _Table, wanted: str | None) -> _Columns:
    frequency = _frequency_column(table)
    edge = is_upper_edge(table.names[frequency]) if frequency < len(table.names) else None
    second = _second_edge(table, frequency) if edge is False else None
    levels = _level_columns(table, frequency if second is None else second)
    names = _trace_names(table, levels)
    chosen, said = chosen_traces({name: name for name in names}, wanted if len(names) > 1 else None)
    several = len(names) > 1
    return _Columns(
        frequency=frequency,
        second=second,
        upper_edge=None if second is not None else edge,
        levels=tuple(names[name] for name in chosen),
        traces=tuple(names) if several else (),
        trace=chosen[0] if several and len(chosen) == 1 else None,
        said=said,
    )


def _frequency_column(table: _Table) -> int:
    named = [index for index, name in enumerate(table.names) if _is_frequency(name) and index < len(table.rows[0])]
    if named:
        return named[0]
    columns = list(zip(*(row[:2] for row in table.rows), strict=True))
    counts = all(two - one == 1 for one, two in zip(columns[0], columns[0][1:], strict=False))
    rises = all(one < two for one, two in zip(columns[1], columns[1][1:], strict=False))
    return 1 if len(table.rows[0]) > 2 and counts and columns[0][0] in (0, 1) and rises else 0


def _is_frequency(name: str) -> bool:
    return bool(FREQUENCY.search(name)) and "db" not in name.lower()


def _second_edge(table: _Table, frequency: int) -> int | None:
    """Return the column of upper edges beside that of lower ones."""
    beside = frequency + 1
    if beside >= len(table.names) or "db" in table.names[beside].lower() or not is_upper_edge(table.names[beside]):
        return None
    above = all(row[beside] > row[frequency] for row in table.rows if beside < len(row))
    return beside if above and min(map(len, table.rows)) > beside + 1 else None


def _level_columns(table: _Table, frequency: int) -> tuple[int, ...]:
    """Return the columns of levels; a second column of frequencies begins another table."""
    width = min(len(row) for row in table.rows)
    candidates = list(range(frequency + 1, width)) or [index for index in range(width) if index != frequency][-1:]
    names = {column: table.names[column] for column in candidates if column < len(table.names)}
    other = [column for column, name in names.items() if not name or _is_frequency(name)]
    if other and other[0] != candidates[0]:
        candidates = [column for column in candidates if column < other[0]]
    in_db = [column for column in candidates if "db" in names.get(column, "").lower()]
    return tuple(in_db or candidates)


def _trace_names(table: _Table, columns: tuple[int, ...]) -> dict[str, int]:
    """Return the columns by name; one without a name, or with that of another, is called by its place."""
    found: dict[str, int] = {}
    for column in columns:
        name = table.names[column] if column < len(table.names) else ""
        place = f"column {column + 1}"
        found[place if not name else f"{name} ({place})" if name in found else name] = column
    return found


def _frequency_unit(table: _Table, frequency: int, stated: str, head_text: str) -> tuple[float, str]:
    name = table.names[frequency] if frequency < len(table.names) else ""
    for words in (name, stated, head_text if not table.names else ""):
        unit = UNIT_WORD.search(re.sub(r"/\s*hz", "", words, flags=re.IGNORECASE))
        if unit:
            return HZ_PER[unit[1].lower()], ""
    highest = max(row[frequency] for row in table.rows)
    guess = next(unit for unit, limit in (("ghz", 8), ("mhz", 7e3), ("khz", 5e6), ("hz", math.inf)) if highest <= limit)
    shown = {"ghz": "GHz", "mhz": "MHz", "khz": "kHz", "hz": "Hz"}[guess]
    return HZ_PER[guess], f"The file does not name the unit of its frequencies: read as {shown}."
