"""The JSON Schema of the brief, as it is shipped: what each key means, its unit, and what it may be."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

__all__ = ["brief_schema"]


def brief_schema() -> dict[str, Any]:
    """Return the schema; the help at each field comes from its descriptions."""
    text = resources.files("bandwright.documents").joinpath("schemas", "brief.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found
