"""Rows field by field: which fields a change touched, and taking a change back without touching others.

A field is a column, or one key of a JSON column (`value.hold_mhz`). Two people may change different fields of one row;
taking back one of the two changes leaves the other alone.
"""

from __future__ import annotations

from typing import Any

from bandwright import exact_json
from bandwright.store.records import Clash, Event
from bandwright.store.tables import TABLES, Image

__all__ = ["changed_fields", "reverse", "same"]

_ABSENT = object()
_MOVES_BY_OTHERS = "position"  # making room for another row moves it; that is no work of anybody's


def same(one: Any, two: Any) -> bool:
    """Return whether two values are written alike: 1 and True differ, and so do 606.7 and 606.70."""
    return exact_json.dumps(one) == exact_json.dumps(two)


def changed_fields(event: Event) -> frozenset[str]:
    """Return the fields that an event changed; all of them where the row was added or removed."""
    before, after = _flat(event.noun, event.before or {}), _flat(event.noun, event.after or {})
    return frozenset(name for name in before.keys() | after.keys() if _differ(before, after, name))


def reverse(event: Event, now: Image | None) -> tuple[Image | None, tuple[Clash, ...]]:
    """Return the row as it is without an event, or what stops that.

    Parameters
    ----------
    event
        The event to take back.
    now
        The row as it stands.

    Returns
    -------
    tuple
        The row without the event (None: no row) and no clash; or `now` and the clashes: fields that no longer hold
        what the event left.
    """
    if event.before is None or event.after is None or now is None:
        return _reverse_whole(event, now)
    before, after, current = (_flat(event.noun, image) for image in (event.before, event.after, now))
    touched = [name for name in dict.fromkeys([*before, *after]) if _differ(before, after, name)]
    clashes = tuple(_clash(event, name, after, current) for name in touched if _differ(after, current, name))
    if clashes:
        return now, clashes
    kept = {name: value for name, value in current.items() if name not in touched}
    without = kept | {name: before[name] for name in touched if name in before}
    in_order = [name for name in before if name in without] + [name for name in without if name not in before]
    return _folded(event.noun, {name: without[name] for name in in_order}), ()


def _reverse_whole(event: Event, now: Image | None) -> tuple[Image | None, tuple[Clash, ...]]:
    if now is None and event.after is None:
        return event.before, ()
    if now is not None and event.after is not None and same(_comparable(now), _comparable(event.after)):
        return event.before, ()
    clash = Clash(noun=event.noun, uid=event.uid, field="", expected=event.after, found=now)
    return now, (clash,)


def _comparable(image: Image) -> Image:
    flat = {name: value for name, value in image.items() if name != _MOVES_BY_OTHERS}
    return {name: dict(sorted(value.items())) if isinstance(value, dict) else value for name, value in flat.items()}


def _clash(event: Event, name: str, after: Image, current: Image) -> Clash:
    return Clash(noun=event.noun, uid=event.uid, field=name, expected=after.get(name), found=current.get(name))


def _differ(one: Image, two: Image, name: str) -> bool:
    left, right = one.get(name, _ABSENT), two.get(name, _ABSENT)
    if left is _ABSENT or right is _ABSENT:
        return left is not right
    return not same(left, right)


def _flat(noun: str, image: Image) -> Image:
    flat: Image = {}
    for name, value in image.items():
        if name in TABLES[noun].json and isinstance(value, dict):
            flat |= {name: {}, **{f"{name}.{key}": item for key, item in value.items()}}
        else:
            flat[name] = value
    return flat


def _folded(noun: str, flat: Image) -> Image:
    image = {column: dict(value) if isinstance(value, dict) else value for column, value in flat.items()}
    for name in flat:
        column, dot, key = name.partition(".")
        if dot:
            image[column][key] = image.pop(name)
    return {column: image[column] for column in TABLES[noun].columns}
