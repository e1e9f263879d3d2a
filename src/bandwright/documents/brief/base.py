"""What the tables of a brief have in common."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, PlainValidator, WithJsonSchema

from bandwright.documents.brief import types as t

__all__ = ["MOST_LINKS", "Count", "Table", "number"]

MOST_LINKS = 500


def number(low: int, high: int) -> tuple[PlainValidator, WithJsonSchema]:
    """Return the check and the schema of whole numbers from `low` to `high`."""
    return (PlainValidator(t.whole(low, high)), WithJsonSchema({"type": "integer", "minimum": low, "maximum": high}))


_COUNT, _COUNT_SCHEMA = number(1, MOST_LINKS)

Count = Annotated[int, _COUNT, _COUNT_SCHEMA]
"""How many links there are, or receiver channels in a box."""


class Table(BaseModel):
    """What all tables share: unknown keys are errors, and nothing is guessed from another type."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
