"""The shipped rule tables, as text for a terminal."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from bandwright.core.library import RuleTable
from bandwright.core.words import CONFIDENCE_WORDS, terms_words
from bandwright.sheets.terminal import wrapped

__all__ = ["rules_text"]


def rules_text(tables: Sequence[RuleTable], caution: str, *, in_full: bool, columns: int = 100) -> str:
    """Return rule tables in short, or in full, with the caution that goes with them."""
    show = _in_full if in_full else _in_short
    lines = [line for table in tables for line in (*show(table, columns), "")]
    return "\n".join([*lines, *wrapped(caution, columns)]) + "\n"


def _in_short(table: RuleTable, columns: int) -> Iterator[str]:
    windows = f"{len(table.windows)} window{'' if len(table.windows) == 1 else 's'}"
    yield table.id
    yield from wrapped(f"{table.name} ({table.where})", columns, first="  ")
    yield from wrapped(f"edition: {table.edition}", columns, first="  ")
    yield from wrapped(f"{table.licence}; {windows}; {CONFIDENCE_WORDS[table.confidence]}", columns, first="  ")


def _in_full(table: RuleTable, columns: int) -> Iterator[str]:
    yield from _in_short(table, columns)
    yield ""
    for terms, windows in itertools.groupby(table.windows, key=terms_words):
        yield from wrapped(", ".join(str(window.span) for window in windows), columns, first="  ")
        yield from wrapped(terms, columns, first="    ")
    yield ""
    for text in (*table.sources, *table.notes):
        yield from wrapped(text, columns, first="  - ")
