"""One link from its transmitter to its receiver at the farthest point of its area: levels, noise, margin."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bandwright.core.job import Place
from bandwright.core.kit import PowerKind, RadioType, Worn
from bandwright.core.reach.cascade import noise_dbm
from bandwright.core.reach.chain import Chain, Step
from bandwright.core.reach.facts import Gap, LinkFacts
from bandwright.core.reach.models import FREE_SPACE, PathFacts, PathModel, path_models
from bandwright.core.reach.parts import is_active
from bandwright.core.reach.tables import ReachTables
from bandwright.core.reach.walls import slab_loss_db
from bandwright.core.rig import Antenna, Run, Wall
from bandwright.units import ERP_TO_EIRP_DB, dbm_from_mw

__all__ = ["WORN_HEIGHT_M", "Branch", "Path", "branch_of", "wall_db"]

WORN_HEIGHT_M = 1.2
"""Height of a pack or hand-held above the ground that counts where it matters; common practice."""

_DIPOLE_DBI = ERP_TO_EIRP_DB


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """The way through the air: which model, its loss, what walls and body add, and where the model is left."""

    model: PathModel
    loss_db: float
    walls_db: float
    sigma_db: float | None
    outside: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """One run of a link, from transmitter to receiver; levels in dBm, None what missing facts leave open.

    `lowest_dbm` counts the body and the cables at their most. `margin_db` is what the level has over what the receiver
    needs (`margin_over` says what that is), `lowest_margin_db` the same at the lowest level.
    """

    run: Run | None
    chain: Chain
    steps: tuple[Step, ...]
    path: Path | None
    level_dbm: float | None
    lowest_dbm: float | None
    noise_dbm: float | None
    cn_db: float | None
    margin_db: float | None
    lowest_margin_db: float | None
    margin_over: str | None
    radiated_dbm: float | None
    gaps: tuple[Gap, ...]


def branch_of(facts: LinkFacts, run: Run | None, tables: ReachTables) -> Branch:
    """Return one run of a link with its levels as far as they can be told."""
    chain = Chain.of(run, facts.link.radio, frequency_hz=facts.carrier_hz, tables=tables)
    gaps = list(_gaps(facts, run, chain, tables))
    path = _path(facts, run, tables)
    if facts.power_mw is None or path is None or chain.unknown:
        return _told(facts, run, chain, path, steps=(), gaps=gaps, radiated_dbm=None)
    steps = _inward(facts, chain, path) if facts.inward else _outward(facts, chain, path)
    return _told(facts, run, chain, path, steps=steps, gaps=gaps, radiated_dbm=_radiated_dbm(facts, steps))


def _radiated_dbm(facts: LinkFacts, steps: Sequence[Step]) -> float:
    """Return what leaves the sending antenna, as e.i.r.p."""
    if facts.inward:
        return steps[0].level_dbm
    return next((step.level_dbm for step in steps if step.what == "antenna"), steps[0].level_dbm)


def _told(
    facts: LinkFacts,
    run: Run | None,
    chain: Chain,
    path: Path | None,
    *,
    steps: Sequence[Step],
    gaps: Sequence[Gap],
    radiated_dbm: float | None,
) -> Branch:
    level_dbm = steps[-1].level_dbm if steps else None
    lowest_dbm = None if level_dbm is None else level_dbm - sum(step.spread_db[1] for step in steps)
    noise_dbm = _noise_at_receiver(facts, chain)
    cn_db = level_dbm - noise_dbm if level_dbm is not None and noise_dbm is not None else None
    need_dbm, over = _needed(facts.link.radio, noise_dbm)
    return Branch(
        run=run,
        chain=chain,
        steps=tuple(steps),
        path=path,
        level_dbm=level_dbm,
        lowest_dbm=lowest_dbm,
        noise_dbm=noise_dbm,
        cn_db=cn_db,
        margin_db=level_dbm - need_dbm if level_dbm is not None and need_dbm is not None else None,
        lowest_margin_db=lowest_dbm - need_dbm if lowest_dbm is not None and need_dbm is not None else None,
        margin_over=over,
        radiated_dbm=radiated_dbm,
        gaps=tuple(gaps),
    )


def _noise_at_receiver(facts: LinkFacts, chain: Chain) -> float | None:
    """Return all noise as if it came in at the receiver's input, its own included."""
    if facts.inward:
        at_antenna = chain.noise_dbm()
        return None if at_antenna is None else at_antenna + chain.gain_db
    return chain.noise_dbm(stages=())


def _needed(radio: RadioType, noise_dbm: float | None) -> tuple[float | None, str | None]:
    """Return the level that a receiver needs at its input, and what it is measured by."""
    if noise_dbm is not None and radio.needs_cn_db is not None:
        return noise_dbm + radio.needs_cn_db, f"the C/N of {radio.needs_cn_db:g} dB that it needs"
    if radio.sensitivity_dbm is not None:
        return radio.sensitivity_dbm, f"its sensitivity of {radio.sensitivity_dbm:g} dBm"
    return None, None


# ----------------------------------------------------------------------------------------------------- the way


def _inward(facts: LinkFacts, chain: Chain, path: Path) -> tuple[Step, ...]:
    """Return the steps from a person to the rack."""
    eirp_dbm = _eirp_dbm(facts)
    steps = [_first(facts, eirp_dbm, radiated=True), *_air(facts, path, eirp_dbm)]
    at_antenna = steps[-1].level_dbm + chain.antenna_gain_dbi
    name = chain.antenna.name if chain.antenna is not None else "the receiver's own antenna"
    heard = noise_dbm(noise_figure_db=0.0, bandwidth_hz=chain.bandwidth_hz, antenna_k=chain.antenna_k)
    steps.append(Step(what="antenna", name=name, gain_db=chain.antenna_gain_dbi, level_dbm=at_antenna, noise_dbm=heard))
    return (*steps, *chain.steps(at_antenna))


def _outward(facts: LinkFacts, chain: Chain, path: Path) -> tuple[Step, ...]:
    """Return the steps from the rack to a person: the run the other way round, then the air."""
    fed_dbm = dbm_from_mw(facts.power_mw or 1.0)
    if chain.antenna is None:
        eirp_dbm = _eirp_dbm(facts)
        return (_first(facts, eirp_dbm, radiated=True), *_air(facts, path, eirp_dbm))
    if facts.link.radio.power_kind is PowerKind.EIRP:
        fed_dbm -= _DIPOLE_DBI  # stated with a half-wave antenna on it, which is off now
    steps, level_dbm = [_first(facts, fed_dbm, radiated=False)], fed_dbm
    for stage, spread in zip(reversed(chain.stages), reversed(chain.spreads), strict=True):
        level_dbm += stage.gain_db
        steps.append(
            Step(what=stage.what, name=stage.name, gain_db=stage.gain_db, level_dbm=level_dbm, spread_db=spread)
        )
    level_dbm += chain.antenna_gain_dbi
    steps.append(Step(what="antenna", name=chain.antenna.name, gain_db=chain.antenna_gain_dbi, level_dbm=level_dbm))
    return (*steps, *_air(facts, path, level_dbm))


def _first(facts: LinkFacts, level_dbm: float, *, radiated: bool) -> Step:
    name = f"{facts.link.radio.name}, e.i.r.p." if radiated else facts.link.radio.name
    return Step(what="transmitter", name=name, gain_db=0.0, level_dbm=level_dbm)


def _air(facts: LinkFacts, path: Path, level_dbm: float) -> Iterator[Step]:
    least, typical, most = facts.body_db
    if most > 0:
        level_dbm -= typical
        yield Step(
            what="body",
            name=_BODY_NAMES[facts.link.worn] if facts.inward else "in-ear receiver on the body",
            gain_db=-typical,
            level_dbm=level_dbm,
            spread_db=(typical - least, most - typical),
        )
    level_dbm -= path.loss_db
    name = f"{facts.link.distance_m:g} m, {path.model.name}"
    yield Step(what="path", name=name, gain_db=-path.loss_db, level_dbm=level_dbm)
    if facts.link.walls:
        count = len(facts.link.walls)
        level_dbm -= path.walls_db
        name = "1 wall" if count == 1 else f"{count} walls"
        yield Step(what="walls", name=name, gain_db=-path.walls_db, level_dbm=level_dbm)


_BODY_NAMES = {Worn.BODY: "worn on the body", Worn.HAND: "held in the hand", Worn.RACK: "worn by nobody"}


def _eirp_dbm(facts: LinkFacts) -> float:
    """Return what is radiated, as e.i.r.p.; conducted power is taken to go into a half-wave antenna."""
    above = 0.0 if facts.link.radio.power_kind is PowerKind.EIRP else _DIPOLE_DBI
    return dbm_from_mw(facts.power_mw or 1.0) + above


def _path(facts: LinkFacts, run: Run | None, tables: ReachTables) -> Path | None:
    """Return the way through the air, or None where a fact is missing that its model needs."""
    place, distance_m = facts.place, facts.link.distance_m
    model = path_models(tables)[place.path or FREE_SPACE]
    height_m = run.antenna.height_m if run is not None else None
    if distance_m is None or any(value is None for value in _needs(model, place, height_m)):
        return None
    known = PathFacts(
        distance_m=distance_m,
        frequency_hz=facts.carrier_hz,
        exponent=place.path_exponent,
        low_m=WORN_HEIGHT_M,
        high_m=height_m,
    )
    walls = [wall_db(wall, facts.carrier_hz, tables) for wall in facts.link.walls]
    return Path(
        model=model,
        loss_db=model.loss_db(known),
        walls_db=sum(walls),
        sigma_db=place.shadowing_db if place.shadowing_db is not None else model.sigma_db,
        outside=(*model.outside(known), *_walls_outside(facts, tables)),
    )


def _needs(model: PathModel, place: Place, height_m: float | None) -> list[float | None]:
    known = {"path_exponent": place.path_exponent, "height_m": height_m}
    return [known[key] for key in model.needs]


def wall_db(wall: Wall, frequency_hz: int, tables: ReachTables) -> float:
    """Return what a wall costs at a frequency: as stated, else one smooth layer of its material."""
    if wall.loss_db is not None:
        return wall.loss_db
    material = tables.material(wall.material or "")
    return slab_loss_db(
        permittivity=material.permittivity(frequency_hz),
        thickness_m=wall.thickness_m or 0.0,
        frequency_hz=frequency_hz,
    )


def _walls_outside(facts: LinkFacts, tables: ReachTables) -> Iterator[str]:
    for wall in facts.link.walls:
        if wall.loss_db is None and not tables.material(wall.material or "").covers(facts.carrier_hz):
            material = tables.material(wall.material or "")
            mhz = facts.carrier_hz / 1e6
            yield f"{mhz:g} MHz, and {material.name} is published for {material.low_ghz:g} to {material.high_ghz:g} GHz"


# ------------------------------------------------------------------------------------------------ what is missing


def _gaps(facts: LinkFacts, run: Run | None, chain: Chain, tables: ReachTables) -> Iterator[Gap]:
    link, radio, place = facts.link, facts.link.radio, facts.place
    if link.distance_m is None:
        yield Gap(table="link", id=link.id, key="distance_m")
    if facts.power_mw is None:
        yield Gap(table="radio", id=radio.id, key="power_mw")
    if run is None:
        tells = "height_m" not in path_models(tables)[place.path or FREE_SPACE].needs
        own = "an antenna of 0 dBi right at the box counts" if facts.inward else "its own half-wave antenna counts"
        meanwhile = own if tells else None
        yield Gap(table="run", id=link.id, key="feeds", meanwhile=meanwhile)
    else:
        yield from _gaps_of_run(run, place)
        yield from (Gap(table="run", id=run.id, key=lacking) for lacking in chain.unknown)
    if place.path == "log-distance" and place.path_exponent is None:
        yield Gap(table="place", id=place.id, key="path_exponent")
    if facts.inward and radio.power_kind is PowerKind.CONDUCTED:
        yield Gap(table="radio", id=radio.id, key="power_kind", meanwhile="a half-wave antenna counts")
    if radio.needs_cn_db is None and radio.sensitivity_dbm is None:
        yield Gap(table="radio", id=radio.id, key="sensitivity_dbm with needs_cn_db")
    elif chain.receiver.noise_figure_db is None or radio.needs_cn_db is None:
        yield Gap(table="radio", id=radio.id, key="needs_cn_db" if radio.needs_cn_db is None else "noise_figure_db")


def _gaps_of_run(run: Run, place: Place) -> Iterator[Gap]:
    antenna: Antenna = run.antenna
    if antenna.gain_dbi is None and antenna.response is None:
        yield Gap(table="antenna", id=antenna.id, key="gain_dbi", meanwhile="0 dBi counts")
    if place.path == "two-ray" and antenna.height_m is None:
        yield Gap(table="antenna", id=antenna.id, key="height_m")
    for part in run.parts:
        if is_active(part) and part.noise_figure_db is None:
            yield Gap(table="run", id=run.id, key=f"noise_figure_db of the {part.what.value}")
