"""`job.json` of an exported job: names every file beside it, and holds what has no file of its own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from typing import Annotated, Any, Final, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from bandwright import exact_json
from bandwright.documents.brief.plain import ALWAYS, DEEPEST, ONCE
from bandwright.documents.brief.writer import KINDS
from bandwright.documents.faults import given_text, key_text
from bandwright.errors import Fault, InputError

__all__ = [
    "EXPORT_SCHEMA",
    "EntryRow",
    "JobExport",
    "NoteRow",
    "PlanRow",
    "StatementRow",
    "SweepRow",
    "VersionRow",
    "check_version",
    "read_job_export",
]

EXPORT_SCHEMA: Final = "bandwright.job-export/1"

_HINT = "Name a folder that `bandwright job export` wrote."

M = TypeVar("M", bound=BaseModel)


def _kind(word: str) -> str:
    if word not in KINDS:
        raise ValueError(f"{word} is no kind of table")
    return word


def _moment(text: str) -> str:
    try:
        zone = datetime.fromisoformat(text).tzinfo
    except ValueError:
        zone = None
    if zone is None:
        raise ValueError(f"must be a moment with a time zone, such as 2027-05-14T15:40:00Z; it is {text[:40]}")
    return text


Kind = Annotated[str, AfterValidator(_kind)]
Moment = Annotated[str, AfterValidator(_moment)]


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class _Table(_Row):
    uid: str = Field(min_length=1)
    kind: Kind
    position: int
    value: dict[str, Any]


class EntryRow(_Table):
    """A table of the brief."""

    @property
    def id(self) -> str | None:
        """The id that people gave it."""
        found = self.value.get("id")
        return found if isinstance(found, str) else None


class SweepRow(_Row):
    """A sweep: its file here, the name it came with, and what is known of it."""

    file: str
    uid: str = Field(min_length=1)
    name: str
    facts: dict[str, Any]
    added_at: Moment
    added_by: str
    removed_at: Moment | None


class PlanRow(_Row):
    """A plan; `stale` says what had changed since it was made, `ids` what it calls links that were renamed since."""

    file: str
    number: int = Field(gt=0)
    check_phrase: str
    stale: str | None
    ids: dict[str, str]


class VersionRow(_Row):
    """A version."""

    file: str
    number: int = Field(gt=0)
    name: str


class StatementRow(_Row):
    """A statement that holds."""

    uid: str = Field(min_length=1)
    what: str
    about: str | None
    note: str
    plan_number: int | None
    at: Moment
    who: str
    taken_back_at: Moment | None


class NoteRow(_Row):
    """A note: about something with this uid, about a plan by its number, or about the whole job."""

    uid: str = Field(min_length=1)
    about: str | None
    plan: int | None
    text: str = Field(min_length=1)
    at: Moment
    who: str


class JobExport(_Row):
    """Everything that an export holds."""

    schema_: Literal["bandwright.job-export/1"] = Field(default=EXPORT_SCHEMA, alias="schema")
    program: str
    entries: tuple[EntryRow, ...]
    sweeps: tuple[SweepRow, ...]
    plans: tuple[PlanRow, ...]
    current_plan: int | None
    versions: tuple[VersionRow, ...]
    statements: tuple[StatementRow, ...]
    notes: tuple[NoteRow, ...] = ()

    @model_validator(mode="after")
    def _fits_together(self) -> JobExport:
        numbers = [plan.number for plan in self.plans]
        if sorted(numbers) != list(range(1, len(numbers) + 1)):
            raise ValueError("plans are numbered from 1 on, each once")
        named = {
            self.current_plan,
            *(item.plan_number for item in self.statements),
            *(item.plan for item in self.notes),
        }
        if not named - {None} <= set(numbers):
            raise ValueError("a plan is named that is not there")
        _check_rows(self.entries)
        return self


class _VersionEntry(_Table):
    """A table of the brief as a version keeps it, with the id by which it was known."""

    id: str | None


class _Version(_Row):
    entries: tuple[_VersionEntry, ...]
    plan: int | None

    @model_validator(mode="after")
    def _whole(self) -> _Version:
        _check_rows(self.entries)
        return self


def _check_rows(rows: Sequence[_Table]) -> None:
    """Raise ValueError unless each row has a uid of its own, and what a brief has once is there once."""
    twice = [uid for uid, count in Counter(row.uid for row in rows).items() if count > 1]
    if twice:
        raise ValueError(f"two tables have the uid {twice[0][:40]}")
    kinds = Counter(row.kind for row in rows)
    wrong = [kind for kind in ONCE if kinds[kind] > 1 or (kind in ALWAYS and not kinds[kind])]
    if wrong:
        raise ValueError(f"a brief has one [{wrong[0]}], and there are {kinds[wrong[0]]}")


def read_job_export(text: str, *, file: str) -> JobExport:
    """Return what a `job.json` says.

    Raises
    ------
    InputError
        When it is none, with everything that is wrong with it.
    """
    found = _json(text, "list of an exported job", file=file)
    schema = found.get("schema") if isinstance(found, dict) else None
    if schema != EXPORT_SCHEMA:
        words = f"this is no list of an exported job that can be read here; its schema is {given_text(schema)}."
        raise InputError.single("not-an-export", words, file=file, key="schema", allowed=EXPORT_SCHEMA, hint=_HINT)
    return _validated(JobExport, found, file=file)


def check_version(text: str, *, file: str, plans: int) -> None:
    """Raise InputError where a version is not one of a job with this many plans, with everything that is wrong."""
    found = _validated(_Version, _json(text, "version of a job", file=file), file=file)
    if found.plan is not None and not 1 <= found.plan <= plans:
        words = f"it names plan {found.plan}, which is not there."
        raise InputError.single("bad-export", words, file=file, key="plan", given=str(found.plan), hint=_HINT)


def _json(text: str, what: str, *, file: str) -> Any:
    try:
        return exact_json.loads(text, deepest=DEEPEST)
    except ValueError as error:
        raise InputError.single("not-json", f"this is no {what}: {error}.", file=file, hint=_HINT) from error


def _validated(model: type[M], found: Any, *, file: str) -> M:
    try:
        return model.model_validate(found)
    except ValidationError as error:
        faults = [
            Fault(
                code="bad-export",
                text=f"{key_text(item['loc']) or 'the list'}: {_words(item['msg'])}.",
                file=file,
                key=key_text(item["loc"]),
                hint=_HINT,
            )
            for item in error.errors()
        ]
        raise InputError(faults) from error


def _words(message: str) -> str:
    plain = message.removeprefix("Value error, ")
    return plain[:1].lower() + plain[1:]
