"""Who is on a stage: what a link or another user sends and hears, where, and what lies on its way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job, Place
from bandwright.core.kit import Emission, Link, MakesProducts, Other
from bandwright.core.planning.earshot import PROTECTION_DB
from bandwright.core.reach.area_antenna import facing_towards_deg
from bandwright.core.reach.budget import WORN_HEIGHT_M, branch_of, wall_db
from bandwright.core.reach.chain import Chain
from bandwright.core.reach.facts import Gap, LinkFacts, link_facts, runs_of
from bandwright.core.reach.intermod import rms_deviation_hz
from bandwright.core.reach.models import FREE_SPACE, PathFacts, PathModel, path_models
from bandwright.core.reach.receiver_front import FrontEnd, front_end
from bandwright.core.reach.stage_spots import Spot
from bandwright.core.reach.stage_ways import Look
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Run

__all__ = ["Actor", "actor_of", "other_of"]

Floats = NDArray[np.float64]

# What counts where nobody states it, and is told each time; common practice.
_ASSUMED_M = 20.0
_UNKNOWN_OTHER_DBM = -45.0  # where other users begin to make products by themselves


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Actor:
    """One member of a plan on the stage.

    `body_db` is what bodies take away at either end (least, typical, most): of what it sends, and of what it hears.
    `made_db` is the conversion loss of its transmitter, None where nobody stated it. `look` is how its antenna looks,
    where that has a pattern and a position; `walls_db` what each wall of the plan takes from its signal, None where it
    is not on the plan, and `stated_walls_db` what the walls that it states itself take there.
    """

    id: str
    sends_from: Spot
    hears_at: Spot
    eirp_dbm: float | None
    body_db: tuple[float, float, float]
    hears_body_db: tuple[float, float, float]
    gain_dbi: float
    stated_walls_db: float
    inward: bool
    model: PathModel
    exponent: float | None
    height_m: float | None
    sigma_db: float | None
    frequency_hz: int
    front: FrontEnd | None
    made_db: float | None
    rms_hz: float
    bandwidth_hz: float
    needs_db: float
    needs_stated: bool
    level_dbm: float | None = None
    makes_products: bool = True
    look: Look | None = None
    walls_db: tuple[float, ...] | None = None

    def loss_db(self, distance_m: Floats, *, among_packs: bool = False) -> Floats:
        """Return the loss of a way in dB; between packs no model with a high antenna holds, so free space counts."""
        model = path_models(ReachTables())[FREE_SPACE] if among_packs and "height_m" in self.model.needs else self.model
        facts = PathFacts(
            distance_m=distance_m,
            frequency_hz=self.frequency_hz,
            exponent=self.exponent,
            low_m=WORN_HEIGHT_M,
            high_m=self.height_m,
        )
        return model.loss_db(facts)


def actor_of(job: Job, link: Link, tables: ReachTables, gaps: list[Gap]) -> Actor:
    """Return a link on the stage; what is missing is added to the gaps."""
    radio = link.radio
    run = _run_of(job, link, tables)
    facts = _path_facts(job, link, run, tables, gaps)
    antenna = _antenna_spot(job, link, run, gaps)
    worn = _area_of(job, facts.link, antenna)
    branch = branch_of(facts, run, tables)
    inward = facts.inward
    chain = Chain.of(run if inward else None, radio, frequency_hz=facts.carrier_hz, tables=tables)
    front = front_end(chain, radio)
    _note_gaps(link, facts, front, gaps)
    nobody = (0.0, 0.0, 0.0)
    return Actor(
        id=link.id,
        sends_from=worn if inward else antenna,
        hears_at=antenna if inward else worn,
        eirp_dbm=branch.radiated_dbm,
        body_db=facts.body_db if inward else nobody,
        hears_body_db=nobody if inward else facts.body_db,
        gain_dbi=chain.antenna_gain_dbi if inward else 0.0,
        stated_walls_db=branch.path.walls_db if branch.path is not None else 0.0,
        inward=inward,
        model=path_models(tables)[facts.place.path or FREE_SPACE],
        exponent=facts.place.path_exponent,
        height_m=run.antenna.height_m if run is not None else None,
        sigma_db=branch.path.sigma_db if branch.path is not None else None,
        frequency_hz=facts.carrier_hz,
        front=None if front.iip3_dbm is None else front,
        made_db=radio.transmit_im_loss_db,
        rms_hz=rms_deviation_hz(
            bandwidth_hz=radio.bandwidth_hz,
            peak_deviation_hz=radio.peak_deviation_hz,
            digital=radio.emission is Emission.DIGITAL,
        ),
        bandwidth_hz=float(radio.bandwidth_hz),
        needs_db=PROTECTION_DB if radio.needs_cn_db is None else radio.needs_cn_db,
        needs_stated=radio.needs_cn_db is not None,
        look=_look(job, link, run),
        walls_db=_walls_db(job, link, run, facts, tables),
    )


def _look(job: Job, link: Link, run: Run | None) -> Look | None:
    """Return how the antenna of a link looks over the plan; None where that is not known, or it has no pattern."""
    if run is None or job.area is None or _zone(job, link) is None:
        return None
    antenna = run.antenna
    if antenna.at_m is None or antenna.pattern is None:
        return None
    facing = antenna.facing_deg
    towards = facing_towards_deg(antenna.at_m, job.area.middle_m) if facing is None else facing
    return Look(at_m=antenna.at_m, pattern=antenna.pattern, facing_deg=towards)


def _walls_db(job: Job, link: Link, run: Run | None, facts: LinkFacts, tables: ReachTables) -> tuple[float, ...] | None:
    """Return what each wall of the plan takes from a link; None where link or antenna are not on the plan."""
    if run is None or run.antenna.at_m is None or job.area is None or _zone(job, link) is None:
        return None
    return tuple(wall_db(item.wall, facts.carrier_hz, tables) for item in job.area.walls)


def _run_of(job: Job, link: Link, tables: ReachTables) -> Run | None:
    """Return the run of a link that counts: of several that bring it in, the one where products come out strongest.

    Products rise by 2 dB against the wanted carrier for each dB that the intercept point lies lower against the gain of
    the antenna. A run whose intercept point is not known goes first, so that it is asked for.
    """
    runs = runs_of(job, link)
    facts = link_facts(job, link, carriers={}, tables=tables)
    if len(runs) < 2 or not facts.inward:
        return next(iter(runs), None)

    def spare_db(run: Run) -> float:
        chain = Chain.of(run, link.radio, frequency_hz=facts.carrier_hz, tables=tables)
        iip3_dbm = chain.iip3_dbm()
        return -math.inf if iip3_dbm is None else iip3_dbm - chain.antenna_gain_dbi

    return min(runs, key=spare_db)


def _path_facts(job: Job, link: Link, run: Run | None, tables: ReachTables, gaps: list[Gap]) -> LinkFacts:
    """Return what is known of a link's way, with what counts in place of missing facts."""
    if link.distance_m is None and _zone(job, link) is None and not link.spare_at:
        gaps.append(Gap(table="link", id=link.id, key="zone or distance_m", meanwhile=f"{_ASSUMED_M:g} m count"))
    distance_m = link.distance_m if link.distance_m is not None else _ASSUMED_M
    facts = link_facts(job, replace(link, distance_m=distance_m), carriers={}, tables=tables)
    place: Place = facts.place
    known: Mapping[str, object] = {
        "path_exponent": place.path_exponent,
        "height_m": run.antenna.height_m if run is not None else None,
    }
    lacking = [key for key in path_models(tables)[place.path or FREE_SPACE].needs if known[key] is None]
    if lacking:
        table, of = ("place", place.id) if lacking[0] == "path_exponent" else ("antenna", run.antenna.id if run else "")
        gaps.append(Gap(table=table, id=of, key=lacking[0], meanwhile="free space counts"))
        return replace(facts, place=replace(place, path=None))
    return facts


def _zone(job: Job, link: Link) -> tuple[tuple[float, float], ...] | None:
    """Return the corners of a link's zone, or of the whole plan; None where its place has no plan."""
    area = job.area
    if area is None or (area.place or job.places[0].id) != job.place_of(link).id:
        return None
    zone = area.zone(link.zone)
    return area.outline_m if zone is None else zone.corners_m


def _antenna_spot(job: Job, link: Link, run: Run | None, gaps: list[Gap]) -> Spot:
    if run is not None and run.antenna.at_m is not None:
        return Spot(middle_m=run.antenna.at_m)
    if job.area is None or _zone(job, link) is None:
        return Spot()
    if run is not None:
        meanwhile = "the middle of the plan counts"
        gaps.append(Gap(table="antenna", id=run.antenna.id, key="at_m", meanwhile=meanwhile))
    return Spot(middle_m=job.area.middle_m)


def _area_of(job: Job, link: Link, antenna: Spot) -> Spot:
    corners = _zone(job, link)
    if corners is not None:
        return Spot(corners_m=corners)
    return Spot(middle_m=antenna.middle_m, radius_m=float(link.distance_m or _ASSUMED_M))


def _note_gaps(link: Link, facts: LinkFacts, front: FrontEnd, gaps: list[Gap]) -> None:
    radio = link.radio
    if facts.power_mw is None:
        gaps.append(Gap(table="radio", id=radio.id, key="power_mw"))
    if radio.iip3_dbm is None:
        gaps.append(Gap(table="radio", id=radio.id, key="iip3_dbm"))
    elif front.iip3_dbm is None:
        gaps += [Gap(table="link", id=link.id, key=f"iip3_dbm of {stage.name} in its run")
                 for stage in front.stages if stage.iip3_dbm is None]  # fmt: skip
    if radio.transmit_im_loss_db is None:
        meanwhile = "products made in its transmitters are not predicted"
        gaps.append(Gap(table="radio", id=radio.id, key="transmit_im_loss_db", meanwhile=meanwhile))
    if radio.needs_cn_db is None:
        meanwhile = f"{PROTECTION_DB:g} dB over interference count"
        gaps.append(Gap(table="radio", id=radio.id, key="needs_cn_db", meanwhile=meanwhile))


def other_of(other: Other, gaps: list[Gap]) -> Actor:
    """Return another user on the stage: a level at every antenna, and nowhere."""
    if other.level_dbm is None:
        meanwhile = f"{_UNKNOWN_OTHER_DBM:g} dBm at every antenna counts"
        gaps.append(Gap(table="other", id=other.id, key="level_dbm", meanwhile=meanwhile))
    nobody, nowhere = (0.0, 0.0, 0.0), Spot()
    return Actor(
        id=other.id,
        sends_from=nowhere,
        hears_at=nowhere,
        eirp_dbm=None,
        body_db=nobody,
        hears_body_db=nobody,
        gain_dbi=0.0,
        stated_walls_db=0.0,
        inward=True,
        model=path_models(ReachTables())[FREE_SPACE],
        exponent=None,
        height_m=None,
        sigma_db=None,
        frequency_hz=other.carrier_hz,
        front=None,
        made_db=None,
        rms_hz=rms_deviation_hz(bandwidth_hz=other.bandwidth_hz, peak_deviation_hz=None, digital=True),
        bandwidth_hz=float(other.bandwidth_hz),
        needs_db=PROTECTION_DB,
        needs_stated=False,
        level_dbm=_UNKNOWN_OTHER_DBM if other.level_dbm is None else other.level_dbm,
        makes_products=other.makes_products is not MakesProducts.NO,
    )
