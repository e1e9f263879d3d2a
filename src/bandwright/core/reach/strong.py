"""What strong signals do to the runs of a link: what clips first, how near a pack may come, who else comes near it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bandwright.core.bands import Span
from bandwright.core.job import Job
from bandwright.core.kit import Other
from bandwright.core.planning.earshot import hears
from bandwright.core.reach.blockers import Blocker, Phones, blockers_of, phones_in
from bandwright.core.reach.budget import Branch
from bandwright.core.reach.facts import LinkFacts
from bandwright.core.reach.path import wavelength_m
from bandwright.core.reach.receiver_front import FrontEnd, front_end
from bandwright.core.reach.supply import SupplyFinding, supply_findings
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Run
from bandwright.core.words import and_list

__all__ = ["Strong", "strong_of", "strong_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Strong:
    """One run before strong signals.

    `clips_at_m` is how near one of the link's own packs, in free space, drives a stage to its 1 dB point; None where a
    figure is missing.
    """

    run: Run | None
    front: FrontEnd
    clips_at_m: float | None
    blockers: tuple[Blocker, ...]
    phones: Phones | None
    supply: tuple[SupplyFinding, ...]


def strong_of(job: Job, facts: LinkFacts, branches: Sequence[Branch], tables: ReachTables) -> tuple[Strong, ...]:
    """Return what strong signals do to each run that brings a signal in; nothing for in-ear links."""
    if not facts.inward:
        return ()
    others = [other for other in job.others if hears(job, facts.link, other)]
    runs = [branch.run for branch in branches if branch.run is not None]
    supply = supply_findings(runs, facts.link.radio)
    return tuple(_strong(facts, branch, others, supply, tables) for branch in branches)


def _strong(
    facts: LinkFacts,
    branch: Branch,
    others: Sequence[Other],
    supply: Sequence[tuple[Run, SupplyFinding]],
    tables: ReachTables,
) -> Strong:
    front = front_end(branch.chain, facts.link.radio)
    near_m = None
    if branch.radiated_dbm is not None:
        near_m = front.clips_at_m(
            eirp_dbm=branch.radiated_dbm,
            antenna_gain_dbi=branch.chain.antenna_gain_dbi,
            frequency_hz=facts.carrier_hz,
        )
    return Strong(
        run=branch.run,
        front=front,
        clips_at_m=near_m,
        blockers=tuple(blockers_of(front, others)),
        phones=phones_in(branch, front, tables),
        supply=tuple(finding for run, finding in supply if branch.run is not None and run.id == branch.run.id),
    )


def strong_words(strong: Strong) -> Iterator[tuple[str, str]]:
    """Yield what there is to say about a run before strong signals: a short stable word, and the sentence."""
    front = strong.front
    if front.clips_first is not None and front.p1db_dbm is not None and math.isfinite(front.p1db_dbm):
        yield "clips", _clips_text(strong, front, front.p1db_dbm)
    for blocker in strong.blockers:
        yield "blocker", _blocker_text(blocker)
    if strong.phones is not None:
        yield "phones", _phones_text(strong.phones)
    for finding in strong.supply:
        yield finding.code, finding.text


def _clips_text(strong: Strong, front: FrontEnd, p1db_dbm: float) -> str:
    first = next(stage for stage in front.stages if stage.name == front.clips_first)
    how = "" if first.clips_stated else ", by its intercept point"
    text = (
        f"{front.clips_first} is the first to clip{how}: 1 dB of gain is lost at {round(p1db_dbm)} dBm at the antenna"
    )
    if strong.clips_at_m is None:
        return f"{text}."
    if strong.clips_at_m < wavelength_m(front.carrier_hz):
        return f"{text}, which one of these packs does not reach a wavelength away."
    return f"{text}, which one of these packs in sight reaches {strong.clips_at_m:.1f} m from it (free space)."


def _blocker_text(blocker: Blocker) -> str:
    lowered = f", {blocker.lowered_db:.0f} dB lower behind the filters" if blocker.lowered_db >= 1 else ""
    where = f"{blocker.below_db:.0f} dB below" if blocker.below_db >= 0 else f"{-blocker.below_db:.0f} dB above"
    return (
        f"{blocker.name} ({blocker.level_dbm:.0f} dBm at the antenna{lowered}) comes to {where} the 1 dB point of "
        f"{blocker.stage}; a filter ahead of it helps, gain does not."
    )


def _phones_text(phones: Phones) -> str:
    words = []
    if phones.phones:
        words.append(f"phones on {_spans(phones.phones)}")
    if phones.bases:
        words.append(f"base stations on {_spans(phones.bases)}")
    text = f"Its passband lets in {and_list(words)} where these bands are in use"
    if phones.clips_at_m is None or phones.clips_at_m < 1:
        return f"{text}."
    return f"{text}; a phone that sends clips it from {phones.clips_at_m:.0f} m on (free space)."


def _spans(spans: Sequence[Span]) -> str:
    return and_list([str(span) for span in spans])
