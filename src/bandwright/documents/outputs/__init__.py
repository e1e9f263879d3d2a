"""Everything that `--json` prints, as frozen models; JSON Schemas are generated from them."""

from bandwright.documents.outputs.capacity import CapacityDocument, RelaxationModel, capacity_document
from bandwright.documents.outputs.change import MoveModel, ReplanDocument, replan_document
from bandwright.documents.outputs.check import CheckDocument, check_document
from bandwright.documents.outputs.common import Document, Input, Run, Warned
from bandwright.documents.outputs.compare import CompareDocument, compare_document
from bandwright.documents.outputs.job import JobCheckDocument, JobCounts, JobDocument, PartModel, ReportDocument
from bandwright.documents.outputs.plan import PlanDocument, plan_document
from bandwright.documents.outputs.reach import ReachDocument, reach_document
from bandwright.documents.outputs.rises import RisesDocument, rises_document
from bandwright.documents.outputs.rules import RulesDocument, rules_document
from bandwright.documents.outputs.sound import SoundDocument, sound_document
from bandwright.documents.outputs.sound_compare import SoundCompareDocument, sound_compare_document
from bandwright.documents.outputs.stored import StoredPlan, read_plan
from bandwright.documents.outputs.suspect import SuspectDocument, suspect_document
from bandwright.documents.outputs.sweep import SweepDocument, sweep_document
from bandwright.documents.outputs.why import WhyDocument, why_document

__all__ = [
    "CapacityDocument",
    "CheckDocument",
    "CompareDocument",
    "Document",
    "Input",
    "JobCheckDocument",
    "JobCounts",
    "JobDocument",
    "MoveModel",
    "PartModel",
    "PlanDocument",
    "ReachDocument",
    "RelaxationModel",
    "ReplanDocument",
    "ReportDocument",
    "RisesDocument",
    "RulesDocument",
    "Run",
    "SoundCompareDocument",
    "SoundDocument",
    "StoredPlan",
    "SuspectDocument",
    "SweepDocument",
    "Warned",
    "WhyDocument",
    "capacity_document",
    "check_document",
    "compare_document",
    "plan_document",
    "reach_document",
    "read_plan",
    "replan_document",
    "rises_document",
    "rules_document",
    "sound_compare_document",
    "sound_document",
    "suspect_document",
    "sweep_document",
    "why_document",
]
