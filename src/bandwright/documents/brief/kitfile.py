"""Kit files: radio types that briefs may start from."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import Field

from bandwright.core.kit import RadioType
from bandwright.core.library import GenericClass
from bandwright.documents.brief.faults import parse_toml, validated
from bandwright.documents.brief.radios import make_radios
from bandwright.documents.brief.tables import RadioTable, Table

__all__ = ["read_kit"]


class KitFile(Table):
    """A kit file: `[[radio]]` tables and nothing else."""

    radio: list[RadioTable] = Field(min_length=1)


def read_kit(text: str, *, file: str, classes: Sequence[GenericClass]) -> tuple[RadioType, ...]:
    """Return the radio types of a kit file; raises InputError with everything that is wrong with it."""
    data, findings = parse_toml(text, file=file)
    kit = validated(KitFile, data, findings)
    findings.stop_if_any()
    radios = make_radios(kit.radio if kit else (), classes, (), findings)
    findings.stop_if_any()
    return tuple(radios.values())
