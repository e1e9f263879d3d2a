"""Points, polygons, directions and antenna patterns as a brief states them on the plan of a place."""

from __future__ import annotations

import itertools
from typing import Annotated, Any

from pydantic import PlainValidator, WithJsonSchema

from bandwright.core.reach.area import Metres
from bandwright.core.reach.area_geometry import crosses_itself, lie_in_line
from bandwright.documents.brief import types as t

__all__ = ["BeamWidth", "Degrees", "Path", "Pattern", "Polygon"]

_MOST_CORNERS = 200
_NEEDS_CORNERS = 3


def _points(value: Any, least: int, allowed: str) -> tuple[Metres, ...]:
    if not isinstance(value, list) or not least <= len(value) <= _MOST_CORNERS:
        raise t.wrong("not-points", f"must be {allowed}", allowed=allowed)
    if any(not isinstance(item, list) or len(item) != 2 for item in value):
        raise t.wrong("not-points", "must hold two numbers of m for each point", allowed=allowed)
    found = [t.position(item) for item in value]
    return tuple(point for k, point in enumerate(found) if k == 0 or point != found[k - 1])


def _polygon(value: Any) -> tuple[Metres, ...]:
    allowed = f"a list of 3 to {_MOST_CORNERS} corners, each [x, y] in m, in order around it"
    corners = _points(value, _NEEDS_CORNERS, allowed)
    if corners[0] == corners[-1]:
        corners = corners[:-1]  # closed by hand
    if len(set(corners)) < _NEEDS_CORNERS or lie_in_line(corners):
        raise t.wrong("no-area", "has no area", allowed=allowed)
    if crosses_itself(corners):
        hint = "List the corners in the order in which somebody walks around it."
        raise t.wrong("crosses-itself", "crosses itself", allowed=allowed, hint=hint)
    return corners


def _polyline(value: Any) -> tuple[Metres, ...]:
    allowed = f"a list of 2 to {_MOST_CORNERS} points, each [x, y] in m"
    found = _points(value, 2, allowed)
    if len(found) < 2:
        raise t.wrong("no-length", "has no length", allowed=allowed)
    return found


def _degrees(value: Any) -> float:
    number = t.number_of(value, " of degrees")
    if not -360 <= number <= 360:
        raise t.wrong("out-of-range", "must lie between -360 and 360 degrees", allowed="-360 to 360")
    return float(number)


def _beamwidth(value: Any) -> float:
    number = t.number_of(value, " of degrees")
    if not 1 <= number <= 360:
        raise t.wrong("out-of-range", "must lie between 1 and 360 degrees", allowed="1 to 360")
    return float(number)


_PATTERNS = ("omni", "directional")


def _pattern(value: Any) -> str | tuple[tuple[float, float], ...]:
    allowed = '"omni", "directional", or a list of [degrees, dB] such as [[0, 0], [60, -3], [180, -15]]'
    if isinstance(value, str) and value in _PATTERNS:
        return value
    if not isinstance(value, list) or len(value) < 2 or any(not isinstance(i, list) or len(i) != 2 for i in value):
        raise t.wrong("unknown-pattern", f"must be {allowed}", allowed=allowed)
    points = tuple((float(t.number_of(deg, " of degrees")), float(t.number_of(db, " of dB"))) for deg, db in value)
    if any(one >= two for (one, _), (two, _) in itertools.pairwise(points)):
        raise t.wrong("not-rising", "must list degrees upwards, each once", allowed=allowed)
    if points[0][0] != 0 or not 90 < points[-1][0] < 360 or any(not -100 <= db <= 20 for _, db in points):
        allowed = "degrees from 0 on, up to 180 (both sides alike) or to less than 360; dB from -100 to 20"
        raise t.wrong("out-of-range", f"must have {allowed}", allowed=allowed)
    return points


_POINT_SCHEMA = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}

Polygon = Annotated[
    tuple[Metres, ...],
    PlainValidator(_polygon),
    WithJsonSchema({"type": "array", "items": _POINT_SCHEMA, "minItems": 3, "maxItems": _MOST_CORNERS}),
]
Path = Annotated[
    tuple[Metres, ...],
    PlainValidator(_polyline),
    WithJsonSchema({"type": "array", "items": _POINT_SCHEMA, "minItems": 2, "maxItems": _MOST_CORNERS}),
]
Degrees = Annotated[
    float, PlainValidator(_degrees), WithJsonSchema({"type": "number", "minimum": -360, "maximum": 360})
]
Pattern = Annotated[
    str | tuple[tuple[float, float], ...],
    PlainValidator(_pattern),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "enum": list(_PATTERNS)},
                {"type": "array", "items": _POINT_SCHEMA, "minItems": 2},
            ]
        }
    ),
]
BeamWidth = Annotated[
    float, PlainValidator(_beamwidth), WithJsonSchema({"type": "number", "minimum": 1, "maximum": 360})
]
