"""Make the JSON Schemas of what goes in and comes out: `python -m tools.make_schemas [--check]`."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from bandwright.documents import outputs
from tools.generated import ROOT, write_or_check

FOLDER = ROOT / "src" / "bandwright" / "documents" / "schemas"

# file name -> the document it describes
DOCUMENTS: dict[str, type[BaseModel]] = {
    "capacity": outputs.CapacityDocument,
    "check": outputs.CheckDocument,
    "plan": outputs.PlanDocument,
    "replan": outputs.ReplanDocument,
    "rules": outputs.RulesDocument,
    "why": outputs.WhyDocument,
}


def main() -> None:
    """Write or check the schemas."""
    write_or_check(contents(), check="--check" in sys.argv[1:])


def contents() -> dict[Path, str]:
    """Return every schema file with its text."""
    return {FOLDER / f"{name}.json": text(schema(model)) for name, model in DOCUMENTS.items()}


def schema(model: type[BaseModel]) -> dict[str, Any]:
    """Return what the program writes, as a JSON Schema."""
    made = model.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | made


def text(made: dict[str, Any]) -> str:
    """Return a schema as it stands in its file."""
    return json.dumps(made, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    main()
