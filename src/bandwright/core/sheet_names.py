"""How people stand on sheets: by full name, by initials or by their role.

A sheet on a wall with names and carriers lets anyone listen; whoever is not shown by name is not named anywhere else on
the sheet either.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link

__all__ = ["NAME_STYLES", "People", "initials", "names_shown"]

_ONE_OF = {Direction.FROM_PERSON: "microphone", Direction.TO_PERSON: "in-ear", Direction.BOTH: "talkback"}


def names_shown(job: Job, names: str) -> Mapping[str, str]:
    """Return what each link (by id) is called on a sheet with names "full", as "initials" or as "roles"."""
    return People.of(job, names=names).shown


def initials(name: str) -> str:
    """Return the first letters of a name's words, upright.

    >>> initials("Łukasz Nguyễn"), initials("Mara")
    ('ŁN', 'M')
    """
    return "".join(word[0].upper() for word in re.split(r"[\s\-]+", name) if word and word[0].isalnum())


def _full_name(link: Link) -> str:
    return link.name


def _initials_of(link: Link) -> str:
    return initials(link.name) or link.id


def _role_of(link: Link) -> str:
    return link.role or _ONE_OF[link.radio.direction]


NAME_STYLES: Mapping[str, Callable[[Link], str]] = {
    "full": _full_name,
    "initials": _initials_of,
    "roles": _role_of,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class People:
    """What each link is called on a sheet, and how names are kept out of everything else."""

    shown: Mapping[str, str]
    hidden: tuple[tuple[str, str], ...]

    @classmethod
    def of(cls, job: Job, *, names: str) -> People:
        """Return the people of a job, named in one of `NAME_STYLES`; KeyError for any other way."""
        if names not in NAME_STYLES:
            raise KeyError(f"unknown way to print names {names!r}; known: {', '.join(NAME_STYLES)}")
        style = NAME_STYLES[names]
        shown = {link.id: style(link) for link in job.links}
        if style is _role_of:
            shown = _numbered(shown)
        pairs = {
            name: shown[link.id]
            for link in job.links
            for name in (link.name, link.wearer)
            if name and name not in (shown[link.id], link.id)
        }
        hidden = pairs if style is not _full_name else {}
        return cls(shown=shown, hidden=tuple(sorted(hidden.items(), key=lambda pair: -len(pair[0]))))

    def hide(self, text: str) -> str:
        """Return a text with what people are called here in place of their names."""
        for name, shown in self.hidden:
            text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", lambda _, shown=shown: shown, text)  # type: ignore[misc]
        return text

    def hide_if(self, text: str | None) -> str | None:
        """Return the same for a text that may be missing."""
        return None if text is None else self.hide(text)


def _numbered(shown: Mapping[str, str]) -> dict[str, str]:
    """Return roles that several links have with a number each: "microphone 1", "microphone 2"."""
    times = Counter(shown.values())
    turn: Counter[str] = Counter()
    found = {}
    for link_id, role in shown.items():
        turn[role] += 1
        found[link_id] = f"{role} {turn[role]}" if times[role] > 1 else role
    return found
