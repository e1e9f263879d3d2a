"""The job file: one SQLite file for one job, with every change that was ever made to it.

It knows nothing of briefs: entries are JSON values with a kind, an id and a uid. Tables are the truth; each change
writes its events in the same transaction, and undo and redo are changes like any other.

    with JobFile.create(path, fill, who="Mara", what="Made this job") as job:
        done = job.change(lambda draft: draft.remove(uid), who="Mara", what="Removed link L07")
        job.undo(who="Mara")
"""

from bandwright.store.compacting import Compacted
from bandwright.store.draft import Draft
from bandwright.store.jobfile import JobFile
from bandwright.store.records import (
    Change,
    Clash,
    Device,
    Done,
    Entry,
    Event,
    Note,
    Plan,
    Statement,
    Sweep,
    Version,
)
from bandwright.store.undo import UndoRefused

__all__ = [
    "Change",
    "Clash",
    "Compacted",
    "Device",
    "Done",
    "Draft",
    "Entry",
    "Event",
    "JobFile",
    "Note",
    "Plan",
    "Statement",
    "Sweep",
    "UndoRefused",
    "Version",
]
