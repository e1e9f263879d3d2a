"""Radio types of a brief or a kit file: own figures over those of the kit library, over a generic class."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bandwright.core.kit import Direction, Emission, PowerKind, Preset, RadioType, TuningRange
from bandwright.core.library import GenericClass
from bandwright.documents.brief.tables import RadioTable, VariantTable
from bandwright.documents.faults import Findings, list_text, nearest_hint

__all__ = ["make_radios"]

Path = tuple[str | int, ...]
Facts = dict[str, Any]

_FROM_CLASS = ("direction", "emission", "bandwidth_hz", "spacing_hz", "clearance_hz")
_NEEDED = {
    "emission": 'Write emission = "fm", "fm-stereo" or "digital".',
    "bandwidth_hz": "Write bandwidth_khz, or defaults with a generic class.",
    "spacing_hz": 'Write spacing_khz, or defaults = "analogue-fm-wide" or another generic class.',
}


def make_radios(
    tables: Sequence[RadioTable], classes: Sequence[GenericClass], kit: Sequence[RadioType], findings: Findings
) -> dict[str, RadioType]:
    """Return every radio type and variant (`id/variant`) by its id; what is wrong goes into the findings."""
    library = {radio.id: radio for radio in kit}
    known = {item.name: item for item in classes}
    radios: dict[str, RadioType] = {}
    for index, table in enumerate(tables):
        path: Path = ("radio", index)
        base = _kit_facts(table, library, findings, path)
        facts = {**base, **_stated(table)}
        _keep(radios, radio_id=table.id, facts=facts, classes=known, findings=findings, path=path)
        for number, variant in enumerate(table.variant):
            inherited = {**facts, "name": f"{facts.get('name') or table.id} {variant.id}", **_stated(variant)}
            _keep(
                radios,
                radio_id=f"{table.id}/{variant.id}",
                facts=inherited,
                classes=known,
                findings=findings,
                path=(*path, "variant", number),
            )
    return radios


def _kit_facts(table: RadioTable, library: Mapping[str, RadioType], findings: Findings, path: Path) -> Facts:
    if table.kit is None:
        return {}
    radio = library.get(table.kit)
    if radio is None:
        text = f'the kit library has no radio type "{table.kit}"; known: {list_text(library)}.'
        hint = nearest_hint(table.kit, library)
        findings.add("unknown-kit", (*path, "kit"), text, given=table.kit, allowed=list_text(library), hint=hint)
        return {}
    return {name: getattr(radio, name) for name in RadioType.__dataclass_fields__ if name not in ("id", "assumed")}


def _stated(table: VariantTable) -> Facts:
    """Return what a table states, as core values."""
    facts = {
        name: getattr(table, name)
        for name in table.model_fields_set
        if name not in ("id", "kit", "variant") and getattr(table, name) is not None
    }
    if "tuning" in facts:
        facts["tuning"] = tuple(
            TuningRange(low_hz=item.low_hz, high_hz=item.high_hz, step_hz=item.step_hz) for item in table.tuning or ()
        )
        facts.setdefault("presets", ())
    if "presets" in facts:
        facts["presets"] = tuple(Preset(label=p.label, carrier_hz=p.carrier_hz) for p in table.presets or ())
        facts.setdefault("tuning", ())
    if "clearance_hz" in facts:
        facts["clearance_hz"] = tuple((table.clearance_hz or {}).items())
    return facts


def _keep(
    radios: dict[str, RadioType],
    *,
    radio_id: str,
    facts: Facts,
    classes: Mapping[str, GenericClass],
    findings: Findings,
    path: Path,
) -> None:
    whole, assumed = _with_class(facts, classes, findings, path)
    before = len(findings.faults)
    for name, hint in _NEEDED.items():
        if whole.get(name) is None:
            key = name.replace("_hz", "_khz")
            findings.add("missing", path, f'radio type "{radio_id}" does not say its {key}.', allowed=key, hint=hint)
    if not whole.get("tuning") and not whole.get("presets"):
        hint = "Write tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }] or presets."
        findings.add(
            "missing", path, f'radio type "{radio_id}" can be set to nothing.', allowed="tuning, presets", hint=hint
        )
    if len(findings.faults) > before:
        return
    whole.setdefault("direction", Direction.FROM_PERSON)
    whole.setdefault("clearance_hz", ())
    whole["name"] = whole.get("name") or radio_id
    if whole.get("power_mw") and whole.get("power_kind") is None:
        whole["power_kind"] = PowerKind.ERP
        assumed = (*assumed, "power_kind")
    radios[radio_id] = RadioType(id=radio_id, assumed=assumed, **whole)


def _with_class(
    facts: Facts, classes: Mapping[str, GenericClass], findings: Findings, path: Path
) -> tuple[Facts, tuple[str, ...]]:
    """Return the facts completed from the generic class they call on, and which came from there."""
    name = facts.get("defaults")
    if name is None:
        return dict(facts), ()
    if name not in classes:
        text = f'there is no generic class "{name}"; known: {list_text(classes)}.'
        findings.add(
            "unknown-class",
            (*path, "defaults"),
            text,
            given=name,
            allowed=list_text(classes),
            hint=nearest_hint(name, classes),
        )
        # Nothing more is asked of a type whose class is misspelt: one mistake, one message.
        return {"bandwidth_hz": 1, "spacing_hz": 1, "emission": Emission.FM, **facts}, ()
    taken = {
        field: value
        for field in _FROM_CLASS
        if facts.get(field) is None and (value := getattr(classes[name], field)) is not None
    }
    return {**facts, **taken}, tuple(taken)
