"""Radio types of a brief or a kit file: own figures over those of the kit library, over a generic class."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bandwright.core.kit import Direction, PowerKind, Preset, RadioType, TuningRange
from bandwright.core.library import GenericClass
from bandwright.documents.brief.radio_tables import RadioTable, VariantTable
from bandwright.documents.brief.sounds import audio_of, companding_of
from bandwright.documents.faults import Findings, list_text, nearest_hint

__all__ = ["make_radios"]

Path = tuple[str | int, ...]
Facts = dict[str, Any]

_FROM_CLASS = (
    "direction",
    "emission",
    "bandwidth_hz",
    "spacing_hz",
    "clearance_hz",
    "noise_figure_db",
    "needs_cn_db",
)
_NEEDED = {
    "emission": ("emission", 'Write emission = "fm", "fm-stereo" or "digital".'),
    "bandwidth_hz": ("bandwidth_khz", "Write bandwidth_khz = 200, or defaults with a generic class."),
    "spacing_hz": ("spacing_khz", 'Write spacing_khz = 350, or defaults = "analogue-fm-wide" or another class.'),
}


def make_radios(
    tables: Sequence[RadioTable], classes: Sequence[GenericClass], kit: Sequence[RadioType], findings: Findings
) -> dict[str, RadioType]:
    """Return every radio type and variant (`id/variant`) by its id; what is wrong goes into the findings.

    A type in which something is wrong is left out, with its variants.
    """
    library = {radio.id: radio for radio in kit}
    known = {item.name: item for item in classes}
    radios: dict[str, RadioType] = {}
    for index, table in enumerate(tables):
        path: Path = ("radio", index)
        _check_names(table, known, library, findings, path)
        if findings.any_under(path):
            continue
        for radio_id, facts in _facts(table, library).items():
            whole, assumed = _with_class(facts, known)
            lacks = _lacking(whole)
            for key, problem, hint in lacks:
                findings.add("missing", path, problem, allowed=key, hint=hint)
            if lacks:
                break
            radios[radio_id] = _radio(radio_id, whole, assumed)
    return radios


def _check_names(
    table: RadioTable,
    classes: Mapping[str, GenericClass],
    library: Mapping[str, RadioType],
    findings: Findings,
    path: Path,
) -> None:
    """Note kit types and generic classes that do not exist, and variants of one name."""
    if table.kit is not None and table.kit not in library:
        text = f'the kit library has no radio type "{table.kit}"; known: {list_text(library)}.'
        hint = nearest_hint(table.kit, library)
        findings.add("unknown-kit", (*path, "kit"), text, given=table.kit, allowed=list_text(library), hint=hint)
    seen: set[str] = set()
    for place, item in ((path, table), *(((*path, "variant", i), v) for i, v in enumerate(table.variant))):
        name = item.defaults
        if name is not None and name not in classes:
            text = f'there is no generic class "{name}"; known: {list_text(classes)}.'
            hint = nearest_hint(name, classes)
            where = (*place, "defaults")
            findings.add("unknown-class", where, text, given=name, allowed=list_text(classes), hint=hint)
        if item is not table and item.id in seen:
            text = f'there is already a variant "{item.id}" of this radio type.'
            findings.add("id-twice", (*place, "id"), text, given=item.id, hint="Give one of them another id.")
        seen.add(item.id if item is not table else "")


def _facts(table: RadioTable, library: Mapping[str, RadioType]) -> dict[str, Facts]:
    """Return what is stated of a radio type and each of its variants: the library's first, then its own."""
    stated = _stated(table)
    base = {**_kit_facts(library.get(table.kit or "")), **stated}
    found = {table.id: base}
    for kit_id, radio in library.items():
        if table.kit is not None and kit_id.startswith(f"{table.kit}/"):
            found[table.id + kit_id.removeprefix(table.kit)] = _kit_variant(radio, library[table.kit], stated)
    for variant in table.variant:
        name = f"{base.get('name') or table.id} {variant.id}"
        variant_id = f"{table.id}/{variant.id}"
        found[variant_id] = {**found.get(variant_id, {**base, "name": name}), **_stated(variant)}
    return found


def _kit_facts(radio: RadioType | None) -> Facts:
    """Return what the library states; what it took from a generic class is taken again, and so stays marked."""
    if radio is None:
        return {}
    left_out = {"id", "assumed", *radio.assumed}
    return {name: getattr(radio, name) for name in RadioType.__dataclass_fields__ if name not in left_out}


def _kit_variant(variant: RadioType, base: RadioType, stated: Facts) -> Facts:
    """Return a variant of the library under what the brief states of its base, where the two do not differ anyway."""
    own = {name for name in stated if getattr(variant, name, None) != getattr(base, name, None)}
    return {**_kit_facts(variant), **{name: value for name, value in stated.items() if name not in own}}


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
    if table.companding is not None:
        facts["companding"] = tuple(map(companding_of, table.companding))
    if table.audio is not None:
        facts["audio"] = audio_of(table.audio)
    if table.selectivity is not None:
        facts["selectivity"] = tuple((point.offset_hz, point.db) for point in table.selectivity)
    if table.if_hz is not None:
        facts["if_hz"] = tuple(table.if_hz)
    if table.clearance_hz is not None:
        facts["clearance_hz"] = tuple(table.clearance_hz.items())
    return facts


def _with_class(facts: Facts, classes: Mapping[str, GenericClass]) -> tuple[Facts, tuple[str, ...]]:
    """Return the facts completed from the generic class they call on, and which came from there."""
    name = facts.get("defaults")
    if name is None:
        return dict(facts), ()
    taken = {
        field: value
        for field in _FROM_CLASS
        if facts.get(field) is None and (value := getattr(classes[name], field)) is not None
    }
    return {**facts, **taken}, tuple(taken)


def _lacking(facts: Facts) -> list[tuple[str, str, str]]:
    """Return key, problem and hint of what a radio type cannot do without."""
    lacks = [(key, f"{key} is missing.", hint) for name, (key, hint) in _NEEDED.items() if facts.get(name) is None]
    if not facts.get("tuning") and not facts.get("presets"):
        hint = "Write tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }] or presets."
        lacks.append(("tuning, presets", "it says neither tuning nor presets, so it can be set to nothing.", hint))
    return lacks


def _radio(radio_id: str, facts: Facts, assumed: tuple[str, ...]) -> RadioType:
    """Return the radio type with the stated defaults for what may be left out."""
    whole = {"direction": Direction.FROM_PERSON, "clearance_hz": (), **facts}
    whole["name"] = whole.get("name") or radio_id
    if whole.get("power_mw") and whole.get("power_kind") is None:
        whole["power_kind"] = PowerKind.ERP
        assumed = (*assumed, "power_kind")
    return RadioType(id=radio_id, assumed=assumed, **whole)
