"""Scenes drawn at random with their truth, to measure what an analysis finds: one seed, one scene."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from bandwright.core.bands import Span, TvChannel, TvRaster, occupied
from bandwright.core.multiplex_signal import Echo, Multiplex, Standard
from bandwright.core.receiver import thermal_dbm
from bandwright.core.scene import AirCarrier, AirReceiver, FloorStep, Scene, render
from bandwright.core.sweep import SweepBlock

__all__ = ["DrawnScene", "draw_scene", "drawn_blocks"]

_LOW_HZ = 470_000_000
_CHANNELS = 5
_NOISE_FIGURE_DB = 6.0
_RATE_HZ, _HOP_HZ = 2_800_000, 2_000_000
_BINS_HZ = (5_000, 10_000, 25_000, 50_000)
_AVERAGES = (1, 4, 16, 64)
_STANDARDS: dict[int, tuple[Standard, ...]] = {
    8_000_000: ("dvb-t",),
    7_000_000: ("dvb-t",),
    6_000_000: ("dvb-t", "isdb-t", "atsc"),
}
_ISDB_OFFSET_HZ = 142_857  # 1/7 MHz
_MODULATIONS = ((3_000, 3_000), (5_000, 3_000), (15_000, 10_000), (30_000, 15_000), (50_000, 15_000), (85_000, 15_000))
_LEVELS_DB = (3.0, 40.0)
_LEAST_STRONG_DB = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnScene:
    """A scene and its truth: levels above the floor over the signal's own width, and whether the receiver clips."""

    scene: Scene
    raster: TvRaster
    multiplex_db: dict[str, float]
    carrier_db: dict[str, float]
    overloaded: bool


def draw_scene(seed: int) -> DrawnScene:
    """Return the scene of a seed: five TV channels of 6, 7 or 8 MHz, 3 to 40 dB above the floor, some of it notched.

    Carriers of 12 to 200 kHz stand in empty TV channels, one apiece at most. The receiver takes 1 to 64
    half-overlapping averages in bins of 5 to 50 kHz, once or four times; its floor may step by up to 12 dB at hop
    borders, a tone may stand in each hop's centre, and it may clip. Hops do not line up with TV channels.
    """
    rng = np.random.default_rng([seed, 4])
    slot_hz = int(rng.choice(list(_STANDARDS)))
    standard = _STANDARDS[slot_hz][int(rng.integers(len(_STANDARDS[slot_hz])))]
    raster = _raster(slot_hz)
    multiplexes, multiplex_db = _multiplexes(raster, slot_hz, standard, rng)
    empty = [channel for channel in raster.channels if channel.label not in multiplex_db]
    carriers, carrier_db = _carriers(empty, rng)
    strongest = max(multiplexes, key=lambda item: item.level_dbm, default=None)
    overloaded = bool(rng.random() < 0.25 and strongest and multiplex_db[strongest.label] >= _LEAST_STRONG_DB)
    bin_hz = int(rng.choice(_BINS_HZ))
    low_hz = _LOW_HZ - bin_hz * int(rng.integers(_HOP_HZ // bin_hz))
    hops = -(-(raster.channels[-1].span.high_hz - low_hz) // _HOP_HZ)
    receiver = AirReceiver(
        noise_figure_db=_NOISE_FIGURE_DB,
        sample_rate_hz=_RATE_HZ,
        hop_hz=_HOP_HZ,
        bin_hz=bin_hz,
        averages=int(rng.choice(_AVERAGES)),
        floor_steps=_steps(low_hz, hops, rng) if rng.random() < 0.3 else (),
        dc_spike_dbm=_noise_dbm(bin_hz) + float(rng.uniform(10, 30)) if rng.random() < 0.2 else None,
        full_scale_dbm=strongest.level_dbm - float(rng.uniform(5, 9)) if overloaded and strongest else None,
    )
    scene = Scene(
        name=f"drawn {seed}",
        low_hz=low_hz,
        high_hz=low_hz + hops * _HOP_HZ,
        receiver=receiver,
        multiplexes=multiplexes,
        carriers=carriers,
        sweeps=int(rng.choice((1, 4))),
    )
    return DrawnScene(
        scene=scene,
        raster=raster,
        multiplex_db={m.label: multiplex_db[m.label] - _raised_db(scene, m.span) for m in multiplexes},
        carrier_db={c.label: carrier_db[c.label] - _raised_db(scene, occupied(c.carrier_hz, 0)) for c in carriers},
        overloaded=overloaded,
    )


def _raised_db(scene: Scene, span: Span) -> float:
    """Return by how much the highest floor within a stretch is above that without a step."""
    touched = [hop for hop in scene.hops if hop.low_hz <= span.high_hz and span.low_hz <= hop.high_hz]
    return max((scene.receiver.noise_figure_at(hop.low_hz) for hop in touched), default=0.0) - _NOISE_FIGURE_DB


def drawn_blocks(drawn: DrawnScene, seed: int) -> Iterator[SweepBlock]:
    """Yield what the receiver of a drawn scene hears, as a reader would yield it."""
    for row in render(drawn.scene, np.random.default_rng([seed, 5])):
        yield SweepBlock(
            first_hz=row.low_hz + row.bin_hz / 2, bin_hz=float(row.bin_hz), levels_db=row.levels_dbm, unit="dBm"
        )


def _noise_dbm(bandwidth_hz: float) -> float:
    return thermal_dbm(bandwidth_hz=bandwidth_hz, noise_figure_db=_NOISE_FIGURE_DB)


def _raster(slot_hz: int) -> TvRaster:
    spans = [Span(_LOW_HZ + slot_hz * index, _LOW_HZ + slot_hz * (index + 1)) for index in range(_CHANNELS)]
    channels = tuple(TvChannel(label=str(index + 1), span=span) for index, span in enumerate(spans))
    return TvRaster(id="drawn", name="drawn", source="drawn", channels=channels)


def _multiplexes(
    raster: TvRaster, slot_hz: int, standard: Standard, rng: np.random.Generator
) -> tuple[tuple[Multiplex, ...], dict[str, float]]:
    """Draw which TV channels are taken, at which level above the floor over the signal's width; 3 in 10 are notched."""
    found, above = [], {}
    for channel in raster.channels:
        if rng.random() >= 0.45:
            continue
        middle_hz = (channel.span.low_hz + channel.span.high_hz) // 2
        above[channel.label] = float(rng.uniform(*_LEVELS_DB))
        plain = Multiplex(
            label=channel.label,
            centre_hz=middle_hz + (_ISDB_OFFSET_HZ if standard == "isdb-t" else 0),
            slot_hz=slot_hz,
            level_dbm=0.0,
            standard=standard,
            echo=_echo(slot_hz, rng) if rng.random() < 0.3 else None,
        )
        level_dbm = _noise_dbm(plain.width_hz) + above[channel.label]
        found.append(replace(plain, level_dbm=level_dbm))
    return tuple(found), above


def _echo(slot_hz: int, rng: np.random.Generator) -> Echo:
    return Echo(
        delay_ns=float(rng.uniform(100, 400)),
        amplitude=float(rng.uniform(0.5, 0.95)),
        notch_hz=float(rng.uniform(-0.3, 0.3)) * slot_hz,
    )


def _carriers(empty: list[TvChannel], rng: np.random.Generator) -> tuple[tuple[AirCarrier, ...], dict[str, float]]:
    found, above = [], {}
    for channel in empty:
        if rng.random() >= 0.5:
            continue
        deviation_hz, audio_hz = _MODULATIONS[int(rng.integers(len(_MODULATIONS)))]
        label = f"in {channel.label}"
        above[label] = float(rng.uniform(*_LEVELS_DB))
        width_hz = 2 * (deviation_hz + audio_hz)
        found.append(
            AirCarrier(
                label=label,
                carrier_hz=int(rng.integers(channel.span.low_hz + 1_000_000, channel.span.high_hz - 1_000_000)),
                level_dbm=_noise_dbm(width_hz) + above[label],
                peak_deviation_hz=deviation_hz,
                audio_hz=audio_hz,
            )
        )
    return tuple(found), above


def _steps(low_hz: int, hops: int, rng: np.random.Generator) -> tuple[FloorStep, ...]:
    """Draw one or two steps of up to 12 dB upwards; the floor comes back after the second."""
    first, second = sorted(int(hop) for hop in rng.choice(np.arange(1, hops), size=2, replace=False))
    up = FloorStep(from_hz=low_hz + first * _HOP_HZ, noise_figure_db=_NOISE_FIGURE_DB + float(rng.uniform(2, 12)))
    down = FloorStep(from_hz=low_hz + second * _HOP_HZ, noise_figure_db=_NOISE_FIGURE_DB)
    return (up, down) if rng.random() < 0.5 else (up,)
