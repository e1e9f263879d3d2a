"""How links sound: line-up from mouth to recorder, companding, times, levels at the ear, clocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.sound.report import SoundReport, report_on
from bandwright.documents.outputs import Input, SoundDocument, sound_document
from bandwright.reference import tables as reference
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief
from bandwright.service.names import links_asked_for
from bandwright.sheets.sound_text import sound_text

__all__ = ["Sounded", "sound_of_links"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounded:
    """How links sound, with the inputs that it rests on."""

    job: Job
    report: SoundReport
    inputs: tuple[Input, ...]

    @property
    def exit_code(self) -> int:
        """How a command ends that shows this: 1 when something is wrong or cannot be told."""
        return 0 if self.report.fine else 1

    def document(self) -> SoundDocument:
        """Return it as the JSON document."""
        return sound_document(self.report, inputs=self.inputs, warnings=())

    def text(self, *, columns: int) -> str:
        """Return it for a terminal of so many columns."""
        return sound_text(self.report, notes=(), columns=columns)


def sound_of_links(context: Context, brief: Path, *, link_ids: Sequence[str] = ()) -> Sounded:
    """Return how the links of a brief sound, or the named ones.

    Raises
    ------
    InputError
        When the brief cannot be read, has no links, or a link is unknown.
    """
    brought = load_brief(context, brief)
    job = brought.job
    links = links_asked_for(job, link_ids, file=str(brief))
    return Sounded(job=job, report=report_on(job, links, reference.sound_tables()), inputs=brought.inputs)
