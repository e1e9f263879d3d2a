"""Kernels are made ready once on a machine; then they load as they are used."""

from __future__ import annotations

import os
import subprocess
import sys

from bandwright.engines import prepare
from bandwright.kernels import jit


def test_kernels_are_made_ready_once_and_whoever_waits_is_told(monkeypatch, tmp_path):
    monkeypatch.setenv("BANDWRIGHT_UNCOMPILED", "")
    monkeypatch.setattr(jit, "cache_folder", lambda: tmp_path)
    loaded, told = [], []
    monkeypatch.setattr(prepare, "load_search", lambda: loaded.append("search"))
    prepare.prepare_kernels(lambda: told.append("wait"))
    prepare.prepare_kernels(lambda: told.append("wait"))
    assert (loaded, told) == (["search"], ["wait"])
    assert not jit.kernels_are_prepared("repair")


def test_without_a_cache_folder_they_are_made_ready_each_time(monkeypatch):
    monkeypatch.setenv("BANDWRIGHT_UNCOMPILED", "")
    monkeypatch.setattr(jit, "cache_folder", lambda: None)
    loaded = []
    monkeypatch.setattr(prepare, "load_search", lambda: loaded.append("search"))
    prepare.prepare_kernels()
    prepare.prepare_kernels()
    assert loaded == ["search", "search"]


_LOADED = """
import sys
import numpy as np
from bandwright.core.planning.change import Mobility
from bandwright.engines import prepare
from bandwright.engines.assignment import assign, minimum_span
from bandwright.engines.replan import replan
from bandwright.engines.solve import solve
from bandwright.planning import Network, Problem

def loaded():
    modules = [module for name, module in sys.modules.items() if name.startswith("bandwright.kernels.")]
    kernels = [(m.__name__, k, v) for m in modules for k, v in vars(m).items() if hasattr(v, "signatures")]
    return {(module, name): len(kernel.signatures) for module, name, kernel in kernels if kernel.signatures}
"""

_MEETS_EVERY_KERNEL = (
    _LOADED
    + """
prepare.load_search()
prepare.load_repair()
ready = loaded()
asked = {"2A-B": 100_000, "A+B-C": 50_000, "3A-2B": 50_000}
problem = Problem.alike(12, range(0, 7_000_001, 25_000), spacing_hz=350_000, clearance_hz=asked)
stopped = solve(problem, time_limit_s=600.0).stopped
replan(problem, before=[350_000 * i for i in range(12)], mobility=[Mobility.NOW] * 12, effort=20_000)
print(len(ready) > 20, stopped, sorted(key for key, count in loaded().items() if count != ready.get(key)))
"""
)


_MEETS_EVERY_KERNEL_OF_ASSIGNMENT = (
    _LOADED
    + """
prepare.load_search()
prepare.load_assignment()
ready = loaded()
separation = np.array([[5, 1, 2], [1, 5, 1], [2, 1, 5]])
stations = Network(demand=np.array([8, 8, 8]), separation=separation)
shortest = minimum_span(stations, effort=200_000, time_limit_s=600.0)
crowded = assign(stations, slots=shortest.lower_bound - 8, effort=200_000, time_limit_s=600.0)
missing = sorted(key for key, count in loaded().items() if count != ready.get(key))
print(shortest.placed, 0 < crowded.placed < 24, missing)
"""
)


def test_assignment_needs_no_kernel_that_was_not_made_ready():
    environment = os.environ | {"BANDWRIGHT_UNCOMPILED": ""}
    run = subprocess.run(
        [sys.executable, "-c", _MEETS_EVERY_KERNEL_OF_ASSIGNMENT],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.stdout.strip() == "24 True []", run.stderr


def test_a_search_for_more_than_fit_needs_no_kernel_that_was_not_made_ready():
    """What is compiled while the clock runs is taken from the search: a first run would end early, with less."""
    environment = os.environ | {"BANDWRIGHT_UNCOMPILED": ""}
    run = subprocess.run(
        [sys.executable, "-c", _MEETS_EVERY_KERNEL], env=environment, capture_output=True, text=True, check=False
    )
    assert run.stdout.strip() == "True proof []", run.stderr
