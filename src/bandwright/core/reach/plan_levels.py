"""A plan with what its levels come to: carrier to interference of each link, who makes it, and what is missing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from bandwright.core.job import Job
from bandwright.core.planning.plan import (
    Beside,
    CarrierToInterference,
    Closest,
    Culprit,
    Gap,
    PlacedLink,
    Plan,
    PlanLevels,
    Status,
    Warn,
)
from bandwright.core.reach.levels import Product
from bandwright.core.reach.levels_rows import Rows, level_dbm_of
from bandwright.core.reach.stage import Stage
from bandwright.core.reach.stage_pictures import LinkLevels, SideBySide, assess_levels
from bandwright.core.words import and_list

__all__ = ["THIN_DB", "levels_wanted", "ratios_by_id", "with_levels"]

THIN_DB = 6.0
"""A margin below this is a caution."""

_TOLD = 3
_KEYS_TOLD = 6
_LINKS_TOLD = 8


def levels_wanted(job: Job) -> bool:
    """Whether levels are to be predicted: somebody asked for them, or an intercept point is stated."""
    asked = job.wishes.objective == "levels" or job.wishes.khz_rules != "kept"
    return asked or any(link.radio.iip3_dbm is not None for link in job.links)


def with_levels(
    job: Job,
    plan: Plan,
    stage: Stage,
    carriers_hz: Sequence[int],
    random: np.random.Generator,
    *,
    pictures: int = 10_000,
) -> Plan:
    """Return the plan with carrier to interference of each placed link, cautions where the margin is thin, and notes.

    Parameters
    ----------
    job, plan
        The plan without levels.
    stage
        Who is where, in the order of the problem's members.
    carriers_hz
        One for each member in Hz, negative where there is none.
    random
        Draws the stage pictures.
    pictures
        How many at most.
    """
    found = assess_levels(stage, carriers_hz, random, pictures=pictures)
    ids = [actor.id for actor in stage.actors]
    by_id = {ids[item.member]: item for item in found.links}
    index = {name: number for number, name in enumerate(ids)}
    links = tuple(_placed(link, by_id.get(link.id), ids, _closest(link, index, found.rows)) for link in plan.links)
    ours = {link.id for link in links}
    worst = [item.worst_db for name, item in by_id.items() if name in ours and math.isfinite(item.worst_db)]
    needs = {item.member: item.needs_db for item in found.links}
    levels = PlanLevels(
        pictures=found.pictures,
        worst_db=min(worst, default=None),
        side_by_side=tuple(_beside(item, ids, needs) for item in found.side_by_side if ids[item.victim] in ours),
        unknown=tuple(link.id for link in links if link.carrier_to_interference is None),
        missing=stage.gaps,
    )
    told = tuple(_warnings(job, links, levels))
    return replace(plan, links=links, levels=levels, warnings=(*plan.warnings, *told))


def ratios_by_id(
    stage: Stage, carriers_hz: Sequence[int], random: np.random.Generator, *, pictures: int = 10_000
) -> dict[str, CarrierToInterference]:
    """Return carrier to interference of every placed link for which it can be told, by id; as for `with_levels`."""
    ids = [actor.id for actor in stage.actors]
    found = assess_levels(stage, carriers_hz, random, pictures=pictures)
    return {ids[item.member]: _ratio(item, ids) for item in found.links}


def _placed(link: PlacedLink, item: LinkLevels | None, ids: Sequence[str], closest: Closest | None) -> PlacedLink:
    cautions = list(link.cautions)
    if item is not None and item.margin_db < THIN_DB:
        cautions.append("level-margin")
    status = Status.CAUTION if cautions and link.status is Status.CLEAR else link.status
    ratio = None if item is None else _ratio(item, ids)
    return replace(link, cautions=tuple(cautions), status=status, carrier_to_interference=ratio, closest=closest)


def _closest(link: PlacedLink, index: Mapping[str, int], rows: Rows) -> Closest | None:
    """Return what comes closest with its level, where it is a product whose level is known."""
    closest = link.closest
    if closest is None or closest.family is None:
        return closest
    members = [index[name] for name in closest.sources]
    return replace(closest, level_dbm=level_dbm_of(rows, index[link.id], closest.family, members))


def _ratio(item: LinkLevels, ids: Sequence[str]) -> CarrierToInterference:
    return CarrierToInterference(
        worst_db=_finite(item.worst_db),
        quantile_db=_finite(item.quantile_db),
        median_db=_finite(item.median_db),
        needs_db=item.needs_db,
        needs_stated=item.needs_stated,
        wanted_dbm=item.wanted_dbm,
        interference_dbm=_finite(item.interference_dbm),
        culprit=None if item.strongest is None else _culprit(item.strongest, ids),
    )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _culprit(product: Product, ids: Sequence[str]) -> Culprit:
    return Culprit(
        family=product.family,
        made=product.made.value,
        sources=tuple(ids[member] for member in product.members),
        product_hz=product.product_hz,
        offset_hz=product.offset_hz,
        level_dbm=product.level_dbm,
    )


def _beside(item: SideBySide, ids: Sequence[str], needs: Mapping[int, float]) -> Beside:
    return Beside(
        one=ids[item.one],
        two=ids[item.two],
        victim=ids[item.victim],
        product_hz=item.product.product_hz,
        level_dbm=item.product.level_dbm,
        ratio_db=item.ratio_db,
        needs_db=needs[item.victim],
    )


def _warnings(job: Job, links: Sequence[PlacedLink], levels: PlanLevels) -> Iterator[Warn]:
    names = {link.id: link.name for link in job.links}
    pairs: dict[frozenset[str], Beside] = {}
    for item in levels.side_by_side:
        pairs.setdefault(frozenset((item.one, item.two)), item)
    for item in list(pairs.values())[:_TOLD]:
        one, two, victim = (names.get(name, name) for name in (item.one, item.two, item.victim))
        who = f"{victim} has" if item.victim not in (item.one, item.two) else f"{victim} itself has"
        text = (
            f"{one} next to {two}: only while they are side by side, {who} as little as {item.ratio_db:.0f} dB over "
            f"2 x {one} - {two} ({item.needs_db:g} dB are needed)."
        )
        yield Warn(code="side-by-side", text=text, where=and_list([item.one, item.two]))
    if len(pairs) > _TOLD:
        text = f"{len(pairs) - _TOLD} more pairs interfere only while they are side by side."
        yield Warn(code="side-by-side", text=text, command="--json lists them.")
    if job.wishes.khz_rules != "kept":
        yield from _eased(job)
    if levels.missing:
        yield Warn(code="levels-partial", text=_partial(links, levels))


def _eased(job: Job) -> Iterator[Warn]:
    radios = {link.radio.name: link.radio.iip3_dbm for link in job.links}
    eased = [name for name, iip3 in radios.items() if iip3 is not None]
    kept = [name for name, iip3 in radios.items() if iip3 is None]
    how = "halved" if job.wishes.khz_rules == "relaxed" else "off"
    if eased:
        text = f"Product clearances in kHz are {how} for {and_list(eased)}: predicted levels stand in their place."
        yield Warn(code="khz-rules", text=text)
    if kept:
        text = f"Product clearances in kHz stay for {and_list(kept)}: without iip3_dbm no level can be predicted."
        yield Warn(code="khz-rules-kept", text=text)


def _partial(links: Sequence[PlacedLink], levels: PlanLevels) -> str:
    """Return in a sentence what to fill in; links are many, so that theirs are counted."""
    found = [f"{gap.key} of {gap.table} {gap.id}" for gap in levels.missing if gap.table != "link"]
    by_key: dict[str, list[Gap]] = {}
    for gap in levels.missing:
        if gap.table == "link":
            by_key.setdefault(gap.key, []).append(gap)
    for key, gaps in by_key.items():
        found.append(f"{key} of {f'{len(gaps)} links' if len(gaps) > 1 else f'link {gaps[0].id}'}")
    more = f" and {len(found) - _KEYS_TOLD} more" if len(found) > _KEYS_TOLD else ""
    listed = and_list(found[:_KEYS_TOLD]) if not more else ", ".join(found[:_KEYS_TOLD])
    return f"Predicted levels are partial{_without(links, levels)}. Fill in {listed}{more}."


def _without(links: Sequence[PlacedLink], levels: PlanLevels) -> str:
    """Return which links have no product levels; the first few by their ids, the others counted."""
    ids, count = levels.unknown, len(levels.unknown)
    if not count:
        return ""
    named = and_list(ids) if count <= _LINKS_TOLD else f"{', '.join(ids[:_LINKS_TOLD])} and {count - _LINKS_TOLD} more"
    have = "has" if count == 1 else "have"
    return f"; {count} of {len(links)} links {have} none (product levels not known): {named}"
