"""The bundled demonstration: Lantern Quay, an invented two-day harbour production, and the air over it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from importlib import resources
from typing import Any

import numpy as np

from bandwright.core.multiplex_signal import Multiplex
from bandwright.core.scene import AirCarrier, AirReceiver, AirRow, FloorStep, Scene, render
from bandwright.units import hz_from_khz, hz_from_mhz

__all__ = ["DEMO_TITLE", "DemoAir", "demo_air", "demo_brief_text"]

DEMO_TITLE = "Lantern Quay (invented)"
"""What the demonstration is called wherever it appears."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoAir:
    """The truth behind the generated base sweep; `started` is the clock of the place, as in the file."""

    scene: Scene
    seed: int
    started: datetime

    def rows(self) -> Iterator[AirRow]:
        """Render the base sweep; always the same one."""
        return render(self.scene, np.random.default_rng(self.seed))


def demo_brief_text() -> str:
    """Return the brief of the demonstration as TOML text."""
    return _text("brief.toml")


def demo_air() -> DemoAir:
    """Return the air over the demonstration."""
    data = tomllib.loads(_text("scene.toml"), parse_float=Decimal)
    scene = Scene(
        name=data["name"],
        low_hz=hz_from_mhz(data["low_mhz"]),
        high_hz=hz_from_mhz(data["high_mhz"]),
        receiver=_receiver(data["receiver"]),
        multiplexes=tuple(_multiplex(item) for item in data["multiplex"]),
        carriers=tuple(_carrier(item) for item in data["carrier"]),
        sweeps=data["sweeps"],
        interval_s=float(data["interval_s"]),
    )
    return DemoAir(scene=scene, seed=data["seed"], started=data["started"])


def _text(name: str) -> str:
    return resources.files("bandwright.reference").joinpath("data", "demo", name).read_text(encoding="utf-8")


def _receiver(data: Mapping[str, Any]) -> AirReceiver:
    return AirReceiver(
        noise_figure_db=float(data["noise_figure_db"]),
        sample_rate_hz=hz_from_khz(data["sample_rate_khz"]),
        hop_hz=hz_from_khz(data["hop_khz"]),
        bin_hz=hz_from_khz(data["bin_khz"]),
        averages=data["averages"],
        floor_steps=tuple(
            FloorStep(from_hz=hz_from_mhz(step["from_mhz"]), noise_figure_db=float(step["noise_figure_db"]))
            for step in data["floor_steps"]
        ),
    )


def _multiplex(data: Mapping[str, Any]) -> Multiplex:
    return Multiplex(
        label=data["tv_channel"],
        centre_hz=hz_from_mhz(data["centre_mhz"]),
        slot_hz=hz_from_khz(data["slot_khz"]),
        level_dbm=float(data["level_dbm"]),
    )


def _carrier(data: Mapping[str, Any]) -> AirCarrier:
    return AirCarrier(
        label=data["id"],
        carrier_hz=hz_from_mhz(data["mhz"]),
        level_dbm=float(data["level_dbm"]),
        peak_deviation_hz=hz_from_khz(data["peak_deviation_khz"]),
        audio_hz=hz_from_khz(data["audio_khz"]),
        duty=float(data.get("duty", 1)),
    )
