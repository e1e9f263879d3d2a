"""Touchstone files: what a cable or amplifier does to a signal, and nothing about what is on the air."""

from __future__ import annotations

import re

from bandwright.readers.text import lines_of

__all__ = ["REFUSAL", "sniff"]

REFUSAL = (
    "This is a Touchstone file: it tells what a cable, filter or amplifier does to a signal, not what is on the air."
)
_OPTIONS = re.compile(rb"^#\s*([kMG]?Hz\s+)?[SYZGH]\s+(MA|DB|RI)\b", re.IGNORECASE)


def sniff(head: bytes) -> bool:
    """Whether an option line such as `# MHz S MA R 50` comes before any data."""
    for line in lines_of([head]):
        text = line.strip()
        if _OPTIONS.match(text):
            return True
        if text and not text.startswith((b"!", b"[")):
            return False
    return False
