"""Which of several traces in one file is read."""

from __future__ import annotations

import re
from collections.abc import Mapping

__all__ = ["UnknownTraceError", "chosen_traces"]

_LOWEST = re.compile(r"(?<![a-z])min", re.IGNORECASE)
_HIGHEST = re.compile(r"(?<![a-z])max|peak|hold", re.IGNORECASE)
_MEAN = re.compile(r"(?<![a-z])(avg|average|mean|typ|rms)", re.IGNORECASE)


class UnknownTraceError(ValueError):
    """No trace, or more than one, has the name that was asked for; `known` are those there are."""

    def __init__(self, wanted: str, known: tuple[str, ...]) -> None:
        self.known = known
        listed = ", ".join(repr(name) for name in known) if known else "none that has a name"
        super().__init__(f"There is no single trace {wanted!r} in this file; its traces: {listed}.")


def chosen_traces(traces: Mapping[str, str], wanted: str | None) -> tuple[tuple[str, ...], str]:
    """Return the names of the traces to read, and the sentence that says so where others are left out.

    `traces` maps a name to all words that tell its kind. Without a wish, held traces are read (they close), or else
    mean ones; traces of lowest levels never, since what they leave out would read quiet. Several of one kind are
    sweeps beside each other.

    Raises
    ------
    UnknownTraceError
        When no trace, or more than one, is called `wanted`, in whole or in part.
    """
    if wanted is not None:
        return _named(traces, wanted), ""
    for kind in (_HIGHEST, _MEAN):
        chosen = tuple(name for name, words in traces.items() if kind.search(words) and not _only_lowest(words))
        if chosen and len(chosen) < len(traces):
            shown = ", ".join(repr(name) for name in chosen)
            return chosen, f"Of the traces beside each other only {shown} is used: the others are of another kind."
    kept = tuple(name for name, words in traces.items() if not _LOWEST.search(words))
    return kept, "" if len(kept) == len(traces) else "Traces of lowest levels are not used."


def _only_lowest(words: str) -> bool:
    """Whether `min hold` is meant and not `max hold`."""
    return bool(_LOWEST.search(words)) and not re.search(r"(?<![a-z])max", words, re.IGNORECASE)


def _named(traces: Mapping[str, str], wanted: str) -> tuple[str, ...]:
    word = wanted.casefold().strip()
    for fits in (lambda name: name.casefold().strip() == word, lambda name: word and word in name.casefold()):
        found = tuple(name for name in traces if fits(name))
        if len(found) == 1:
            return found
        if found:
            break
    raise UnknownTraceError(wanted, tuple(traces))
