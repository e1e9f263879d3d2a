"""The documents that answers hold, by name: what the API describes itself with."""

from __future__ import annotations

from bandwright.documents.outputs import (
    CapacityDocument,
    CompareDocument,
    PlanDocument,
    ReachDocument,
    ReplanDocument,
    SoundCompareDocument,
    SoundDocument,
    SweepDocument,
    WhyDocument,
)
from bandwright.documents.outputs.check import ViolationModel
from bandwright.documents.outputs.plan import ClosestModel
from bandwright.documents.outputs.reach_area import GlanceModel

__all__ = [
    "CapacityDocument",
    "ClosestModel",
    "CompareDocument",
    "GlanceModel",
    "PlanDocument",
    "ReachDocument",
    "ReplanDocument",
    "SoundCompareDocument",
    "SoundDocument",
    "SweepDocument",
    "ViolationModel",
    "WhyDocument",
]
