"""Read the carriers of a plan back from its plan.json."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StrictInt, StrictStr, ValidationError
from pydantic_core import from_json

from bandwright.documents.faults import given_text, key_text
from bandwright.documents.outputs.plan import SCHEMA
from bandwright.errors import Fault, InputError
from bandwright.units import mhz_text

__all__ = ["StoredPlan", "read_plan"]

_HINT = "Name a plan.json that `bandwright plan BRIEF --out DIR` wrote."
_LINE = re.compile(r" at line (\d+) column \d+$")
_HIGHEST_HZ = 10**12


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPlan:
    """What a plan.json says: carriers of links and of spare carriers by id, in Hz.

    `unplaced` are the ids that it found no carrier for; `inputs` holds the SHA-256 of each file it was made from.
    """

    title: str
    number: int
    check_phrase: str
    links: dict[str, int]
    spares: dict[str, int]
    unplaced: frozenset[str]
    inputs: frozenset[str]

    @property
    def carriers(self) -> dict[str, int]:
        """All carriers by id."""
        return self.links | self.spares


class _Part(BaseModel):
    """A later version of the program may say more in a plan; what is not needed here is not read."""

    model_config = ConfigDict(extra="ignore", frozen=True)


class _Carrier(_Part):
    id: StrictStr
    carrier_hz: Annotated[StrictInt, Field(gt=0, lt=_HIGHEST_HZ)]
    carrier_mhz: StrictStr


class _Unplaced(_Part):
    id: StrictStr


class _Input(_Part):
    sha256: StrictStr


class _Job(_Part):
    title: StrictStr


class _Plan(_Part):
    job: _Job
    number: Annotated[StrictInt, Field(gt=0)]
    check_phrase: StrictStr
    links: list[_Carrier]
    spares: list[_Carrier]
    unplaced: list[_Unplaced] = []
    inputs: list[_Input]


def read_plan(text: str, *, file: str) -> StoredPlan:
    """Return the carriers of a plan.json.

    Raises
    ------
    InputError
        When the text is no plan of this program, or its carriers contradict themselves.
    """
    found = _parsed(text, file)
    try:
        plan = _Plan.model_validate(found)
    except ValidationError as error:
        raise InputError([_fault(dict(item), file) for item in error.errors()]) from error
    faults = _contradictions(plan, file)
    if faults:
        raise InputError(faults)
    return StoredPlan(
        title=plan.job.title,
        number=plan.number,
        check_phrase=plan.check_phrase,
        links={item.id: item.carrier_hz for item in plan.links},
        spares={item.id: item.carrier_hz for item in plan.spares},
        unplaced=frozenset(item.id for item in plan.unplaced),
        inputs=frozenset(item.sha256 for item in plan.inputs),
    )


def _parsed(text: str, file: str) -> dict[str, Any]:
    try:
        found = from_json(text.removeprefix("\ufeff").encode(errors="replace"))
    except ValueError as error:
        where = _LINE.search(str(error))
        line = int(where.group(1)) if where else None
        words = f"this is no plan: it cannot be read as JSON ({_LINE.sub('', str(error))})."
        raise InputError.single("not-json", words, file=file, line=line, allowed=SCHEMA, hint=_HINT) from error
    schema = found.get("schema") if isinstance(found, dict) else None
    if schema != SCHEMA:
        what = f"its schema is {given_text(schema)}" if schema is not None else "it carries no schema"
        words = f'this is no plan that can be read here: {what}, "{SCHEMA}" is needed.'
        given = None if schema is None else given_text(schema)
        raise InputError.single("not-a-plan", words, file=file, key="schema", given=given, allowed=SCHEMA, hint=_HINT)
    return dict(found)


def _fault(item: dict[str, Any], file: str) -> Fault:
    key = key_text(item["loc"])
    if item["type"] == "missing":
        text, given = f"{key} is missing from this plan.", None
    else:
        given = given_text(item["input"])
        text = f"{key} is {given}: {item['msg'][0].lower()}{item['msg'][1:]}."
    return Fault(code="bad-plan", text=text, file=file, key=key, given=given, hint=_HINT)


def _contradictions(plan: _Plan, file: str) -> list[Fault]:
    both = [*plan.links, *plan.spares]
    faults = [
        Fault(
            code="twice",
            text=f"{given_text(name)} stands in this plan {count} times; an id stands there once.",
            file=file,
            key="id",
            given=name,
            hint=_HINT,
        )
        for name, count in Counter(item.id for item in both).items()
        if count > 1
    ]
    for item in both:
        if item.carrier_mhz != mhz_text(item.carrier_hz):
            text = (
                f"{item.id} is on {item.carrier_hz} Hz and on {given_text(item.carrier_mhz)} MHz; "
                "the two must be the same carrier."
            )
            faults.append(Fault(code="contradiction", text=text, file=file, key="carrier_mhz", hint=_HINT))
    return faults
