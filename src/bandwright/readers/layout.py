"""How a table of columns is to be read: delimiter, decimal sign, units and columns, from the head of the file.

What the head does not say is assumed, and the assumption is put in words.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from bandwright.readers.text import level_of, number_of

__all__ = ["Layout", "fields_of", "layout_of"]

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


def fields_of(line: str, delimiter: str | None, *, joined: bool) -> list[str]:
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
        row = _numbers(fields_of(line, delimiter, joined=joined), decimal_comma=decimal_comma)
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
    names = tuple(name.strip() for name in fields_of(line.lstrip("#! "), delimiter, joined=False))
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
