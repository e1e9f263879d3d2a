"""Kit files: radio types that briefs may start from."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import Field

from bandwright.core.kit import RadioType
from bandwright.core.library import GenericClass
from bandwright.documents.brief.base import Table
from bandwright.documents.brief.radio_tables import RadioTable
from bandwright.documents.brief.radios import make_radios
from bandwright.documents.brief.salvage import validated
from bandwright.documents.brief.toml import parse_toml

__all__ = ["read_kit"]


class KitFile(Table):
    """A kit file: `[[radio]]` tables and nothing else."""

    radio: list[RadioTable] = Field(min_length=1, description="the facts of a transmitter and receiver family")


def read_kit(text: str, *, file: str, classes: Sequence[GenericClass]) -> tuple[RadioType, ...]:
    """Return the radio types of a kit file; raises InputError with everything that is wrong with it."""
    data, findings = parse_toml(text, file=file)
    kit = validated(KitFile, data, findings)
    findings.stop_if_any()
    tables = kit.radio if kit is not None else []
    seen: set[str] = set()
    for index, table in enumerate(tables):
        if table.id in seen:
            text = f'the id "{table.id}" stands twice in this file.'
            findings.add("id-twice", ("radio", index, "id"), text, given=table.id, hint="Give one of them another id.")
        seen.add(table.id)
    radios = make_radios(tables, classes, (), findings)
    findings.stop_if_any()
    return tuple(radios.values())
