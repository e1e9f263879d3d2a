"""Stage pictures: everybody somewhere in their area, many times over, and carrier to interference in each picture.

Which products fall into which receiver depends on carriers alone, so that is listed once; a picture only changes how
strong each is. Positions are even over each area, body losses triangular over their range (least, typical, most), and
levels scatter log-normally where the place or its path model states by how much. On a plan each way counts the walls
that it goes through, and what the patterns of antennas make of its direction.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.levels import Interference, LevelModel, Product, interference
from bandwright.core.reach.levels_rows import Rows, pairs_of, rows_of, values_in_pictures, weakened
from bandwright.core.reach.stage import LEAST_M, Stage
from bandwright.core.reach.stage_actors import Actor
from bandwright.core.reach.stage_spots import Spot
from bandwright.kernels import levels as kernel

__all__ = [
    "QUANTILE",
    "LinkLevels",
    "SideBySide",
    "StageLevels",
    "adverse_model",
    "assess_levels",
    "picture_model",
    "ratios_in_pictures",
]

Floats = NDArray[np.float64]

QUANTILE = 0.05
"""Carrier to interference is told that 95 of 100 pictures keep."""

_CHUNK = 4_000_000  # levels held at once
_WORK = 300_000_000  # products over all pictures, about a second
_LEAST_PICTURES = 500  # 25 of them lie below the quantile that is told
_EXTREME_DB = 300.0  # keeps what may be typed finite


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """Two packs whose product, made in the first one's transmitter, is too strong only while they are side by side."""

    one: int
    two: int
    victim: int
    product: Product
    ratio_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkLevels:
    """Carrier to interference of a link; infinite where nothing falls into its receiver's bandwidth.

    `quantile_db` is what 95 of 100 pictures keep, `median_db` what half of them do. `needs_db` is what the receiver
    needs, `needs_stated` whether somebody stated that.
    """

    member: int
    worst_db: float
    quantile_db: float
    median_db: float
    needs_db: float
    needs_stated: bool
    wanted_dbm: float
    interference_dbm: float
    strongest: Product | None

    @property
    def margin_db(self) -> float:
        """What 95 of 100 pictures keep over what is needed."""
        return self.quantile_db - self.needs_db


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLevels:
    """What was found for all placed links, in how many pictures, and who interferes only while side by side."""

    links: tuple[LinkLevels, ...]
    side_by_side: tuple[SideBySide, ...]
    pictures: int
    rows: Rows


def assess_levels(
    stage: Stage, carriers_hz: Sequence[int], random: np.random.Generator, *, pictures: int = 10_000
) -> StageLevels:
    """Return carrier to interference of every placed link at worst and in pictures.

    Parameters
    ----------
    stage
        Who is where.
    carriers_hz
        One for each member in Hz, negative for one that is not on the air.
    random
        Draws the pictures.
    pictures
        How many at most; fewer where there are so many products that it would take seconds, 500 at least.
    """
    model = stage.worst()
    found = interference(model, carriers_hz)
    rows = rows_of(model, carriers_hz)
    count = min(pictures, max(_LEAST_PICTURES, _WORK // max(1, len(rows))))
    ratios = ratios_in_pictures(stage, rows, random, pictures=count)
    links = tuple(_link(stage, item, ratios[:, item.victim]) for item in found)
    return StageLevels(links=links, side_by_side=_side_by_side(rows, links), pictures=count, rows=rows)


def _link(stage: Stage, item: Interference, ratios_db: Floats) -> LinkLevels:
    actor = stage.actors[item.victim]
    # Without interpolation: between a number and infinity there is nothing.
    quantile, median = np.quantile(ratios_db, [QUANTILE, 0.5], method="lower").tolist()
    return LinkLevels(
        member=item.victim,
        worst_db=item.ratio_db,
        quantile_db=quantile,
        median_db=median,
        needs_db=actor.needs_db,
        needs_stated=actor.needs_stated,
        wanted_dbm=item.wanted_dbm,
        interference_dbm=item.interference_dbm,
        strongest=item.strongest,
    )


def _side_by_side(rows: Rows, links: Sequence[LinkLevels]) -> tuple[SideBySide, ...]:
    """Return who is too strong while side by side, where half of the pictures keep what is needed; the worst first."""
    known = {item.member: item for item in links}
    found = []
    for row in np.flatnonzero(rows.how == kernel.SENDER).tolist():
        item, product = known[int(rows.victim[row])], rows.product(row)
        ratio_db = item.wanted_dbm - product.level_dbm
        if ratio_db < item.needs_db <= item.median_db:
            one, two = product.members
            found.append(SideBySide(one=one, two=two, victim=item.member, product=product, ratio_db=ratio_db))
    return tuple(sorted(found, key=lambda one: (one.ratio_db - known[one.victim].needs_db, one.one, one.two)))


# ------------------------------------------------------------------------------------------------------- pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class _Site:
    """A place of reception: an antenna (shared by receivers), or the body of one in-ear's wearer.

    `member` is one of those that hear there.
    """

    spot: Spot
    wearer: int | None
    gain_dbi: float
    member: int


def ratios_in_pictures(stage: Stage, rows: Rows, random: np.random.Generator, *, pictures: int) -> Floats:
    """Return carrier to interference in dB for each picture and member, infinite where nothing interferes.

    Parameters
    ----------
    stage
        Who is where.
    rows
        Every product that falls into a receiver, as listed for the worst picture: what is not heard there never is.
    random
        Draws positions, body losses and scatter.
    pictures
        How many.
    """
    sites, site = _sites(stage)
    pairs, _ = pairs_of(rows)
    weight = weakened(rows, stage.weaker_db)
    size = len(stage.actors)
    found = np.full((pictures, size), math.inf)
    step = max(1, _CHUNK // max(1, size * len(sites)))
    for start in range(0, pictures, step):
        count = min(step, pictures - start)
        air, made = _picture(stage, sites, pairs, random, count)
        total = values_in_pictures(rows, weight, site, air, made)
        own = air[:, site, np.arange(size)]
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = 10 * np.log10(own / total)
        found[start : start + count] = np.where(total > 0, ratio, math.inf)
    return found


def picture_model(stage: Stage, random: np.random.Generator) -> LevelModel:
    """Return the levels of one picture, drawn: everybody stands somewhere in their area and stays there."""
    size = len(stage.actors)
    sites, site = _sites(stage)
    pairs = np.array([(a, c) for a in range(size) for c in range(size) if a != c], np.int64).reshape(-1, 2)
    air, made = _picture(stage, sites, pairs, random, 1)
    return _model(stage, air[0, site], pairs, made[0])


def adverse_model(stage: Stage, random: np.random.Generator, *, pictures: int = 1_000) -> LevelModel:
    """Return levels as bad as they are in 1 of 20 pictures, each carrier by itself.

    A wanted carrier as weak, any other as strong, and packs as near to each other as in the worst 5 of 100 pictures:
    what a search is to stand on, since in the worst picture of all everybody may crowd round one antenna.
    """
    size = len(stage.actors)
    sites, site = _sites(stage)
    pairs = np.array([(a, c) for a in range(size) for c in range(size) if a != c], np.int64).reshape(-1, 2)
    air, made = _picture(stage, sites, pairs, random, pictures)
    strong = np.quantile(air, 1 - QUANTILE, axis=0)[site]
    members = np.arange(size)
    strong[members, members] = np.quantile(air[:, site, members], QUANTILE, axis=0)
    return _model(stage, strong, pairs, np.quantile(made, 1 - QUANTILE, axis=0))


def _model(stage: Stage, air: Floats, pairs: NDArray[np.int64], made: Floats) -> LevelModel:
    heard = 10 ** (-np.minimum(stage.weaker_db, _EXTREME_DB) / 10) * np.isfinite(stage.weaker_db)
    made_db = np.full((len(stage.actors),) * 2, math.inf)
    with np.errstate(divide="ignore"):
        level_dbm = 10 * np.log10(air * heard)
        made_db[pairs[:, 0], pairs[:, 1]] = -10 * np.log10(made * heard[pairs[:, 0], pairs[:, 1]])
    return stage.model(level_dbm, made_db)


def _sites(stage: Stage) -> tuple[list[_Site], NDArray[np.int64]]:
    sites: dict[object, _Site] = {}
    of = []
    for member, actor in enumerate(stage.actors):
        wearer = None if actor.inward else member
        key = (actor.hears_at, wearer, actor.gain_dbi, actor.look, actor.walls_db is None)
        site = _Site(spot=actor.hears_at, wearer=wearer, gain_dbi=actor.gain_dbi, member=member)
        sites.setdefault(key, site)
        of.append(list(sites).index(key))
    return list(sites.values()), np.array(of, np.int64)


def _picture(
    stage: Stage, sites: Sequence[_Site], pairs: NDArray[np.int64], random: np.random.Generator, count: int
) -> tuple[Floats, Floats]:
    """Return what arrives of whom at which site in mW, and what each pair of transmitters makes of each other."""
    actors = stage.actors
    # One position for each person: whoever wears a pack, or an in-ear receiver.
    at = [(actor.sends_from if actor.inward else actor.hears_at).draw(random, count) for actor in actors]
    bodies = [_triangle(a.body_db if a.inward else a.hears_body_db, random, count) for a in actors]
    sent_at = [at[j] if actor.inward else actor.sends_from.draw(random, count) for j, actor in enumerate(actors)]
    air = np.zeros((count, len(sites), len(actors)))
    for number, one in enumerate(sites):
        here = one.spot.draw(random, count) if one.wearer is None else at[one.wearer]
        heard_db = one.gain_dbi - (0.0 if one.wearer is None else bodies[one.wearer])
        for j, actor in enumerate(actors):
            if actor.level_dbm is not None:
                air[:, number, j] = 10 ** (actor.level_dbm / 10)
            elif actor.eirp_dbm is not None:
                away = np.maximum(_apart_m(sent_at[j], here), LEAST_M)
                loss = actor.loss_db(away, among_packs=actor.inward and one.wearer is not None)
                loss = loss + stage.between_db(j, one.member, sent_at[j], here)
                sent_db = actor.eirp_dbm - (bodies[j] if actor.inward else 0.0) - _scatter(actor, random, count)
                air[:, number, j] = 10 ** (np.clip(sent_db - loss + heard_db, -_EXTREME_DB, _EXTREME_DB) / 10)
    return air, _made(stage, pairs, sent_at, bodies)


def _made(stage: Stage, pairs: NDArray[np.int64], sent_at: Sequence[Floats], bodies: Sequence[Floats]) -> Floats:
    """Return for each picture and pair the part of the first one's power that leaves as a product with the second."""
    count = len(sent_at[0]) if sent_at else 0
    made = np.zeros((count, len(pairs)))
    for number, (a, c) in enumerate(pairs.tolist()):
        one, two = stage.actors[a], stage.actors[c]
        if one.made_db is None or one.eirp_dbm is None or two.eirp_dbm is None:
            continue
        body = (bodies[a] if one.inward else 0.0) + (bodies[c] if two.inward else 0.0)
        apart = one.made_db + one.eirp_dbm - two.eirp_dbm
        loss = stage.coupling_db(a, c, _apart_m(sent_at[a], sent_at[c]), body)
        made[:, number] = 10 ** (-np.clip(apart + loss, -_EXTREME_DB, _EXTREME_DB) / 10)
    return made


def _apart_m(one: Floats, two: Floats) -> Floats:
    away = one - two
    return np.asarray(np.hypot(away[:, 0], away[:, 1]))


def _scatter(actor: Actor, random: np.random.Generator, count: int) -> Floats | float:
    return 0.0 if not actor.sigma_db else actor.sigma_db * random.standard_normal(count)


def _triangle(losses_db: tuple[float, float, float], random: np.random.Generator, count: int) -> Floats:
    least, typical, most = losses_db
    if least == most:
        return np.full(count, least)
    return random.triangular(least, typical, most, count)
