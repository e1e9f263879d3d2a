"""TOML text into plain tables with exact numbers; what is no TOML is refused in plain words."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from typing import Any

from bandwright.documents.faults import Findings, given_text
from bandwright.documents.lines import toml_lines
from bandwright.errors import InputError

__all__ = ["parse_toml"]

_PLACE = re.compile(r" ?\(at (?:line (\d+), column \d+|end of document)\)$")
# A key of parts joined by dots that nobody writes: the parser's time grows with the square of their number.
_DEEP_KEY = re.compile(r"""(?<![\w"'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){32}""")
_TOO_DEEP = "lists or tables lie too deep inside each other; a brief needs four levels."
_REMARK = re.compile(r"""\s*#[^"']*$""")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?\d+,\d+$")

# What the parser says -> what that means for somebody who writes a brief. First match counts.
_WORDS: tuple[tuple[str, str, str], ...] = (
    (
        "Cannot overwrite a value",
        "this name is there already",
        "Give a key once in its table; write [[name]] each time for a table that comes several times.",
    ),
    (
        "Cannot declare",
        "this table is there already",
        "Put its keys together, or write [[name]] each time for a table that comes several times.",
    ),
    ("Cannot mutate", "this adds to something that is finished", "Put all its keys in one place."),
    ("Invalid value", "there is no value that can be read", 'Put text in quotes: worn = "body". Numbers go without.'),
    ("Invalid date", "there is no such date or time", "Write dates as 2027-05-14."),
    ("Expected '='", "a key needs = and a value", "Write key = value, or start a table with [name] or [[name]]."),
    ("Invalid initial character for a key", "a key or a table should start here", "Put a # before remarks."),
    ("Invalid statement", "a key or a table should start here", "Put a # before remarks."),
    ("Expected newline", "something follows the value", "Put one key on a line."),
    ("Illegal character '\\n'", "a quote is not closed", "End the text with the same quote on the same line."),
    ("Unterminated string", "a quote is not closed", "End the text with the same quote."),
    ('Expected "\\"\\"\\""', "a quote is not closed", "End the text with three quotes, as it began."),
    ("Unclosed array", "a list is not closed", "End it with ]; put a comma between entries."),
    ("Unclosed inline table", "a table in braces is not closed", "End it with }, on the same line."),
    ("Duplicate inline table key", "a key stands twice in one table", "Give it once."),
    ("Exceeds the limit", "it holds a number of thousands of digits", "Write the number that is meant."),
    ("[<class 'decimal.", "it holds a number with an immense exponent", "Write the number that is meant."),
)


def parse_toml(text: str, *, file: str) -> tuple[dict[str, Any], Findings]:
    """Return the tables of a TOML text, numbers as decimals, and a place for findings that knows its lines."""
    text = text.removeprefix("\ufeff")
    if (deep := _DEEP_KEY.search(text)) is not None:
        raise InputError.single("no-toml", _TOO_DEEP, file=file, line=text.count("\n", 0, deep.start()) + 1)
    try:
        data = tomllib.loads(text, parse_float=Decimal)
        lines = toml_lines(text)
    except RecursionError as error:
        raise InputError.single("no-toml", _TOO_DEEP, file=file) from error
    except (ValueError, ArithmeticError) as error:
        raise _refusal(text, str(error), file=file) from error
    return data, Findings(file=file, data=data, lines=lines)


def _refusal(text: str, message: str, *, file: str) -> InputError:
    place = _PLACE.search(message)
    line = int(place[1]) if place and place[1] else None
    rows = text.split("\n")
    row = _REMARK.sub("", rows[line - 1].strip()) if line and line <= len(rows) else ""
    start, words, hint = next((item for item in _WORDS if message.startswith(item[0])), ("", "", ""))
    if not start:
        reason = _PLACE.sub("", message)
        words, hint = f"{reason[:1].lower()}{reason[1:]}", "`bandwright init` writes a brief that reads."
    if _DECIMAL_COMMA.search(row):
        words, hint = "a number has a comma", "Write a decimal point: 606.7."
    shown = f" in {given_text(row)}" if row else ""
    return InputError.single(
        "no-toml", f"this is no TOML: {words}{shown}.", file=file, line=line, given=row or None, hint=hint
    )
