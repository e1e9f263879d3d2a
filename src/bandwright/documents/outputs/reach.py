"""The `reach` document: for each link the way of its signal with levels, its margin, and what to do about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from pydantic import Field

from bandwright.core.kit import Direction, Diversity
from bandwright.core.planning.plan import CarrierToInterference, Warn
from bandwright.core.reach.advice import Advice
from bandwright.core.reach.area_reach import AreaReach
from bandwright.core.reach.budget import Branch, Path
from bandwright.core.reach.chain import Step
from bandwright.core.reach.fading import MOSTLY_GONE
from bandwright.core.reach.link import LinkReach, Squelch, State, Walk
from bandwright.core.reach.standing import Standing, standings
from bandwright.core.reach.strong import Strong
from bandwright.documents.outputs.common import Document, Input, Level, Model, Number, level, plain, warned
from bandwright.documents.outputs.gaps import GapModel, gap_model
from bandwright.documents.outputs.plan_levels import CarrierToInterferenceModel, carrier_to_interference_model
from bandwright.documents.outputs.reach_area import AreaModel, area_model
from bandwright.units import mhz_text

__all__ = ["ReachDocument", "reach_document"]


class LinkStepModel(Model):
    """One point along a link: how much it adds, then level and noise after it in dBm (null: not counted or unknown).

    `less_db` and `more_db` are by how much a loss may be smaller and larger.
    """

    what: str
    name: str
    gain_db: Level
    less_db: Level
    more_db: Level
    level_dbm: Level
    noise_dbm: Level | None


class PathModelModel(Model):
    """The way through the air: which model, what it and the walls take away, and the ranges that were left."""

    model: str
    source: str
    loss_db: Level
    walls_db: Level
    sigma_db: Level | None
    outside: tuple[str, ...]


class BranchModel(Model):
    """One run of a link. Levels are at the receiver's input; null is what missing facts leave open."""

    run: str | None
    antenna: str | None
    steps: tuple[LinkStepModel, ...]
    path: PathModelModel | None
    run_gain_db: Level
    noise_figure_db: Level | None
    iip3_dbm: Level | None
    level_dbm: Level | None
    lowest_level_dbm: Level | None
    noise_dbm: Level | None
    cn_db: Level | None
    margin_db: Level | None
    lowest_margin_db: Level | None
    margin_over: str | None
    radiated_eirp_dbm: Level | None


class WalkModel(Model):
    """Fading while somebody walks at the farthest point.

    `dropouts_per_min` counts every dip below what is needed, however short, and `dropout_s` is how long one lasts in
    the mean; `audible_dropouts_per_min` counts those longer than `audible_ms` (`audible_stated`: somebody stated that;
    otherwise it is assumed; null where the signal is mostly gone), and `needed_db` keeps these to one in
    `one_dropout_in_s`.
    """

    antennas: int
    diversity: Diversity
    correlation: Level
    spacing_m: Level | None
    rice_k_db: Level | None
    margin_db: Level
    needed_db: Level
    needed_with_one_antenna_db: Level
    one_dropout_in_s: Number
    audible_ms: Number
    audible_stated: bool
    outage: Number
    dropouts_per_min: Number
    dropout_s: Number | None
    audible_dropouts_per_min: Number | None
    places: Level | None


class SquelchModel(Model):
    """Where to set the squelch, in dBm at the receiver's input; null where no setting fits both rules."""

    level_dbm: Level | None
    over_noise_dbm: tuple[Level, Level]
    under_lowest_dbm: Level


class AdviceModel(Model):
    """One thing to know or to do."""

    code: str
    text: str


class BlockerModel(Model):
    """Another user's signal, and how far it stays below the 1 dB point of a stage (negative: above it)."""

    id: str
    name: str
    level_dbm: Level
    lowered_db: Level
    stage: str
    below_db: Level


class StrongModel(Model):
    """One run before strong signals, with levels at the antenna; null is what missing figures leave open.

    `clips_at_m` is how near one of the link's packs in sight drives `clips_first` to its 1 dB point, in free space.
    """

    run: str | None
    p1db_dbm: Level | None
    clips_first: str | None
    clips_at_m: Number | None
    passband_mhz: tuple[str, str] | None
    blockers: tuple[BlockerModel, ...]


class BesidesModel(Model):
    """What a link has over what it needs elsewhere, and where that is, such as "at 30 m"."""

    reserve_db: Level
    where: str


class StandingModel(Model):
    """The lowest that is known of a link: what its margin has over what fading asks for, and where.

    `where` says it in words ("at 30 m", "at the worst point of Stage"); `at_m` is the point of the plan, null where
    only the distance counts; `state` is open where something cannot be told. `besides` is the other of the two: that of
    a distance which was taken from the plan, or else the better one.
    """

    state: State
    reserve_db: Level | None
    at_m: tuple[Number, Number] | None
    where: str | None = None
    besides: BesidesModel | None = None


class LinkReachModel(Model):
    """One link. `state` is enough, short, or open where its margin cannot be told; `missing` says what to fill in.

    `standing` counts the plan of the place too, where the link is on it.
    """

    id: str
    name: str
    radio: str
    direction: Direction
    state: State
    carrier_hz: int
    carrier_mhz: str
    carrier_from: str
    distance_m: Number | None
    power_mw: Number | None
    body_loss_db: tuple[Level, Level, Level]
    body_loss_from: str
    branches: tuple[BranchModel, ...]
    margin_db: Level | None
    walk: WalkModel | None
    snr_db: Level | None
    squelch: SquelchModel | None
    strong: tuple[StrongModel, ...]
    advice: tuple[AdviceModel, ...]
    missing: tuple[GapModel, ...]
    carrier_to_interference: CarrierToInterferenceModel | None = None
    standing: StandingModel | None = None


class ReachDocument(Document):
    """What `bandwright reach --json` prints: how each link stands at the farthest point of its area."""

    schema_: Literal["bandwright.reach/1"] = Field(default="bandwright.reach/1", alias="schema")
    ok: bool
    links: tuple[LinkReachModel, ...]
    area: AreaModel | None = None
    cautions: tuple[str, ...]


def reach_document(
    links: Sequence[LinkReach],
    advice: Mapping[str, Sequence[Advice]],
    *,
    area: AreaReach | None = None,
    cautions: Sequence[str],
    inputs: Sequence[Input],
    warnings: Sequence[Warn],
    ratios: Mapping[str, CarrierToInterference] = MappingProxyType({}),
) -> ReachDocument:
    """Return how links stand as a document; `advice` is by link, `area` the plan judged where there is one.

    `ratios` is carrier to interference by link, where it is known.
    """
    stand = standings(links, area)
    return ReachDocument(
        ok=all(one.state is State.ENOUGH for one in stand.values()),
        links=tuple(
            _link(
                item,
                advice[item.link.id],
                ratios.get(item.link.id),
                stand[item.link.id],
            )
            for item in links
        ),
        area=None if area is None else area_model(area),
        cautions=tuple(cautions),
        inputs=tuple(inputs),
        warnings=warned(warnings),
    )


def _link(
    item: LinkReach, advice: Sequence[Advice], ratio: CarrierToInterference | None, standing: Standing
) -> LinkReachModel:
    facts, link = item.facts, item.link
    least, typical, most = facts.body_db
    return LinkReachModel(
        id=link.id,
        name=link.name,
        radio=link.radio.id,
        direction=link.radio.direction,
        state=item.state,
        carrier_hz=facts.carrier_hz,
        carrier_mhz=mhz_text(facts.carrier_hz),
        carrier_from=facts.carrier_from,
        distance_m=plain(link.distance_m),
        power_mw=plain(facts.power_mw),
        body_loss_db=(least, typical, most),
        body_loss_from=facts.body_from,
        branches=tuple(map(_branch, item.branches)),
        margin_db=level(item.margin_db),
        walk=None if item.walk is None else _walk(item.walk, facts.place.rice_k_db),
        snr_db=level(item.snr_db),
        squelch=None if item.squelch is None else _squelch(item.squelch),
        strong=tuple(map(_strong, item.strong)),
        advice=tuple(AdviceModel(code=one.code, text=one.text) for one in advice),
        missing=tuple(map(gap_model, item.gaps)),
        carrier_to_interference=carrier_to_interference_model(ratio),
        standing=_standing(standing),
    )


def _standing(item: Standing) -> StandingModel:
    lowest, besides = item.lowest, item.besides
    if lowest is None:
        return StandingModel(state=item.state, reserve_db=None, at_m=None)
    return StandingModel(
        state=item.state,
        reserve_db=level(lowest.reserve_db),
        at_m=None if lowest.at_m is None else (round(lowest.at_m[0], 2), round(lowest.at_m[1], 2)),
        where=lowest.where,
        besides=None if besides is None else BesidesModel(reserve_db=round(besides.reserve_db, 2), where=besides.where),
    )


def _branch(item: Branch) -> BranchModel:
    return BranchModel(
        run=None if item.run is None else item.run.id,
        antenna=None if item.run is None else item.run.antenna.id,
        steps=tuple(map(_step, item.steps)),
        path=None if item.path is None else _path(item.path),
        run_gain_db=round(item.chain.gain_db, 2),
        noise_figure_db=level(item.chain.noise_figure_db()),
        iip3_dbm=level(item.chain.iip3_dbm()),
        level_dbm=level(item.level_dbm),
        lowest_level_dbm=level(item.lowest_dbm),
        noise_dbm=level(item.noise_dbm),
        cn_db=level(item.cn_db),
        margin_db=level(item.margin_db),
        lowest_margin_db=level(item.lowest_margin_db),
        margin_over=item.margin_over,
        radiated_eirp_dbm=level(item.radiated_dbm),
    )


def _step(item: Step) -> LinkStepModel:
    less_db, more_db = item.spread_db
    return LinkStepModel(
        what=item.what,
        name=item.name,
        gain_db=round(item.gain_db, 2),
        less_db=round(less_db, 2),
        more_db=round(more_db, 2),
        level_dbm=round(item.level_dbm, 2),
        noise_dbm=level(item.noise_dbm),
    )


def _path(item: Path) -> PathModelModel:
    return PathModelModel(
        model=item.model.name,
        source=item.model.source,
        loss_db=round(item.loss_db, 2),
        walls_db=round(item.walls_db, 2),
        sigma_db=level(item.sigma_db),
        outside=item.outside,
    )


def _walk(item: Walk, rice_k_db: float | None) -> WalkModel:
    return WalkModel(
        antennas=item.fading.branches,
        diversity=item.fading.diversity,
        correlation=round(item.fading.correlation, 3),
        spacing_m=level(item.spacing_m),
        rice_k_db=rice_k_db,
        margin_db=round(item.margin_db, 2),
        needed_db=round(item.needed_db, 2),
        needed_with_one_antenna_db=round(item.needed_alone_db, 2),
        one_dropout_in_s=item.every_s,
        audible_ms=item.audible.ms,
        audible_stated=item.audible.stated,
        outage=_significant(item.outage),
        dropouts_per_min=_significant(item.dips_per_min),
        dropout_s=None if item.duration_s is None else _significant(item.duration_s),
        audible_dropouts_per_min=None if item.outage > MOSTLY_GONE else _significant(item.dropouts_per_min),
        places=None if item.places is None else round(item.places, 4),
    )


def _significant(value: float) -> float:
    """Return a number to three digits that count."""
    return float(f"{value:.3g}")


def _squelch(item: Squelch) -> SquelchModel:
    low, high = item.over_noise_dbm
    return SquelchModel(
        level_dbm=level(item.level_dbm),
        over_noise_dbm=(round(low, 2), round(high, 2)),
        under_lowest_dbm=round(item.under_lowest_dbm, 2),
    )


def _strong(item: Strong) -> StrongModel:
    front = item.front
    return StrongModel(
        run=None if item.run is None else item.run.id,
        p1db_dbm=level(front.p1db_dbm),
        clips_first=front.clips_first,
        clips_at_m=None if item.clips_at_m is None else _significant(item.clips_at_m),
        passband_mhz=None if front.passband_hz is None else _mhz_pair(front.passband_hz),
        blockers=tuple(
            BlockerModel(
                id=one.id,
                name=one.name,
                level_dbm=round(one.level_dbm, 2),
                lowered_db=round(one.lowered_db, 2),
                stage=one.stage,
                below_db=round(one.below_db, 2),
            )
            for one in item.blockers
        ),
    )


def _mhz_pair(pair: tuple[int, int]) -> tuple[str, str]:
    return mhz_text(pair[0]), mhz_text(pair[1])
