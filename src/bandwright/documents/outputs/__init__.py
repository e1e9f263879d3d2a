"""Everything that `--json` prints, as frozen models; JSON Schemas are generated from them."""

from bandwright.documents.outputs.change import CapacityDocument, MoveModel, RelaxationModel, ReplanDocument
from bandwright.documents.outputs.check import CheckDocument, check_document
from bandwright.documents.outputs.common import Document, Input, Run, Warned
from bandwright.documents.outputs.plan import PlanDocument, plan_document
from bandwright.documents.outputs.rules import RulesDocument, rules_document
from bandwright.documents.outputs.stored import StoredPlan, read_plan
from bandwright.documents.outputs.sweep import SweepDocument, sweep_document
from bandwright.documents.outputs.why import WhyDocument, why_document

__all__ = [
    "CapacityDocument",
    "CheckDocument",
    "Document",
    "Input",
    "MoveModel",
    "PlanDocument",
    "RelaxationModel",
    "ReplanDocument",
    "RulesDocument",
    "Run",
    "StoredPlan",
    "SweepDocument",
    "Warned",
    "WhyDocument",
    "check_document",
    "plan_document",
    "read_plan",
    "rules_document",
    "sweep_document",
    "why_document",
]
