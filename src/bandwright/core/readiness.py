"""What still stands between a job and going on air: eight points, one line each when fine, and what is next for whom.

Pure: plain facts in, sentences out. A point that nothing computes is known only by a statement of somebody's; it is
never taken for fine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from bandwright.core.permits import PermitState
from bandwright.core.readiness_facts import (
    LinkFacts,
    PermitFacts,
    PlanFacts,
    ReadinessFacts,
    Said,
    SoundFacts,
    StrongFacts,
)
from bandwright.core.words import and_list

__all__ = ["POINTS", "TICKS", "Next", "Point", "Readiness", "readiness"]

POINTS = {
    "legal": "Legal",
    "clean": "Clean",
    "strong": "Strong",
    "sounding-right": "Sounding right",
    "powered": "Powered",
    "set-and-tested": "Set and tested",
    "kept": "Kept",
    "on-paper": "On paper",
}
"""The eight points by their stable words, in the order of the work."""

TICKS = ("set", "heard", "walked")
"""What is ticked of each link, in the order in which it is done."""

FINE, OPEN, STATED, UNKNOWN = "fine", "open", "stated", "not known"
_NAMED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One of the eight: its state, one line, where it is mended, and whether somebody stated it."""

    point: str
    title: str
    state: str
    text: str
    href: str
    statement: Said | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """What is to be done next, for whom the job waits meanwhile, and where it is done."""

    text: str
    waits_for: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """The eight points, what is next, and the links on which something is not ticked yet."""

    next: Next
    points: tuple[Point, ...]
    not_set: tuple[LinkFacts, ...]
    not_heard: tuple[LinkFacts, ...]
    not_walked: tuple[LinkFacts, ...]


def readiness(facts: ReadinessFacts) -> Readiness:
    """Return how far a job is from going on air."""
    missing = [tuple(link for link in facts.links if tick not in link.ticked) for tick in TICKS]
    return Readiness(
        next=next(_steps(facts)),
        points=tuple(_point(facts, name) for name in POINTS),
        not_set=missing[0],
        not_heard=missing[1],
        not_walked=missing[2],
    )


def _point(facts: ReadinessFacts, name: str) -> Point:
    href, complaints, fine = _LOOKED_AT[name]
    said = facts.said(name)
    told = list(complaints(facts))
    if name in _WORKED_OUT:
        state, text = _WORKED_OUT[name](facts, said)
    elif name in _STATED_ONLY:
        state, text = (STATED, _stated(said)) if said else (UNKNOWN, told[0])
    else:
        state, text = (OPEN, told[0]) if told else (FINE, fine(facts))
    return Point(point=name, title=POINTS[name], state=state, text=text, href=href, statement=said)


def _strong(facts: ReadinessFacts, said: Said | None) -> tuple[str, str]:
    """Return state and text of the third point; what somebody stated goes first, with what is worked out beside it."""
    found = facts.strong
    if found is None or found.pending:
        told = _NOT_STRONG if found is None else "How strongly links arrive is being worked out."
        return (STATED, _stated(said)) if said else (UNKNOWN, told)
    parts = []
    if found.short:
        parts.append(_falls_short(found))
    if found.untold:
        parts.append(f"of {_some(found.untold)} it cannot be told, since facts are missing")
    worked_out = f"{'; '.join(parts)}." if parts else ""
    worked_out = worked_out[:1].upper() + worked_out[1:]
    if said:
        return STATED, f"{_stated(said)}{f' By reckoning: {worked_out}' if parts else ''}"
    if found.short:
        return OPEN, worked_out
    if found.untold:
        return UNKNOWN, worked_out
    where = f" {found.where}" if found.where else ""
    least = f", {found.least} the least: {found.least_db:.1f} dB over it{where}" if found.least_db is not None else ""
    whose = f"All {found.enough} links have" if found.enough > 1 else "The link has"
    return FINE, f"{whose} the margin that fading asks for{least}."


def _falls_short(found: StrongFacts) -> str:
    one = len(found.short) == 1
    words = f"{_some(found.short)} {'falls' if one else 'fall'} short of what fading asks for"
    if found.least_db is None or found.where is None:
        return words
    return f"{words}{'' if one else f', {found.least} most:'} by {-found.least_db:.1f} dB {found.where}"


def _sounding(facts: ReadinessFacts, said: Said | None) -> tuple[str, str]:
    """Return state and text of the fourth point; what somebody stated goes first, with what is worked out beside it."""
    found = facts.sound
    if found is None:
        return (STATED, _stated(said)) if said else (UNKNOWN, _NOT_SOUNDING)
    worked_out = _sound_trouble(found)
    if said:
        return STATED, f"{_stated(said)}{f' By reckoning: {worked_out}' if worked_out else ''}"
    if worked_out:
        return OPEN, worked_out
    whose = f"All {found.fits} links fit" if found.fits > 1 else "The link fits"
    doubt = f", {_some(found.cautions)} with a caution" if found.cautions else ""
    return FINE, f"{whose} from mouth to recorder{doubt}."


def _sound_trouble(found: SoundFacts) -> str:
    if found.reason is not None:
        whose = f"{_some(found.wrong)}: " if found.wrong else ""
        return f"{whose}{found.reason[:1].upper()}{found.reason[1:].rstrip('.')}."
    if not found.untold:
        return ""
    alike = "it" if len(found.untold) == 1 else "they"
    rest = f"; the other {found.fits} fit" if found.fits > 1 else "; the other one fits" if found.fits else ""
    return f"{_some(found.untold)}: facts are missing to tell whether {alike} will sound right{rest}."


def _stated(said: Said) -> str:
    note = f": {said.note}" if said.note else ""
    return f"Stated by {said.who} at {said.at:%H:%M on %Y-%m-%d}{note}."


# ------------------------------------------------------------------------------------------------------- complaints


def _legal(facts: ReadinessFacts) -> Iterator[str]:
    if facts.faults:
        yield _faulty(facts)
    used = _permits_used(facts)
    for permit in used:
        under = _links_under(facts, permit)
        if permit.state is PermitState.APPLIED:
            yield (
                f"{permit.reference} is only applied for: nothing may go on air under it before it is granted{under}."
            )
        elif permit.over:
            yield f"{permit.reference} ended {permit.ends:%Y-%m-%d %H:%M}{under}."
        elif not permit.covers_dates:
            yield f"{permit.reference} is not valid on every date of the job{under}."
    if facts.plan is None:
        yield "There is no plan yet, so no carrier has been held against the permits."
        return
    for permit in used:
        if not permit.confirmed:
            yield (
                f"Carriers under {permit.reference} are inside the shipped, unconfirmed figures; hold them against the "
                "regulator's current text, then state so in the permit."
            )
    power = [link for link in _placed(facts) if "power-not-shown-to-be-within" in link.cautions]
    if power:
        yield f"{_names(power)}: the power is not shown to be within the permit."


def _permits_used(facts: ReadinessFacts) -> list[PermitFacts]:
    """Return the permits that the plan leans on, or all of them before there is a plan."""
    leaned_on = {link.permit for link in _placed(facts)}
    return [permit for permit in facts.permits if facts.plan is None or permit.id in leaned_on]


def _links_under(facts: ReadinessFacts, permit: PermitFacts) -> str:
    under = [link for link in _placed(facts) if link.permit == permit.id]
    return f" ({_names(under)})" if under else ""


def _legal_fine(facts: ReadinessFacts) -> str:
    names = and_list([f"{permit.reference} ({permit.state.value})" for permit in _permits_used(facts)])
    return f"Every carrier of the plan lies inside {names or 'a permit'}."


def _clean(facts: ReadinessFacts) -> Iterator[str]:
    if facts.faults:
        yield _faulty(facts)
    if not facts.links:
        yield "There are no links yet."
    if facts.plan is None:
        yield "There is no plan yet."
    else:
        yield from _plan_trouble(facts, facts.plan)
    if facts.sweep is None:
        yield "There is no sweep: nobody has looked at what is on the air here."
        return
    if facts.sweep.own_transmitters != "off":
        yield f"{facts.sweep.name}: {_OWN[facts.sweep.own_transmitters]}"
    if facts.sweep.old or facts.sweep.age is None:
        age = facts.sweep.age or "of no known time"
        yield f"{facts.sweep.name} is {age}: the air may have changed; sweep again on the day."
    unknown = [link for link in _placed(facts) if {"unmeasured", "not-deep-enough"} & set(link.cautions)]
    if unknown:
        yield f"{_names(unknown)}: the sweeps do not tell whether {_its(unknown)} quiet."


def _plan_trouble(facts: ReadinessFacts, plan: PlanFacts) -> Iterator[str]:
    if plan.unplaced:
        has = "has" if len(plan.unplaced) == 1 else "have"
        yield f"{_some(plan.unplaced)} {has} no carrier in plan {plan.number}."
    blocked = [link for link in _placed(facts) if link.status == "blocked"]
    if blocked:
        yield f"{_names(blocked)}: on a carrier that breaks a rule."
    if plan.stale is not None:
        yield f"{plan.stale} Plan {plan.number} was made before: plan again, or move only what must move."


_OWN = {
    "on": "made with own transmitters on, so it tells nothing of the carriers they were on.",
    "unknown": "nobody said whether own transmitters were off.",
}


def _clean_fine(facts: ReadinessFacts) -> str:
    cautious = [link for link in _placed(facts) if link.status == "caution"]
    kept = f"All {len(facts.links)} links keep every rule" if len(facts.links) > 1 else "The link keeps every rule"
    doubt = f", {len(cautious)} with a caution" if cautious else ""
    sweep = facts.sweep
    return f"{kept}{doubt}; {sweep.name} ({sweep.age}, own transmitters off)." if sweep else f"{kept}{doubt}."


def _nobody(what: str) -> Callable[[ReadinessFacts], Iterator[str]]:
    def complain(_: ReadinessFacts) -> Iterator[str]:
        yield what

    return complain


def _set_and_tested(facts: ReadinessFacts) -> Iterator[str]:
    if facts.plan is None or not facts.links:
        yield "Nothing can be set before there is a plan."
        return
    left = {tick: [link for link in facts.links if tick not in link.ticked] for tick in TICKS}
    parts = [f"{len(links)} not {tick}{_named_if_few(links)}" for tick, links in left.items() if links]
    if parts:
        yield f"Of {len(facts.links)} link{'s' if len(facts.links) > 1 else ''}: {', '.join(parts)}."


def _named_if_few(links: Sequence[LinkFacts]) -> str:
    return f" ({_names(links)})" if len(links) <= _NAMED else ""


def _kept(facts: ReadinessFacts) -> Iterator[str]:
    if facts.plan is None:
        yield "Spare carriers are found together with the plan."
    if not facts.spares:
        yield "No spare carrier is wished for: when the air changes, nothing stands ready. Say how many under Plan."
    for spare in facts.spares:
        if facts.plan is not None and spare.left < spare.wished:
            left = "none is" if spare.left == 0 else f"{spare.left} {'is' if spare.left == 1 else 'are'}"
            yield f"Of {spare.wished} spare carriers wished for {spare.radio}, {left} left."


def _kept_fine(facts: ReadinessFacts) -> str:
    counts = [f"{spare.left} for {spare.radio}" for spare in facts.spares]
    return f"Spare carriers, clean together with everything: {and_list(counts)}."


def _on_paper(facts: ReadinessFacts) -> Iterator[str]:
    if facts.plan is None:
        yield "There is no plan to print yet."
    elif facts.printed is None:
        yield f"Nobody has said that the sheet of plan {facts.plan.number} ({facts.plan.check_phrase}) hangs."
    elif facts.since_print:
        more = f" and {len(facts.since_print) - 1} more" if len(facts.since_print) > 1 else ""
        yield f"The printed sheet is out of date: {facts.since_print[0].rstrip('.')}{more}."


def _on_paper_fine(facts: ReadinessFacts) -> str:
    plan, printed = facts.plan, facts.printed
    if plan is None or printed is None:
        return ""
    return f"Plan {plan.number} ({plan.check_phrase}) was printed by {printed.who} at {printed.at:%H:%M on %Y-%m-%d}."


def _faulty(facts: ReadinessFacts) -> str:
    more = f"; and {len(facts.faults) - 1} more" if len(facts.faults) > 1 else ""
    return f"The brief cannot be planned yet: {facts.faults[0].rstrip('.')}{more}."


def _nothing(_: ReadinessFacts) -> str:
    return ""


_NOT_STRONG = (
    "No antenna or plan of the place is written down, and nobody has stated that the signal is strong enough over the "
    "whole playing area."
)

_NOT_SOUNDING = (
    "Nothing is written down about microphones, sources and recorders, and nobody has stated that companding, gain and "
    "output levels fit from end to end."
)

_LOOKED_AT: dict[str, tuple[str, Callable[[ReadinessFacts], Iterator[str]], Callable[[ReadinessFacts], str]]] = {
    "legal": ("#/kit", _legal, _legal_fine),
    "clean": ("#/plan", _clean, _clean_fine),
    "strong": ("#/reach", _nobody(_NOT_STRONG), _nothing),
    "sounding-right": ("#/sound", _nobody(_NOT_SOUNDING), _nothing),
    "powered": (
        "#/ready",
        _nobody("Nobody has stated that packs and receivers last from call to wrap, or when they are changed."),
        _nothing,
    ),
    "set-and-tested": ("#/ready", _set_and_tested, lambda facts: f"{_all(facts)} set, heard and walked."),
    "kept": ("#/plan", _kept, _kept_fine),
    "on-paper": ("#/sheets", _on_paper, _on_paper_fine),
}
_WORKED_OUT = {"strong": _strong, "sounding-right": _sounding}
_STATED_ONLY = ("strong", "sounding-right", "powered")


# ------------------------------------------------------------------------------------------------------- what is next


def _steps(facts: ReadinessFacts) -> Iterator[Next]:
    """Yield what is open in the order of the work; the first one is next."""
    yield from _in_the_office(facts)
    yield from _on_the_day(facts)
    for name in _STATED_ONLY:
        point = _point(facts, name)
        if point.state in (OPEN, UNKNOWN):
            yield Next(text=point.text, waits_for=_WHO_KNOWS[name], href=point.href)
    for name in ("kept", "on-paper"):
        point = _point(facts, name)
        if point.state == OPEN:
            yield Next(text=point.text, waits_for="whoever keeps the plan", href=point.href)
    yield Next(text="Nothing stands open here: every point is fine or stated.", waits_for="nobody", href="#/ready")


_WHO_KNOWS = {
    "strong": "whoever walks the area with a receiver",
    "sounding-right": "whoever does the audio line-up",
    "powered": "whoever changes the batteries",
}


def _in_the_office(facts: ReadinessFacts) -> Iterator[Next]:
    if facts.faults:
        yield Next(text=_faulty(facts), waits_for="whoever fills in the brief", href="#/kit")
    if not facts.links:
        text = "Write down who needs a link: there are none yet."
        yield Next(text=text, waits_for="whoever fills in the brief", href="#/kit")
    if facts.plan is None:
        what = "Plan the carriers" if facts.sweep else "Bring a sweep, or plan without one and check it on the day"
        yield Next(text=f"{what}: there is no plan yet.", waits_for="you", href="#/plan" if facts.sweep else "#/air")
    else:
        for text in _plan_trouble(facts, facts.plan):
            yield Next(text=text, waits_for="you", href="#/plan")
    for permit in _permits_used(facts):
        if permit.state is PermitState.APPLIED:
            text = (
                f"{permit.reference} is only applied for{_links_under(facts, permit)}: write it in once it is granted."
            )
            yield Next(text=text, waits_for="the licensing authority", href="#/kit")
    legal = _point(facts, "legal")
    if legal.state == OPEN:
        yield Next(text=legal.text, waits_for="whoever looks after the permits", href="#/kit")


def _on_the_day(facts: ReadinessFacts) -> Iterator[Next]:
    clean = _point(facts, "clean")
    if clean.state == OPEN:
        yield Next(text=clean.text, waits_for="whoever sweeps", href="#/air")
    who = {"set": "whoever sets the packs", "heard": "whoever listens at the rack", "walked": "whoever walks the area"}
    verbs = {"set": "Set", "heard": "Listen to", "walked": "Walk with"}
    for tick in TICKS:
        left = [link for link in facts.links if tick not in link.ticked]
        if left:
            yield Next(text=f"{verbs[tick]} {_names(left)}.", waits_for=who[tick], href="#/links")


# -------------------------------------------------------------------------------------------------------------- words


def _placed(facts: ReadinessFacts) -> list[LinkFacts]:
    return [link for link in facts.links if link.carrier_hz is not None]


def _names(links: Sequence[LinkFacts]) -> str:
    return _some([link.id if link.name == link.id else f"{link.id} {link.name}" for link in links])


def _some(names: Sequence[str]) -> str:
    if len(names) <= _NAMED:
        return and_list(names)
    return f"{', '.join(names[: _NAMED - 1])} and {len(names) - _NAMED + 1} more"


def _its(links: Sequence[LinkFacts]) -> str:
    return "its carrier is" if len(links) == 1 else "their carriers are"


def _all(facts: ReadinessFacts) -> str:
    return "The link is" if len(facts.links) == 1 else f"All {len(facts.links)} links are"
