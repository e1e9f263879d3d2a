"""Devices switched on one at a time: what each of them brings into the air."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bandwright.core.planning.plan import Warn
from bandwright.core.rises import OVER_HZ, Rises, rises_of
from bandwright.core.sweep import Sweep
from bandwright.documents.outputs import Input, RisesDocument, rises_document
from bandwright.errors import Cancelled
from bandwright.instruments.wish import Wish
from bandwright.service.context import Context
from bandwright.service.inputs import load_sweep
from bandwright.service.live import Rig, Stopped, record_sweeps
from bandwright.service.newfile import check_new_file
from bandwright.sheets.rises_text import rises_text
from bandwright.sheets.terminal import wrapped

__all__ = ["Measuring", "RisesFound", "record_rises"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measuring:
    """How each step is measured: by what, what is asked of it, for how long, and what is known of it beside that."""

    source: str
    wish: Wish
    seconds: float
    own_transmitters: str = "unknown"
    stated: Mapping[str, Any] = field(default_factory=dict)
    watch: Callable[[str], None] = lambda _: None
    rig: Rig | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RisesFound:
    """What each device brought, and the logs that it stands on."""

    rises: Rises
    logs: tuple[Path, ...]
    cut_short: bool
    inputs: tuple[Input, ...]
    warnings: tuple[Warn, ...]

    def document(self) -> RisesDocument:
        """Return the rises as the JSON document."""
        return rises_document(self.rises, inputs=self.inputs, warnings=self.warnings)

    def text(self, *, columns: int) -> str:
        """Return the table for a terminal of so many columns."""
        logs = wrapped(", ".join(map(str, self.logs)), columns, first="Logs: ")
        notes = [line for warning in self.warnings for line in wrapped(warning.in_terminal, columns, first="Note: ")]
        return rises_text(self.rises, columns=columns) + "".join(f"{line}\n" for line in ["", *logs, *notes])


def record_rises(
    working: Callable[[], AbstractContextManager[Context]],
    measuring: Measuring,
    *,
    log: Path,
    devices: Iterable[str],
    ready: Callable[[str], bool],
) -> RisesFound:
    """Measure the air with everything off, twice, and then with each device on alone; return what each brings.

    Parameters
    ----------
    working
        Opens the context of one measurement.
    log
        The new log of the first measurement; the others are written beside it, `NAME-again.csv`, `NAME-01-DEVICE.csv`.
    devices
        Their names, taken one by one as they are needed.
    ready
        Is told what to do, and returns once that is done; False ends the routine with what there is.

    Raises
    ------
    Cancelled
        When it ends before the first device was measured.
    InputError, MachineError
        As `record_sweeps` does; the logs so far stay.
    """
    again = _beside(log, "again")
    for path in (log, again):
        check_new_file(path, what="log", otherwise="--log another.csv", elsewhere="--log FOLDER/base.csv")
    base_ready = ready("Switch everything off that is to be tried.")
    if not base_ready or not (_measured(working, measuring, log) and _measured(working, measuring, again)):
        raise _stopped(log, again)
    logs: list[tuple[str, Path]] = []
    begun: list[Path] = []
    whole = True
    for number, name in enumerate(devices, start=1):
        path = _beside(log, f"{number:02d}-{_plain(name)}")
        begun.append(path)
        whole = ready(f"Switch on {name}, and it alone.") and _measured(working, measuring, path)
        if not whole:
            break
        logs.append((name, path))
    if not logs:
        raise _stopped(log, again, *begun)
    return _found(working, log, again, logs, cut_short=not whole)


def _stopped(*logs: Path) -> Cancelled:
    written = [str(path) for path in logs if path.exists()]
    return Cancelled("stopped before the first device was measured", written=written)


def _measured(working: Callable[[], AbstractContextManager[Context]], measuring: Measuring, log: Path) -> bool:
    """Measure one step; False where somebody stopped it."""
    with working() as context:
        try:
            done = record_sweeps(
                context,
                measuring.source,
                measuring.wish,
                log=log,
                own_transmitters=measuring.own_transmitters,
                stated=measuring.stated,
                seconds=measuring.seconds,
                watch=measuring.watch,
                rig=measuring.rig,
            )
        except Cancelled:
            return False
    return done.stopped is not Stopped.TOLD


def _found(
    working: Callable[[], AbstractContextManager[Context]],
    log: Path,
    again: Path,
    logs: list[tuple[str, Path]],
    *,
    cut_short: bool,
) -> RisesFound:
    sweeps: list[Sweep] = []
    inputs: list[Input] = []
    paths = (log, again, *(path for _, path in logs))
    with working() as context:
        for path in paths:
            sweep, files = load_sweep(context, path, bandwidths_hz=(OVER_HZ,))
            sweeps.append(sweep)
            inputs.extend(files)
    base, second, *rest = sweeps
    rises = rises_of(
        base=base, again=second, devices=[(name, sweep) for (name, _), sweep in zip(logs, rest, strict=True)]
    )
    told = Warn(code="stopped", text="Stopped, as asked; devices after the last one here were not measured.")
    return RisesFound(
        rises=rises,
        logs=paths,
        cut_short=cut_short,
        inputs=tuple(inputs),
        warnings=(told,) if cut_short else (),
    )


def _beside(log: Path, word: str) -> Path:
    return log.with_name(f"{log.stem}-{word}{log.suffix or '.csv'}")


def _plain(name: str) -> str:
    """Return a name with nothing in it that a file name could not have."""
    return re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-").lower()[:40] or "device"
