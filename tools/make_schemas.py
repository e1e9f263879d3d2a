"""Make the JSON Schemas of what goes in and comes out: `python -m tools.make_schemas [--check]`.

The types by which pages are checked are made of the same models, so they are written, or checked, along with them.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Literal

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import CoreSchema

from bandwright.documents import outputs
from bandwright.documents.brief import Brief
from tools import make_api_types
from tools.generated import ROOT, write_or_check

FOLDER = ROOT / "src" / "bandwright" / "documents" / "schemas"

# file name -> the document, and whether the schema is of what the program reads or of what it writes
DOCUMENTS: dict[str, tuple[type[BaseModel], Literal["validation", "serialization"]]] = {
    "brief": (Brief, "validation"),
    "capacity": (outputs.CapacityDocument, "serialization"),
    "check": (outputs.CheckDocument, "serialization"),
    "compare": (outputs.CompareDocument, "serialization"),
    "job": (outputs.JobDocument, "serialization"),
    "job-check": (outputs.JobCheckDocument, "serialization"),
    "plan": (outputs.PlanDocument, "serialization"),
    "reach": (outputs.ReachDocument, "serialization"),
    "replan": (outputs.ReplanDocument, "serialization"),
    "report": (outputs.ReportDocument, "serialization"),
    "rises": (outputs.RisesDocument, "serialization"),
    "rules": (outputs.RulesDocument, "serialization"),
    "sound": (outputs.SoundDocument, "serialization"),
    "sound-compare": (outputs.SoundCompareDocument, "serialization"),
    "suspect": (outputs.SuspectDocument, "serialization"),
    "sweep": (outputs.SweepDocument, "serialization"),
    "why": (outputs.WhyDocument, "serialization"),
}


class Schema(GenerateJsonSchema):
    """A schema without titles that only say the name of a key again."""

    def field_title_should_be_set(self, schema: CoreSchema | object) -> bool:
        """Return that no field gets one."""
        return False


def main() -> None:
    """Write or check the schemas, and the types of the API."""
    write_or_check(contents() | {make_api_types.TYPES: make_api_types.contents()}, check="--check" in sys.argv[1:])


def contents() -> dict[Path, str]:
    """Return every schema file with its text."""
    return {FOLDER / f"{name}.json": text(model, mode) for name, (model, mode) in DOCUMENTS.items()}


def text(model: type[BaseModel], mode: Literal["validation", "serialization"]) -> str:
    """Return the schema of a document as it stands in its file."""
    made = model.model_json_schema(mode=mode, schema_generator=Schema)
    made = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | made
    return json.dumps(made, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    main()
