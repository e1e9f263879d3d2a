"""The words that stand above tables of levels, in any of the spellings met: units, settings, traces, dates."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from bandwright.readers.text import number_of

__all__ = [
    "FREQUENCY",
    "HZ_PER",
    "UNIT_WORD",
    "hz_of",
    "is_upper_edge",
    "level_unit",
    "plain_frequency",
    "settings_in",
    "trace_in",
]

HZ_PER = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
UNIT_WORD = re.compile(r"(?<![a-z])([kmg]?hz)(?![a-z])", re.IGNORECASE)
FREQUENCY = re.compile(r"freq|(?<![a-z])[kmg]?hz(?![a-z])|frequenz|fr[eé]quence", re.IGNORECASE)
_UPPER = re.compile(r"(?<![a-z])(upper|high|stop|end|to)(?![a-z])", re.IGNORECASE)
_LOWER = re.compile(r"(?<![a-z])(lower|low|start|begin|from)(?![a-z])", re.IGNORECASE)

# What a level is measured in: looked for in this order, the longer spellings first. Densities and linear values have no
# unit of ours: they stand over their own floor.
_LEVEL_UNITS = (
    (re.compile(r"db\w{0,2}\s*/\s*hz", re.IGNORECASE), "dB"),
    (re.compile(r"db\s*\(?[uµ]v\s*/\s*m", re.IGNORECASE), "dBuV/m"),
    (re.compile(r"db\s*\(?[uµ]v", re.IGNORECASE), "dBuV"),
    (re.compile(r"db\s*\(?m(?![a-z])", re.IGNORECASE), "dBm"),
)

# Words of analysers' settings and what they are to us.
_SETTINGS = {
    "rbw": "rbw",
    "resolution bandwidth": "rbw",
    "res bw": "rbw",
    "y axis unit": "unit",
    "y-unit": "unit",
    "y unit": "unit",
    "amplitude unit": "unit",
    "level unit": "unit",
    "x axis units": "frequency_unit",
    "x axis unit": "frequency_unit",
    "x-unit": "frequency_unit",
    "x unit": "frequency_unit",
    "number of points": "points",
    "sweep points": "points",
    "points": "points",
    "values": "points",
    "start frequency": "start",
    "start freq": "start",
    "start": "start",
    "stop frequency": "stop",
    "stop freq": "stop",
    "stop": "stop",
    "trace": "trace",
    "trace name": "trace",
    "trace number": "trace",
    "trace type": "kind",
    "trace mode": "kind",
}
_OF_ONE_TABLE = frozenset({"trace", "kind", "points"})
_TRACE_HEADING = re.compile(r"\W*(trace\s*[-_ ]?\s*(?:[a-z]|\d{1,2}))\W*$", re.IGNORECASE)
_KIND_HEADING = re.compile(
    r"\W*((max|min)(imum)?([ _-]?hold)?|average|avg|mean|clear[ /_-]*write|peak[ _-]?hold)\W*$", re.IGNORECASE
)
_ISO_DATE = re.compile(r"(?<!\d)(\d{4})-(\d\d)-(\d\d)(?!\d)")
_OTHER_DATE = re.compile(r"(?<!\d)(\d{1,2})[./](\d{1,2})[./](\d{4})(?!\d)")
_CLOCK = re.compile(r"(?<![\d:])(\d{1,2}):(\d\d):(\d\d)(?![\d:])")
_GROUPED = re.compile(r"[-+]?\d{1,3}(?P<mark>[.,'’\xa0])\d{3}(?:(?P=mark)\d{3})*(?P<rest>[.,]\d+)?$")


def is_upper_edge(name: str) -> bool | None:
    """Whether a column of frequencies holds upper edges of bins, lower ones (False), or neither (None)."""
    if _UPPER.search(name):
        return True
    return False if _LOWER.search(name) else None


def level_unit(*places: str) -> tuple[str, str]:
    """Return the unit that the first of the places names, and the sentence for where none does."""
    for words in places:
        for pattern, unit in _LEVEL_UNITS:
            if pattern.search(words):
                return unit, _DENSITY if unit == "dB" else ""
    return "dB", "The file does not name a calibrated unit of its levels: read as dB relative to their own floor."


_DENSITY = "The levels are densities (in 1 Hz): read as dB relative to their own floor."


def settings_in(above: Sequence[str], before: Mapping[str, str]) -> dict[str, str]:
    """Return what the lines above a table state (`RBW,+1.0e+03,MAN`, `RBW: 10 kHz`, `Start;470;MHz`).

    `before` is what earlier tables of the file stated; it holds on, but for what belongs to one table.
    """
    found = {key: value for key, value in before.items() if key not in _OF_ONE_TABLE}
    if (stamp := _stamp_in(above)) is not None:
        found["stamp"] = stamp.isoformat()
    for line in above:
        setting = _setting(line)
        heading = _TRACE_HEADING.match(line) or _KIND_HEADING.match(line)
        if setting is not None:
            found[setting[0]] = setting[1]
        elif heading is not None:
            found["trace"] = heading[1].strip()
    return found


def _setting(line: str) -> tuple[str, str] | None:
    key, mark, value = _split(line)
    bare = re.sub(r"[(\[].*", "", key).strip(' #!"*').lower()
    if not mark or bare not in _SETTINGS:
        return None
    fields = re.split(r"[;\t]" if mark in ";\t" else r"[,;\t]", value)
    first = fields[0].strip(' "')
    unit = fields[1].strip(' "') if len(fields) > 1 and UNIT_WORD.fullmatch(fields[1].strip(' "')) else ""
    in_key = UNIT_WORD.search(key)
    if in_key and not UNIT_WORD.search(first):
        unit = unit or in_key[1]
    return _SETTINGS[bare], f"{first} {unit}".strip()


def _split(line: str) -> tuple[str, str, str]:
    found = re.search(r"[;\t=:,]", line)
    if found is None:
        return line, "", ""
    return line[: found.start()], found[0], line[found.end() :].lstrip(" ")


def trace_in(line: str) -> bool:
    """Whether a line between tables begins another one: a setting, the name or the kind of a trace."""
    return _setting(line) is not None or bool(_TRACE_HEADING.match(line) or _KIND_HEADING.match(line))


def hz_of(words: str) -> float | None:
    """Return Hz from `+1.0e+03`, `10 kHz`, `0,3 MHz`; None where it is no number of at least 0."""
    unit = UNIT_WORD.search(words)
    value = number_of(UNIT_WORD.sub("", words).strip().replace(",", "."))
    hz = value * HZ_PER[unit[1].lower() if unit else "hz"] if value is not None else None
    return hz if hz is not None and hz >= 0 else None


def _stamp_in(above: Iterable[str]) -> datetime | None:
    """Return date and time from the lines above a table; None where either is missing or could be read in two ways."""
    date: tuple[int, int, int] | None = None
    clock: tuple[int, int, int] | None = None
    for line in above:
        if date is None and (iso := _ISO_DATE.search(line)):
            date = int(iso[1]), int(iso[2]), int(iso[3])
        elif date is None and (other := _OTHER_DATE.search(line)):
            date = _unambiguous(int(other[1]), int(other[2]), int(other[3]))
        if clock is None and (found := _CLOCK.search(line)):
            clock = int(found[1]), int(found[2]), int(found[3])
    if date is None or clock is None:
        return None
    try:
        return datetime(*date, *clock)  # noqa: DTZ001  # as the file writes it, without a time zone
    except ValueError:
        return None


def _unambiguous(one: int, two: int, year: int) -> tuple[int, int, int] | None:
    if one > 12 or one == two:
        return year, two, one
    return (year, one, two) if two > 12 else None


def plain_frequency(word: str, *, decimal_comma: bool) -> str:
    """Return a frequency with a decimal point and nothing between its thousands.

    A point or comma between thousands is one only where it comes twice or the other sign follows: `606.025` stays.
    """
    word = word.strip()
    if found := _GROUPED.match(word):
        mark, rest = found["mark"], found["rest"] or ""
        whole = word[: len(word) - len(rest)]
        if mark not in ".," or whole.count(mark) > 1 or (rest and rest[0] != mark):
            return whole.replace(mark, "") + rest.replace(",", ".")
    return word.replace(",", ".") if decimal_comma else word
