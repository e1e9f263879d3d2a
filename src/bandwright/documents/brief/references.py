"""Which keys of a brief name a table by its id, so that a new id is written wherever the old one stood."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

__all__ = ["Rename", "renamed", "renames_of", "spread"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rename:
    """A new id for what a table of a kind is called by."""

    kind: str
    old: str
    new: str


# Keys that name in the rows of a list inside a table.
_IN_ROWS = ("links",)
# Kind of the table that names -> its key -> the kinds of tables that may be named there.
_NAMING: dict[str, dict[str, tuple[str, ...]]] = {
    "permit": {"place": ("place",)},
    "unit": {"radio": ("radio",)},
    "antenna": {"place": ("place",)},
    "area": {"place": ("place",), "walks": ("link",)},
    "run": {"antenna": ("antenna",), "feeds": ("unit", "link")},
    "feed": {"for": ("unit", "link")},
    "isolation": {"between": ("earshot",)},
    "link": {
        "radio": ("radio",),
        "receiver_radio": ("radio",),
        "source": ("source",),
        "microphone": ("microphone",),
        "unit": ("unit",),
        "place": ("place",),
        "earshot": ("earshot",),
        "apart_from": ("link",),
        "zone": ("area",),
    },
    "other": {"place": ("place",), "earshot": ("earshot",)},
    "pair": {"one": ("radio", "link"), "two": ("radio", "link")},
    "block": {"for": ("radio", "link"), "place": ("place",)},
    "plan": {"spares": ("radio",)},
}


def renames_of(kind: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[Rename]:
    """Yield the new names that a change of one table brings.

    Its own, those of the links that it counts (M.1, M.2), those of the variants of a radio type (heron/narrow), and
    those of the zones of an area.
    """
    old, new = before.get("id"), after.get("id")
    if isinstance(old, str) and isinstance(new, str) and old != new:
        yield Rename(kind=kind, old=old, new=new)
        count = before.get("count")
        for number in range(1, count + 1 if isinstance(count, int) else 1):
            yield Rename(kind=kind, old=f"{old}.{number}", new=f"{new}.{number}")
    if kind == "radio" and isinstance(new, str):
        for one, two in _rows_renamed(before.get("variant"), after.get("variant")):
            yield Rename(kind=kind, old=f"{new}/{one}", new=f"{new}/{two}")
    if kind == "area":
        for one, two in _rows_renamed(before.get("zones"), after.get("zones")):
            yield Rename(kind=kind, old=one, new=two)


def _rows_renamed(before: object, after: object) -> Iterator[tuple[str, str]]:
    """Yield old and new ids of rows that stayed in their places; none where their number changed."""
    if not isinstance(before, list) or not isinstance(after, list) or len(before) != len(after):
        return
    for one, two in zip(before, after, strict=True):
        names = [row.get("id") if isinstance(row, dict) else None for row in (one, two)]
        if all(isinstance(name, str) for name in names) and names[0] != names[1]:
            yield str(names[0]), str(names[1])


def renamed(
    kind: str, table: Mapping[str, Any], renames: Sequence[Rename], *, roles: Collection[str] = ()
) -> dict[str, Any]:
    """Return a table in which every name that was given a new one is written anew.

    `roles` are the roles that links have: `[[pair]]` and `[[block]]` may name one, and a role keeps its name.
    """
    found = dict(table)
    for key, kinds in _NAMING.get(kind, {}).items():
        fitting = [item for item in renames if item.kind in kinds]
        if key in found and fitting:
            found[key] = _written_anew(found[key], fitting, roles if len(kinds) > 1 else ())
    return found


def _written_anew(value: Any, renames: Sequence[Rename], roles: Collection[str]) -> Any:
    if isinstance(value, str):
        return value if value in roles else _new_name(value, renames)
    if isinstance(value, list):
        return [
            _row_anew(item, renames) if isinstance(item, dict) else _written_anew(item, renames, roles)
            for item in value
        ]
    if isinstance(value, dict):
        return {_written_anew(key, renames, roles): item for key, item in value.items()}
    return value


def _row_anew(row: dict[str, Any], renames: Sequence[Rename]) -> dict[str, Any]:
    return {key: _written_anew(item, renames, ()) if key in _IN_ROWS else item for key, item in row.items()}


def _new_name(name: str, renames: Sequence[Rename]) -> str:
    for item in renames:
        if name == item.old:
            name = item.new
        elif item.kind == "radio" and name.startswith(f"{item.old}/"):
            name = item.new + name[len(item.old) :]
    return name


def spread(kind: str, table: Mapping[str, Any], name: str, names: Sequence[str]) -> dict[str, Any]:
    """Return a table in which several links are named wherever one name stood for all of them.

    Such a name, that of a row with `count`, may stand only in lists of links.
    """
    found = dict(table)
    for key, kinds in _NAMING.get(kind, {}).items():
        if "link" in kinds and isinstance(found.get(key), list):
            found[key] = _spread_list(found[key], name, names)
    return found


def _spread_list(items: Sequence[Any], name: str, names: Sequence[str]) -> list[Any]:
    if name not in items:
        return [_spread_row(item, name, names) if isinstance(item, dict) else item for item in items]
    return list(dict.fromkeys(one for item in items for one in (names if item == name else (item,))))


def _spread_row(row: dict[str, Any], name: str, names: Sequence[str]) -> dict[str, Any]:
    return {
        key: _spread_list(item, name, names) if key in _IN_ROWS and isinstance(item, list) else item
        for key, item in row.items()
    }
