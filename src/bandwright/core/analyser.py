"""How one kind of spectrum analyser is spoken to, as data: which commands it takes and what it answers."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PLACES", "AnalyserKind"]

PLACES = ("start_hz", "stop_hz", "rbw_hz", "points")
"""What commands may name in braces, as in `SENSe:FREQuency:STARt {start_hz}`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyserKind:
    """Commands of one kind of analyser; `set_range` may name the `PLACES`.

    `answers_to` are words in its reply to `*IDN?`, none for the kind that any other analyser is taken to be. A trace
    has at most `most_points`. Where `ask_unit` is None, levels are in `unit`; where `ask_error` is None, refused
    commands go unnoticed.
    """

    id: str
    name: str
    answers_to: tuple[str, ...]
    most_points: int
    prepare: tuple[str, ...]
    set_range: tuple[str, ...]
    ask_points: str
    ask_rbw: str
    sweep: str
    ask_trace: str
    ask_unit: str | None
    ask_error: str | None
    unit: str

    def __post_init__(self) -> None:
        if self.most_points < 2:
            raise ValueError(f"a trace has two points or more; given {self.most_points}")

    def answers(self, identity: str) -> bool:
        """Whether an analyser with this reply to `*IDN?` is of this kind."""
        return bool(self.answers_to) and all(word.lower() in identity.lower() for word in self.answers_to)
