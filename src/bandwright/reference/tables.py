"""The one loader of the shipped tables: dated data files with units, source and confidence, turned into core values."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any, TypeVar

from bandwright.core.audio import SourceKind
from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.kit import Direction, Emission, PowerKind, Worn
from bandwright.core.library import Confidence, GenericClass, RuleTable, RuleWindow
from bandwright.core.permits import PowerLimit
from bandwright.core.reach.cable import Cable
from bandwright.core.reach.tables import BodyLoss, PhoneBand, PhoneBands, ReachTables, SiteClass
from bandwright.core.reach.walls import Material
from bandwright.core.sound.tables import Alignment, Effort, ExposureLimit, Nearness, Peaks, SoundTables
from bandwright.units import HZ_PER_MHZ, hz_from_khz, hz_from_mhz

__all__ = [
    "analyser_files",
    "generic_class",
    "generic_classes",
    "kit_files",
    "raster",
    "rasters",
    "reach_tables",
    "rule_table",
    "rule_tables",
    "sound_tables",
]

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


@cache
def reach_tables() -> ReachTables:
    """Return cables, building materials, indoor classes and body losses, each with its source."""
    indoor, materials = _reach("indoor_p1238_11_2021"), _reach("materials_p2040")
    body = _reach("body_common_practice")
    return ReachTables(
        cables=tuple(map(_cable, _reach("cables_2004")["cable"])),
        materials=tuple(_material(row, materials["source"]) for row in materials["material"]),
        site_classes=tuple(_site_class(row, indoor["source"]) for row in indoor["class"]),
        body=tuple(_body(row, body["source"]) for row in body["body"]),
        phones=_phones(_reach("phones_3gpp")),
    )


@cache
def sound_tables() -> SoundTables:
    """Return efforts of speech, peaks, distances, alignments and exposure limits, each with its source."""
    speech, near = _sound("speech_ansi_s35_1997"), _sound("near_common_practice")
    exposure = _sound("exposure_2003_10_ec")
    told, practice, rule = speech["source"], near["source"], exposure["source"]
    return SoundTables(
        efforts=tuple(
            Effort(name=row["name"], level_db_spl=float(row["level_db_spl"]), source=told) for row in speech["effort"]
        ),
        peaks=tuple(
            Peaks(kind=SourceKind(row["kind"]), over_db=float(row["over_db"]), source=practice) for row in near["peaks"]
        ),
        nearness=tuple(
            Nearness(worn=Worn(row["worn"]), metres=float(row["metres"]), source=practice) for row in near["near"]
        ),
        alignments=tuple(map(_alignment, _sound("alignment")["alignment"])),
        exposure=tuple(
            ExposureLimit(
                name=row["name"],
                over_8h_db=float(row["over_8h_db"]),
                peak_db=float(row["peak_db"]),
                source=rule if exposure["confidence"] == "read" else f"{rule}, from memory",
            )
            for row in exposure["limit"]
        ),
    )


def kit_files() -> tuple[tuple[str, str], ...]:
    """Return name and text of the shipped kit files: invented radio types only."""
    return tuple((f"shipped kit {file.name}", file.read_text(encoding="utf-8")) for file in _files("kit"))


def analyser_files() -> tuple[tuple[str, str], ...]:
    """Return name and text of the shipped files on analysers: the standard's commands."""
    return tuple((f"shipped {file.name}", file.read_text(encoding="utf-8")) for file in _files("analysers"))


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
        noise_figure_db=_decibels(data, "noise_figure_db"),
        needs_cn_db=_decibels(data, "needs_cn_db"),
    )


def _decibels(data: Table, key: str) -> float | None:
    return float(data[key]) if key in data else None


def _reach(name: str) -> Table:
    return _read(_data().joinpath("reach", f"{name}.toml"))


def _phones(data: Table) -> PhoneBands:
    bands = tuple(
        PhoneBand(name=row["name"], phones=_mhz_span(row["phones_mhz"]), bases=_mhz_span(row["bases_mhz"]))
        for row in data["band"]
    )
    return PhoneBands(bands=bands, phone_dbm=float(data["phone_dbm"]), source=data["source"])


def _mhz_span(pair: Sequence[Any]) -> Span:
    return Span(hz_from_mhz(pair[0]), hz_from_mhz(pair[1]))


def _cable(row: Table) -> Cable:
    return Cable(
        name=row["name"],
        about=row["about"],
        points=tuple((float(mhz) * HZ_PER_MHZ, float(db)) for mhz, db in row["points"]),
        tolerance=float(row["tolerance"]),
        source=f"{row['source']} ({row['confidence']})",
    )


def _material(row: Table, source: str) -> Material:
    low, high = map(float, row["frequencies_ghz"])
    figures = {key: float(row[key]) for key in ("a", "b", "c", "d")}
    return Material(name=row["name"], low_ghz=low, high_ghz=high, source=source, **figures)


def _site_class(row: Table, source: str) -> SiteClass:
    (low_ghz, high_ghz), (least_m, most_m) = (map(float, row[key]) for key in ("frequencies_ghz", "distances_m"))
    figures = {key: float(row[key]) for key in ("alpha", "beta", "gamma", "sigma_db")}
    return SiteClass(
        name=row["name"],
        about=row["about"],
        low_ghz=low_ghz,
        high_ghz=high_ghz,
        least_m=least_m,
        most_m=most_m,
        source=source,
        **figures,
    )


def _body(row: Table, source: str) -> BodyLoss:
    figures = {key: float(row[key]) for key in ("least_db", "typical_db", "most_db")}
    return BodyLoss(worn=Worn(row["worn"]), source=source, **figures)


def _sound(name: str) -> Table:
    return _read(_data().joinpath("sound", f"{name}.toml"))


def _alignment(row: Table) -> Alignment:
    return Alignment(
        name=row["name"],
        level_dbfs=float(row["level_dbfs"]),
        line_dbu=float(row["line_dbu"]) if "line_dbu" in row else None,
        about=row["about"],
        source=row["source"],
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
