"""The API, one file for each noun: parse, call one function of the service, answer."""

from __future__ import annotations

from bandwright.web.routes import (
    air,
    devices,
    entries,
    history,
    job,
    notes,
    plans,
    questions,
    reach,
    readiness,
    sheets,
    sound,
    statements,
    sweeps,
    versions,
)

__all__ = ["ROUTERS"]

_NOUNS = (
    job,
    entries,
    history,
    versions,
    readiness,
    statements,
    notes,
    sweeps,
    air,
    plans,
    questions,
    reach,
    sound,
    sheets,
    devices,
)

ROUTERS = tuple(noun.router for noun in _NOUNS)
