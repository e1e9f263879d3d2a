"""What is different between two states of a brief, as sentences in the words of a brief."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bandwright import exact_json
from bandwright.documents.brief import KINDS, as_toml_gives
from bandwright.documents.faults import given_text, list_text
from bandwright.service.differences import Difference

__all__ = ["Line", "difference_lines", "listed", "matters_for_plan", "matters_on_sheet"]

Image = Mapping[str, Any]

# What only says how far signals reach: neither where carriers can lie, nor anything on a sheet.
_REACH: Mapping[str, frozenset[str]] = {
    "place": frozenset({"path", "path_exponent", "shadowing_db", "rice_k_db", "temperature_c"}),
    "radio": frozenset(
        {
            "iip3_dbm",
            "transmit_im_loss_db",
            "p1db_dbm",
            "selectivity",
            "diversity",
            "audible_ms",
            "preemphasis_us",
            "antenna_supply",
        }
    ),
    "link": frozenset({"distance_m", "body_loss_db", "walls", "zone"}),
}
_REACH_KINDS = ("antenna", "run", "area")
# What only says how a link sounds: it may stand on a sheet, but moves no carrier.
_LINK_SOUND = (
    "companding",
    "receiver_companding",
    "receiver_radio",
    "source",
    "microphone",
    "from_source_m",
    "gain_db",
)
_SOUND_KINDS = ("microphone", "source", "feed")
# What may change without a word about where carriers can lie.
_NOT_FOR_PLANS: Mapping[str, frozenset[str]] = {
    "job": frozenset({"title", "hours", "note", "invented"}),
    "place": frozenset({"name"}),
    "permit": frozenset({"reference", "source"}),
    "radio": frozenset({"name", "designator", "peak_deviation_khz", "invented", "note", "companding", "audio"}),
    "unit": frozenset({"name", "serial", "antenna"}),
    "link": frozenset({"id", "name", "desk_input", "receiver", "antenna", "note", "movable", *_LINK_SOUND}),
    "other": frozenset({"name"}),
    "earshot": frozenset({"name"}),
    "plan": frozenset({"seed", "time_limit_s"}),
}
_NOT_ON_SHEETS: Mapping[str, frozenset[str]] = {
    "plan": frozenset({"seed", "time_limit_s", "unmeasured", "close_above_floor_db"}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One difference: a sentence, and the table that it is about."""

    text: str
    kind: str
    id: str | None


def matters_for_plan(found: Difference, *, with_levels: bool = False) -> bool:
    """Whether a difference of an entry can change which carriers may be used, or the levels that a plan tells."""
    if _kind(found) in _SOUND_KINDS:
        return False
    return _matters(found, _NOT_FOR_PLANS) or (with_levels and _moves_levels(found))


def _moves_levels(found: Difference) -> bool:
    """Whether a difference changes how far signals reach, or how wide they are."""
    kind = _kind(found)
    if kind in _REACH_KINDS:
        return True
    if found.before is None or found.after is None:
        return False
    facts = _REACH.get(kind, frozenset()) | ({"peak_deviation_khz"} if kind == "radio" else set())
    return any(key in facts for key in _changed(found.before["value"], found.after["value"]))


def matters_on_sheet(found: Difference) -> bool:
    """Whether a difference of an entry can change what a sheet says."""
    return _matters(found, _NOT_ON_SHEETS)


def _matters(found: Difference, passed_over: Mapping[str, frozenset[str]]) -> bool:
    kind = _kind(found)
    if kind in _REACH_KINDS:
        return False
    if found.before is None or found.after is None:
        return True
    left_out = passed_over.get(kind, frozenset()) | _REACH.get(kind, frozenset())
    return any(key not in left_out for key in _changed(found.before["value"], found.after["value"]))


def difference_lines(found: Iterable[Difference]) -> tuple[Line, ...]:
    """Return differences of entries as sentences, kind by kind in the order of a brief."""
    rank = {kind: place for place, kind in enumerate(KINDS)}
    entries = [item for item in found if item.noun == "entry"]
    lines = [line for item in sorted(entries, key=lambda one: rank.get(_kind(one), len(rank))) for line in _lines(item)]
    return tuple(lines)


def _kind(found: Difference) -> str:
    return str((found.after or found.before or {})["kind"])


def _lines(found: Difference) -> Iterator[Line]:
    before, after, kind = found.before, found.after, _kind(found)
    if before is None or after is None:
        image = after or before or {}
        done = "is new" if before is None else "is gone"
        yield Line(text=f"{_called(image)} {done}.", kind=kind, id=image.get("id"))
        return
    one, two = before["value"], after["value"]
    if before["id"] != after["id"]:
        text = f"{_called(before)} is called {after['id']} now."
        yield Line(text=text, kind=kind, id=after["id"])
    changed = [key for key in _changed(one, two) if key != "id"]
    for text in _key_texts(kind, changed, one, two):
        yield Line(text=f"{_called(after)}: {text}.", kind=kind, id=after["id"])
    if not changed and before["id"] == after["id"] and before["position"] != after["position"]:
        yield Line(text=f"{_called(after)} stands in another place.", kind=kind, id=after["id"])


def _key_texts(kind: str, keys: Sequence[str], one: Image, two: Image) -> Iterator[str]:
    for key in keys:
        was, now = _text(kind, key, one), _text(kind, key, two)
        if was is None:
            yield f"{key} is {now}, and said nothing before"
        elif now is None:
            yield f"{key} says nothing any more, and was {was}"
        else:
            yield f"{key} was {was} and is {now}"


def _text(kind: str, key: str, table: Image) -> str | None:
    value = as_toml_gives(kind, table).get(key)
    return None if value is None else given_text(value)


def _called(image: Image) -> str:
    kind, name = image["kind"], image.get("id")
    return f"{kind} {name}" if name is not None else f"[{kind}]"


def _changed(one: Image, two: Image) -> list[str]:
    return [key for key in dict.fromkeys([*one, *two]) if _json(one.get(key)) != _json(two.get(key))]


def listed(lines: Sequence[Line], *, most: int = 3) -> str:
    """Return the tables that lines are about, for a sentence."""
    return list_text(dict.fromkeys(line.id or f"[{line.kind}]" for line in lines), most=most)


def _json(value: Any) -> str:
    return exact_json.dumps(value, other=exact_json.plain)
