"""The registry of path models: what each needs to know, and the ranges that it holds in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Generic, Protocol

from bandwright.core.reach.path import (
    Metres,
    free_space_loss_db,
    log_distance_loss_db,
    site_general_loss_db,
    two_ray_loss_db,
    wavelength_m,
)
from bandwright.core.reach.tables import ReachTables, SiteClass

__all__ = ["FREE_SPACE", "PathFacts", "PathModel", "path_models"]

FREE_SPACE = "free-space"


@dataclass(frozen=True, slots=True, kw_only=True)
class PathFacts(Generic[Metres]):
    """What is known of a path; None is what nobody stated. `low_m` is the height of what somebody wears or holds.

    `distance_m` is one distance, or an array of them.
    """

    distance_m: Metres
    frequency_hz: float
    exponent: float | None = None
    low_m: float = 1.2
    high_m: float | None = None


class _Loss(Protocol):
    """An equation of loss: in dB, one or as many as there are distances."""

    def __call__(self, facts: PathFacts[Metres], /) -> Metres: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class PathModel:
    """A way to predict the loss between two antennas.

    `needs` names the facts that it cannot do without; `sigma_db` is how far real places scatter around it, where the
    model says so; the ranges are those that it is published for, None without a limit.
    """

    name: str
    about: str
    source: str
    loss_db: _Loss
    needs: tuple[str, ...] = ()
    sigma_db: float | None = None
    frequencies_ghz: tuple[float, float] | None = None
    distances_m: tuple[float, float] | None = None

    def outside(self, facts: PathFacts[float]) -> tuple[str, ...]:
        """Return in words which ranges are left; nothing inside them."""
        ghz, found = facts.frequency_hz / 1e9, []
        if facts.distance_m < wavelength_m(facts.frequency_hz):
            found.append(f"{facts.distance_m:g} m is closer than a wavelength, where no model of the far field holds")
        if self.frequencies_ghz is not None and not self.frequencies_ghz[0] <= ghz <= self.frequencies_ghz[1]:
            low, high = self.frequencies_ghz
            found.append(f"{ghz * 1000:g} MHz, and {self.name} is published for {low:g} to {high:g} GHz")
        if self.distances_m is not None and not self.distances_m[0] <= facts.distance_m <= self.distances_m[1]:
            low, high = self.distances_m
            found.append(f"{facts.distance_m:g} m, and {self.name} is published for {low:g} to {high:g} m")
        return tuple(found)


def path_models(tables: ReachTables) -> Mapping[str, PathModel]:
    """Return every path model by its name: those with an equation of their own, and the classes of the tables."""
    return _by_name(tables.site_classes)


@lru_cache(maxsize=8)
def _by_name(classes: tuple[SiteClass, ...]) -> Mapping[str, PathModel]:
    return MappingProxyType({model.name: model for model in (*_OWN, *map(_of_class, classes))})


def _of_class(row: SiteClass) -> PathModel:
    def loss_db(facts: PathFacts[Metres]) -> Metres:
        return site_general_loss_db(
            distance_m=facts.distance_m,
            frequency_hz=facts.frequency_hz,
            alpha=row.alpha,
            beta=row.beta,
            gamma=row.gamma,
        )

    return PathModel(
        name=row.name,
        about=row.about,
        source=row.source,
        loss_db=loss_db,
        sigma_db=row.sigma_db,
        frequencies_ghz=(row.low_ghz, row.high_ghz),
        distances_m=(row.least_m, row.most_m),
    )


def _free_space(facts: PathFacts[Metres]) -> Metres:
    return free_space_loss_db(distance_m=facts.distance_m, frequency_hz=facts.frequency_hz)


def _two_ray(facts: PathFacts[Metres]) -> Metres:
    return two_ray_loss_db(
        distance_m=facts.distance_m,
        frequency_hz=facts.frequency_hz,
        low_m=facts.low_m,
        high_m=_known(facts.high_m),
    )


def _log_distance(facts: PathFacts[Metres]) -> Metres:
    return log_distance_loss_db(
        distance_m=facts.distance_m, frequency_hz=facts.frequency_hz, exponent=_known(facts.exponent)
    )


def _known(value: float | None) -> float:
    if value is None:
        raise ValueError("a path model was asked without a fact that it needs")
    return value


_OWN = (
    PathModel(
        name=FREE_SPACE,
        about="nothing in the way and nothing that reflects",
        source="Rec. ITU-R P.525",
        loss_db=_free_space,
    ),
    PathModel(
        name="two-ray",
        about="flat open ground that reflects",
        source="two-ray ground reflection, Rappaport, Wireless Communications, 2nd ed., 4.6",
        loss_db=_two_ray,
        needs=("height_m",),
    ),
    PathModel(
        name="log-distance",
        about="free space for 1 m, then path_exponent times 10 dB for each tenfold distance",
        source="log-distance path loss, Rappaport, Wireless Communications, 2nd ed., 4.9",
        loss_db=_log_distance,
        needs=("path_exponent",),
    ),
)
