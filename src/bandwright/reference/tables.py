"""The one loader of the shipped tables: dated data files with units, source and confidence, turned into core values."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any, TypeVar

from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.kit import Direction, Emission, PowerKind
from bandwright.core.library import Confidence, GenericClass, RuleTable, RuleWindow
from bandwright.core.permits import PowerLimit
from bandwright.units import hz_from_khz, hz_from_mhz

__all__ = ["generic_class", "generic_classes", "kit_files", "raster", "rasters", "rule_table", "rule_tables"]

Table = Mapping[str, Any]
Kind = TypeVar("Kind")


@cache
def rasters() -> tuple[TvRaster, ...]:
    """Return the TV rasters."""
    return tuple(_raster(data) for data in _folder("rasters"))


def raster(raster_id: str) -> TvRaster:
    """Return one TV raster; raises KeyError that lists the known ones."""
    return _named({item.id: item for item in rasters()}, raster_id, "TV raster")


@cache
def generic_classes() -> tuple[GenericClass, ...]:
    """Return the generic classes of radios, all common practice."""
    return tuple(_class(item) for item in _read(_data().joinpath("classes_common_practice.toml"))["class"])


def generic_class(name: str) -> GenericClass:
    """Return one generic class; raises KeyError that lists the known ones."""
    return _named({item.name: item for item in generic_classes()}, name, "generic class")


@cache
def rule_tables() -> tuple[RuleTable, ...]:
    """Return the rule tables: dated copies to start from, never law."""
    return tuple(_rules(data) for data in _folder("rules"))


def rule_table(rules_id: str) -> RuleTable:
    """Return one rule table; raises KeyError that lists the known ones."""
    return _named({item.id: item for item in rule_tables()}, rules_id, "rule table")


def kit_files() -> tuple[tuple[str, str], ...]:
    """Return name and text of the shipped kit files: invented radio types only."""
    return tuple((f"shipped kit {file.name}", file.read_text(encoding="utf-8")) for file in _files("kit"))


def _named(known: Mapping[str, Kind], name: str, what: str) -> Kind:
    try:
        return known[name]
    except KeyError:
        raise KeyError(f"unknown {what} {name!r}; known: {', '.join(known)}") from None


def _data() -> Traversable:
    return resources.files("bandwright.reference").joinpath("data")


def _files(folder: str) -> list[Traversable]:
    return sorted(_data().joinpath(folder).iterdir(), key=lambda file: file.name)


def _folder(folder: str) -> Iterator[Table]:
    return (_read(file) for file in _files(folder))


def _read(file: Traversable) -> Table:
    return tomllib.loads(file.read_text(encoding="utf-8"), parse_float=Decimal)


def _raster(data: Table) -> TvRaster:
    channels = [channel for block in data["block"] for channel in _block(block)]
    return TvRaster(
        id=data["id"],
        name=data["name"],
        source=f"{data['source']} ({data['confidence']})",
        channels=tuple(sorted(channels, key=lambda channel: channel.span)),
    )


def _block(block: Table) -> Iterator[TvChannel]:
    labels = block.get("labels") or [str(number) for number in range(block["first"], block["last"] + 1)]
    low_hz, width_hz = hz_from_mhz(block["low_mhz"]), hz_from_mhz(block["width_mhz"])
    for position, label in enumerate(labels):
        start_hz = low_hz + position * width_hz
        yield TvChannel(label=label, span=Span(start_hz, start_hz + width_hz), use=block.get("use", "tv"))


def _class(data: Table) -> GenericClass:
    clearance = data.get("clearance_khz")
    return GenericClass(
        name=data["name"],
        about=data["about"],
        source=data["source"],
        direction=Direction(data["direction"]) if "direction" in data else None,
        emission=Emission(data["emission"]),
        bandwidth_hz=hz_from_khz(data["bandwidth_khz"]),
        spacing_hz=hz_from_khz(data["spacing_khz"]),
        clearance_hz=None if clearance is None else tuple((name, hz_from_khz(khz)) for name, khz in clearance.items()),
    )


def _rules(data: Table) -> RuleTable:
    return RuleTable(
        id=data["id"],
        name=data["name"],
        where=data["where"],
        edition=data["edition"],
        licence=data["licence"],
        windows=tuple(window for terms in data["window"] for window in _windows(terms)),
        sources=tuple(data["sources"]),
        notes=tuple(data.get("notes", ())),
    )


def _windows(terms: Table) -> Iterator[RuleWindow]:
    for low, high in terms["windows_mhz"]:
        yield RuleWindow(
            span=Span(hz_from_mhz(low), hz_from_mhz(high)),
            confidence=Confidence(terms["confidence"]),
            max_power=_limit(terms["max_power"]),
            max_bandwidth_hz=hz_from_khz(terms["max_bandwidth_khz"]) if "max_bandwidth_khz" in terms else None,
            grid_hz=hz_from_khz(terms["grid_khz"]) if "grid_khz" in terms else None,
            note=terms.get("note"),
        )


def _limit(data: Table) -> PowerLimit:
    figures = {key: float(value) for key, value in data.items() if key != "kind"}
    return PowerLimit(kind=PowerKind(data["kind"]), **figures)
