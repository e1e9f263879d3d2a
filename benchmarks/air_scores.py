"""What the analysis finds in drawn scenes of known truth: `python -m benchmarks.air_scores [FIRST LAST]`.

Every scene takes the way of the product: levels as a reader yields them, folded, overload taken out, described.
"""

from __future__ import annotations

import itertools
import math
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from bandwright.core.air import AirReport, describe_air
from bandwright.core.artefacts import without_overload
from bandwright.core.fold import fold
from bandwright.core.multiplex import TvVerdict
from bandwright.core.scene import AirCarrier
from bandwright.core.sweep import Sweep
from benchmarks.air_theory import achievable
from benchmarks.scene_draw import DrawnScene, draw_scene, drawn_blocks

__all__ = ["Scores", "score", "table"]

REPORTED = range(10_000, 10_500)
"""The seeds that are reported; 0 to 499 are those to tune on."""

_CENTRE_HZ = 5_000
_BANDS_DB = (-10.0, 3.0, 5.0, 8.0, 12.0, 20.0, 41.0)
_CARRIER_BANDS_DB = (-10.0, 3.0, 5.0, 8.0, 9.0, 11.0, 15.0, 41.0)
_NARROW_HZ = 1_000_000
_SLICE_HZ = 200_000
_SHOWS_DB, _RAISED_DB = 3.0, 6.0

Key = tuple[str, float, float]


@dataclass(slots=True)
class Scores:
    """Counts: `done[key]` of `cases[key]`; a key is what was looked for and the band of levels in dB.

    `could[key]` is how many the best detector would find on average, where theory tells.
    """

    cases: dict[Key, int] = field(default_factory=lambda: defaultdict(int))
    done: dict[Key, int] = field(default_factory=lambda: defaultdict(int))
    could: dict[Key, float] = field(default_factory=lambda: defaultdict(float))
    missed: list[str] = field(default_factory=list)

    def count(
        self,
        what: str,
        level_db: float = 0.0,
        *,
        done: bool,
        could: float | None = None,
        bands: Sequence[float] = _BANDS_DB,
    ) -> None:
        """Count one case; a level outside all bands counts in the nearest."""
        band = next((pair for pair in itertools.pairwise(bands) if level_db < pair[1]), (bands[-2], bands[-1]))
        self.cases[what, *band] += 1
        self.done[what, *band] += done
        if could is not None:
            self.could[what, *band] += could

    def keys(self, what: str, least_db: float, most_db: float) -> list[Key]:
        """Return the keys of one kind within levels."""
        return [key for key in self.cases if key[0] == what and least_db <= key[1] and key[2] <= most_db]

    def share(self, what: str, *, least_db: float = -10.0, most_db: float = 41.0) -> float:
        """Return the share done of all cases of one kind, in per cent, within levels."""
        keys = self.keys(what, least_db, most_db)
        return 100 * sum(self.done[key] for key in keys) / max(1, sum(self.cases[key] for key in keys))

    def of_theory(self, what: str, *, least_db: float = -10.0, most_db: float = 41.0) -> float:
        """Return what was done in per cent of what the best detector would."""
        keys = self.keys(what, least_db, most_db)
        return 100 * sum(self.done[key] for key in keys) / max(1e-9, sum(self.could[key] for key in keys))


def score(seeds: Iterable[int]) -> Scores:
    """Return what the analysis finds in the scenes of these seeds."""
    scores = Scores()
    for seed in seeds:
        drawn = draw_scene(seed)
        heard = _heard(drawn, seed)
        sweep = without_overload(heard)
        report = describe_air(sweep, raster=drawn.raster)
        _score_tv(scores, drawn, report)
        _score_carriers(scores, drawn, report, seed)
        _score_strays(scores, drawn, report)
        _score_overload(scores, drawn, heard, report, seed)
    return scores


def _heard(drawn: DrawnScene, seed: int) -> Sweep:
    sweep = fold(drawn_blocks(drawn, seed), name=drawn.scene.name)
    if sweep is None:
        raise ValueError(f"scene {seed} has no levels")
    return sweep


def _air(drawn: DrawnScene) -> str:
    return "overloaded" if drawn.overloaded else "floor steps" if drawn.scene.receiver.floor_steps else "even floor"


def _looks(drawn: DrawnScene) -> str:
    looks = drawn.scene.receiver.averages * drawn.scene.sweeps
    return "single shot" if looks == 1 else "4 looks" if looks == 4 else "16 looks or more"


def _score_tv(scores: Scores, drawn: DrawnScene, report: AirReport) -> None:
    air = _air(drawn)
    for finding in report.tv:
        label = finding.channel.label
        taken = finding.verdict is TvVerdict.TAKEN
        if label in drawn.multiplex_db:
            scores.count(f"multiplex taken, {air}", drawn.multiplex_db[label], done=taken)
            if not taken and drawn.multiplex_db[label] >= 8:
                scores.missed.append(f"{drawn.scene.name}: multiplex {label} ({air}): {finding.verdict}")
        else:
            scores.count(f"empty taken, {air}", done=taken)
            if taken:
                scores.missed.append(f"{drawn.scene.name}: empty {label} ({air}) taken")


def _score_carriers(scores: Scores, drawn: DrawnScene, report: AirReport, seed: int) -> None:
    receiver = drawn.scene.receiver
    kind = f"carrier found, {'overloaded' if drawn.overloaded else _looks(drawn)}"
    for number, carrier in enumerate(drawn.scene.carriers):
        # A bin wider than the carrier takes in more noise: what stands above the floor is what stands above it there.
        level_db = drawn.carrier_db[carrier.label] - 10 * math.log10(max(1.0, receiver.bin_hz / carrier.width_hz))
        limit_hz = max(receiver.bin_hz / 2, _CENTRE_HZ)
        near = [abs(found.centre_hz - carrier.carrier_hz) for found in report.carriers]
        found = min(near, default=1e9) <= carrier.width_hz / 2 + receiver.bin_hz
        best = achievable(drawn.scene, carrier, np.random.default_rng([seed, 6, number]))
        scores.count(kind, level_db, done=found, could=best.chance, bands=_CARRIER_BANDS_DB)
        if found:
            centred = min(near) <= limit_hz
            could = float(best.off_hz <= limit_hz)
            scores.count(kind.replace("found", "centred"), level_db, done=centred, could=could, bands=_CARRIER_BANDS_DB)
            if not centred and level_db > 9:
                scores.missed.append(f"{drawn.scene.name}: {carrier.carrier_hz} is {min(near):.0f} Hz off")
        elif level_db > 9:
            scores.missed.append(f"{drawn.scene.name}: carrier at {carrier.carrier_hz}, {level_db:.1f} dB, not found")


def _score_strays(scores: Scores, drawn: DrawnScene, report: AirReport) -> None:
    air = _air(drawn) + (" with spikes" if drawn.scene.receiver.dc_spike_dbm is not None else "")
    strays = [one for one in report.carriers if not _explained(drawn, one.centre_hz)]
    narrow = [one for one in strays if one.width_hz <= _NARROW_HZ]
    scores.count(f"no false narrow carrier, {air}", done=not narrow)
    scores.count(f"no false stretch, {air}", done=len(narrow) == len(strays))
    scores.missed.extend(f"{drawn.scene.name}: {air}: false carrier at {one.centre_hz:.0f}" for one in narrow)


def _explained(drawn: DrawnScene, hz: float) -> bool:
    """Whether a carrier or a multiplex with its skirts stands there."""
    bin_hz = drawn.scene.receiver.bin_hz

    def beside(carrier: AirCarrier) -> bool:
        return abs(hz - carrier.carrier_hz) <= carrier.width_hz + 2 * bin_hz

    return any(map(beside, drawn.scene.carriers)) or any(
        abs(hz - m.centre_hz) <= m.slot_hz / 2 + 500_000 for m in drawn.scene.multiplexes
    )


def _score_overload(scores: Scores, drawn: DrawnScene, heard: Sweep, report: AirReport, seed: int) -> None:
    told = any(fault.code == "overload" for fault in report.sweep.problems)
    if not drawn.overloaded:
        scores.count("no overload claimed where there is none", done=not told)
        return
    scores.count("overload told, all that clip", done=told)
    slices_hz, raised_db = _raised(drawn, heard, seed)
    shows = sum(raised_db >= _SHOWS_DB) * _SLICE_HZ >= _NARROW_HZ / 2
    if shows:
        scores.count("overload told, where it shows", done=told)
    for low_hz in slices_hz[raised_db >= _RAISED_DB].tolist():
        quiet = any(one.low_hz <= low_hz and low_hz + _SLICE_HZ <= one.high_hz for one in report.quiet)
        scores.count("200 kHz full of products not quiet", done=not quiet)


def _raised(drawn: DrawnScene, heard: Sweep, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the slices outside TV channels that are taken, and by how much clipping raises each."""
    scene = replace(drawn.scene, receiver=replace(drawn.scene.receiver, full_scale_dbm=None))
    honest = _heard(replace(drawn, scene=scene), seed)
    size = max(1, _SLICE_HZ // scene.receiver.bin_hz)
    count = heard.grid.size // size
    ours, theirs = (
        (10 ** (sweep.typical_db[: count * size] / 10)).reshape(count, size).mean(axis=1) for sweep in (heard, honest)
    )
    low_hz = heard.grid.low_edges_hz[: count * size : size]
    outside = np.ones(count, dtype=np.bool_)
    for multiplex in scene.multiplexes:
        outside &= np.abs(low_hz + _SLICE_HZ / 2 - multiplex.centre_hz) > (multiplex.slot_hz + _SLICE_HZ) / 2
    return low_hz[outside], 10 * np.log10(ours / theirs)[outside]


def table(scores: Scores) -> Iterator[str]:
    """Yield the counts as lines, per kind and band of levels."""
    for key in sorted(scores.cases):
        what, low, high = key
        share = 100 * scores.done[key] / scores.cases[key]
        least = f"{low:>4g} to {high:<3g} dB" if what.startswith(("multiplex", "carrier")) else " " * 14
        could = f"   theory {100 * scores.could[key] / scores.cases[key]:6.2f} %" if key in scores.could else ""
        yield f"{what:<42}{least} {scores.done[key]:>6} of {scores.cases[key]:<6}{share:>7.2f} %{could}"


def main() -> None:
    """Print the table of the seeds that are named, with what was missed, or of those that are reported."""
    given = [int(word) for word in sys.argv[1:3]]
    seeds = range(*given) if len(given) == 2 else REPORTED
    scores = score(seeds)
    for line in (*table(scores), *scores.missed) if len(given) == 2 else table(scores):
        print(line)


if __name__ == "__main__":
    main()
