"""False signals in noise alone, by stated rate and statistics: `python -m benchmarks.air_noise [RATE ...]`."""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from bandwright.core.detect import signal_runs
from bandwright.core.fold import fold
from benchmarks.scene_draw import draw_scene, drawn_blocks

__all__ = ["NOISE", "false_alarms"]

NOISE = range(10_000, 10_500)
_RATES = (1e-2, 1e-3, 1e-4, 1e-5, 1e-6)

Statistics = tuple[int, int]


def false_alarms(seeds: Iterable[int], rate: float) -> dict[Statistics, tuple[int, int]]:
    """Return false signals and bins by averages and sweeps: drawn receivers, floors and all, with nothing on the air.

    No signal must stand 3 dB above the floor here: that rule would leave out most of what chance makes of averages.
    """
    found: dict[Statistics, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for seed in seeds:
        drawn = draw_scene(seed)
        receiver = replace(drawn.scene.receiver, full_scale_dbm=None, dc_spike_dbm=None, floor_steps=())
        scene = replace(drawn.scene, multiplexes=(), carriers=(), receiver=receiver)
        sweep = fold(drawn_blocks(replace(drawn, scene=scene), seed), name="noise")
        if sweep is None:
            raise ValueError(f"scene {seed} has no levels")
        floor = 10 ** (sweep.floor_db / 10)
        runs = signal_runs(
            mean=10 ** (sweep.typical_db / 10) / floor,
            held=10 ** (sweep.highest_db / 10) / floor,
            sweeps=sweep.sweeps,
            bin_hz=float(receiver.bin_hz),
            sections=np.zeros(sweep.grid.size),
            false_alarms=rate,
            least_db=-math.inf,
        )
        count, bins = found[receiver.averages, scene.sweeps]
        found[receiver.averages, scene.sweeps] = (count + sum(1 for _ in runs), bins + sweep.grid.size)
    return dict(found)


def main() -> None:
    """Print, for each rate, what is found as a multiple of what is stated."""
    for rate in [float(word) for word in sys.argv[1:]] or _RATES:
        found = false_alarms(NOISE, rate)
        for (averages, sweeps), (count, bins) in sorted(found.items()):
            factor = count / (bins * rate)
            print(f"{rate:<8g}{averages:>3} averages x {sweeps} sweeps {count:>6} in {bins:>8} bins: {factor:5.2f}")
        count, bins = (sum(column) for column in zip(*found.values(), strict=True))
        print(f"{rate:<8g}all {'':>20} {count:>6} in {bins:>8} bins: {count / (bins * rate):5.2f}")


if __name__ == "__main__":
    main()
