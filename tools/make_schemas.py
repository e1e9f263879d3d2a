"""Make the JSON Schemas of what goes in and comes out: `python -m tools.make_schemas [--check]`."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Literal

from pydantic import BaseModel

from bandwright.documents import outputs
from bandwright.documents.brief import Brief
from tools.generated import ROOT, write_or_check

FOLDER = ROOT / "src" / "bandwright" / "documents" / "schemas"

# file name -> the document, and whether the schema is of what the program reads or of what it writes
DOCUMENTS: dict[str, tuple[type[BaseModel], Literal["validation", "serialization"]]] = {
    "brief": (Brief, "validation"),
    "capacity": (outputs.CapacityDocument, "serialization"),
    "check": (outputs.CheckDocument, "serialization"),
    "plan": (outputs.PlanDocument, "serialization"),
    "replan": (outputs.ReplanDocument, "serialization"),
    "rules": (outputs.RulesDocument, "serialization"),
    "sweep": (outputs.SweepDocument, "serialization"),
    "why": (outputs.WhyDocument, "serialization"),
}


def main() -> None:
    """Write or check the schemas."""
    write_or_check(contents(), check="--check" in sys.argv[1:])


def contents() -> dict[Path, str]:
    """Return every schema file with its text."""
    return {FOLDER / f"{name}.json": text(model, mode) for name, (model, mode) in DOCUMENTS.items()}


def text(model: type[BaseModel], mode: Literal["validation", "serialization"]) -> str:
    """Return the schema of a document as it stands in its file."""
    made = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | model.model_json_schema(mode=mode)
    return json.dumps(made, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    main()
