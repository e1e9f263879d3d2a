"""What goes wrong, in the one shape that every error of the API has."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from fastapi import Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

from bandwright.errors import Cancelled, Fault, InputError, MachineError
from bandwright.service.entries import EditConflict
from bandwright.service.history import UndoRefused
from bandwright.service.job_brief import CellFault, CellFaults
from bandwright.service.job_plans import Overtaken
from bandwright.service.notes import NoteConflict
from bandwright.service.runs import RunGoing
from bandwright.web.exact import Exact

__all__ = ["Refusal", "RefusedError", "cell_faults", "faults_of", "refusal", "refusal_of"]

_MOST_SHOWN = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A status and what is told with it; `more` stands beside the errors, such as both values of a conflict."""

    status: int
    errors: list[dict[str, Any]]
    more: Mapping[str, Any] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)

    @property
    def body(self) -> dict[str, Any]:
        """Return the object that is sent."""
        return {"errors": self.errors, **self.more}

    def response(self) -> Response:
        """Return the answer."""
        return Exact(self.body, self.status, headers=dict(self.headers))


class RefusedError(Exception):
    """A route refuses for a reason of the network's: who asks, and how often."""

    def __init__(
        self, status: int, code: str, text: str, *, hint: str | None = None, headers: Mapping[str, str] | None = None
    ) -> None:
        self.refusal = refusal(status, code, text, hint=hint, headers=headers)
        super().__init__(text)


def faults_of(faults: Iterable[Fault]) -> list[dict[str, Any]]:
    """Return faults as they are written, of no cell."""
    return [asdict(fault) | {"uid": None, "field": None} for fault in faults]


def cell_faults(cells: Iterable[CellFault]) -> list[dict[str, Any]]:
    """Return faults as they are written, each with its cell."""
    return [asdict(cell.fault) | {"uid": cell.uid, "field": cell.field} for cell in cells]


def refusal(
    status: int, code: str, text: str, *, hint: str | None = None, headers: Mapping[str, str] | None = None
) -> Refusal:
    """Return a refusal for one reason."""
    return Refusal(status=status, errors=faults_of([Fault(code=code, text=text, hint=hint)]), headers=headers or {})


def refusal_of(error: Exception) -> Refusal | None:
    """Return what an error comes to; None is our own bug."""
    for kind, explain in _KINDS.items():
        if isinstance(error, kind):
            return explain(error)
    return None


def _input(error: InputError) -> Refusal:
    missing = all(fault.code.startswith("no-such-") for fault in error.faults)
    return Refusal(status=404 if missing else 422, errors=faults_of(error.faults))


def _cells(error: CellFaults) -> Refusal:
    return Refusal(status=422, errors=cell_faults(error.cells))


def _conflict(error: EditConflict) -> Refusal:
    entry = error.entry
    cells = [CellFault(fault=fault, uid=entry.uid, field=fault.key) for fault in error.faults]
    both = {"yours": error.yours, "theirs": error.theirs, "by": error.by, "entry": asdict(entry)}
    return Refusal(status=409, errors=cell_faults(cells), more=both)


def _note(error: NoteConflict) -> Refusal:
    both = {"yours": error.yours, "theirs": error.theirs, "by": error.by}
    return Refusal(status=409, errors=faults_of(error.faults), more=both)


def _undo(error: UndoRefused) -> Refusal:
    return Refusal(status=409, errors=faults_of(error.faults), more={"clashes": list(map(asdict, error.clashes))})


def _overtaken(error: InputError) -> Refusal:
    return Refusal(status=409, errors=faults_of(error.faults))


def _machine(error: MachineError) -> Refusal:
    return refusal(503, "machine", str(error))


def _cancelled(_: Cancelled) -> Refusal:
    return refusal(409, "cancelled", "That was stopped before it was done.", hint="Ask again.")


def _http(error: HTTPException) -> Refusal:
    code, text = _HTTP.get(error.status_code, ("refused", str(error.detail)))
    return refusal(error.status_code, code, text or str(error.detail), headers=error.headers)


_HTTP = {
    400: ("unreadable", "The body of this request cannot be read."),
    404: ("no-such-address", "There is nothing under this address."),
    405: ("no-such-method", "This address does not take that kind of request."),
    413: ("too-large", ""),
}


def _shape(error: RequestValidationError) -> Refusal:
    """Return what does not fit the description of the API; a body that is no JSON is told as such."""
    found = error.errors()
    if any(item["type"] == "json_invalid" for item in found):
        text = f"The body is no JSON: {found[0].get('ctx', {}).get('error', found[0]['msg'])}."
        return refusal(400, "no-json", text)
    faults = [
        Fault(
            code=f"shape-{item['type']}".replace("_", "-"),
            text=f"{'.'.join(map(str, item['loc'][1:])) or 'the body'}: {item['msg']}.",
            key=".".join(map(str, item["loc"][1:])) or None,
            given=str(item.get("input"))[:_MOST_SHOWN],
        )
        for item in found
    ]
    return Refusal(status=422, errors=faults_of(faults))


_KINDS: dict[type[Exception], Callable[[Any], Refusal]] = {
    RefusedError: lambda error: error.refusal,
    EditConflict: _conflict,
    CellFaults: _cells,
    NoteConflict: _note,
    UndoRefused: _undo,
    Overtaken: _overtaken,
    RunGoing: _overtaken,
    InputError: _input,
    MachineError: _machine,
    Cancelled: _cancelled,
    RequestValidationError: _shape,
    HTTPException: _http,
}
