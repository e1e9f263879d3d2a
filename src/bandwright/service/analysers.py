"""Which kind an analyser is of: by the user's own files first, then by those that are shipped."""

from __future__ import annotations

from pathlib import Path

from bandwright.core.analyser import AnalyserKind
from bandwright.documents.analyser import read_analyser
from bandwright.reference.tables import analyser_files
from bandwright.service.context import Context
from bandwright.service.inputs import read_text

__all__ = ["kind_of", "own_folder"]


def own_folder(context: Context) -> Path | None:
    """Return the folder of the user's own files on analysers: beside that of the kit files."""
    return None if context.kit_folder is None else context.kit_folder.with_name("analysers")


def kind_of(context: Context, identity: str) -> AnalyserKind:
    """Return the kind of analyser with this reply to `*IDN?`; of several that fit, the one with the most words.

    Raises InputError with everything that is wrong with a file of the user's.
    """
    folder = own_folder(context)
    own = sorted(folder.glob("*.toml")) if folder is not None and folder.is_dir() else []
    texts = [(str(path), read_text(path, "file on an analyser")) for path in own]
    kinds = [read_analyser(text, file=name) for name, text in (*texts, *analyser_files())]
    fitting = [kind for kind in kinds if kind.answers(identity)] or [kind for kind in kinds if not kind.answers_to]
    return max(fitting, key=lambda kind: len(kind.answers_to))
