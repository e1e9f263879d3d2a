"""The direct voltage on an antenna line: where it comes from, what stops it, and what does not get any."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, auto

from bandwright.core.kit import RadioType
from bandwright.core.reach.parts import part_name
from bandwright.core.rig import Run, Supply

__all__ = ["Line", "SupplyFinding", "lines_of", "supply_findings"]


class _State(Enum):
    """What is known of the voltage at a point of the line."""

    LIVE = auto()
    DEAD = auto()
    UNKNOWN = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyFinding:
    """One thing to know about the supply of a run: a short stable word and a sentence without the run's name."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One run with its voltage followed from the receiver to the antenna; `live` at the antenna: None if unknown."""

    run: Run
    findings: tuple[SupplyFinding, ...]
    live: bool | None


def supply_findings(runs: Sequence[Run], radio: RadioType) -> tuple[tuple[Run, SupplyFinding], ...]:
    """Return what is wrong with, or unknown of, the supply along the runs that feed one receiver.

    A cable passes a voltage; of other parts only what is stated counts. Nothing is told of runs on which nothing needs
    or gives one.
    """
    lines = lines_of(runs, radio)
    found = [(line.run, finding) for line in lines for finding in line.findings]
    live = [line for line in lines if line.live]
    for number, line in enumerate(live):
        for other in live[:number]:
            if line.run.antenna.id == other.run.antenna.id:
                text = f"two supplies meet at {line.run.antenna.name}: its own and that of {other.run.name}"
                found.append((line.run, SupplyFinding(code="supplies-meet", text=f"{text}; block one of them.")))
    return tuple(found)


def lines_of(runs: Sequence[Run], radio: RadioType) -> tuple[Line, ...]:
    """Return each run with its voltage followed from the receiver to the antenna."""
    return tuple(_line(run, radio) for run in runs)


def _line(run: Run, radio: RadioType) -> Line:
    state = {True: _State.LIVE, False: _State.DEAD, None: _State.UNKNOWN}[radio.antenna_supply]
    source = f"{radio.name}" if state is _State.LIVE else "the receiver"
    why = f"{radio.name} gives none" if state is _State.DEAD else f"antenna_supply of {radio.name} is not stated"
    findings: list[SupplyFinding] = []
    for part in reversed(run.parts):
        name = part_name(part)
        match part.supply:
            case Supply.GIVES:
                if state is _State.LIVE:
                    text = f"two supplies meet between {source} and {name}; switch one of them off."
                    findings.append(SupplyFinding(code="supplies-meet", text=text))
                state, source = _State.LIVE, name
            case Supply.BLOCKS:
                state, why = _State.DEAD, f"{name} blocks it"
            case Supply.NEEDS:
                findings.extend(_needs(name, state, why))
                state, why = _State.UNKNOWN, f"supply beyond {name} is not stated"
            case None if state is _State.LIVE:
                state, why = _State.UNKNOWN, f"supply of the {name} is not stated"
            case _:
                pass
    if run.antenna.supply is Supply.NEEDS:
        findings.extend(_needs(run.antenna.name, state, why))
    live = {_State.LIVE: True, _State.DEAD: False, _State.UNKNOWN: None}[state]
    return Line(run=run, findings=tuple(findings), live=live)


def _needs(name: str, state: _State, why: str) -> Iterator[SupplyFinding]:
    if state is _State.DEAD:
        yield SupplyFinding(code="no-supply", text=f"{name} gets no supply: {why}.")
    elif state is _State.UNKNOWN:
        yield SupplyFinding(code="supply-open", text=f"{name} needs a supply, and {why}.")
