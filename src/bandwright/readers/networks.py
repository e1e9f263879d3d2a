"""Touchstone files as gain over frequency, read through scikit-rf, which is loaded only when a brief names a file."""

from __future__ import annotations

import importlib
import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from bandwright.core.rig import Response
from bandwright.errors import InputError

__all__ = ["read_network"]

_LEAST_DB = -200.0  # what lets nothing through
_MOST_BYTES = 8 * 2**20


def read_network(path: Path, *, name: str, ports: int) -> Response:
    """Return what a Touchstone file says of a device of one or two ports, over its frequencies.

    Parameters
    ----------
    path
        The file.
    name
        What the brief calls it, for messages.
    ports
        2 for what lies in a line: the gain from port 1 to port 2, ``20 log10 |S21|``. 1 for an antenna: what is not
        reflected, ``10 log10 (1 - |S11|^2)``, which is 0 dB at most. Both in dB between the impedances of the file.

    Raises
    ------
    InputError
        When scikit-rf is not installed, or the file is missing, too large, broken, or of other ports.

    References
    ----------
    Touchstone file format specification, version 1.1 (IBIS Open Forum); the mismatch loss of a one-port is in D. M.
    Pozar, Microwave Engineering, 4th ed., section 2.3.
    """
    if not path.is_file():
        raise _wrong("no-file", f"there is no file {name} beside the brief.", name, "Write its path from there.")
    if path.stat().st_size > _MOST_BYTES:
        raise _wrong("too-large", f"{name} has more than {_MOST_BYTES // 2**20} MiB; name the Touchstone file.", name)
    network = _network(path, name)
    if network.nports != ports:
        told = f"{name} is of {network.nports} {'port' if network.nports == 1 else 'ports'}"
        wanted = "an antenna has one (.s1p)" if ports == 1 else "what lies in a line has two (.s2p)"
        raise _wrong("other-ports", f"{told}; {wanted}.", name)
    frequencies, matrix = np.asarray(network.f, np.float64), np.asarray(network.s)
    if (
        len(frequencies) == 0
        or not np.isfinite(matrix).all()
        or frequencies[0] < 0
        or (np.diff(frequencies) <= 0).any()
    ):
        raise _wrong("bad-touchstone", f"{name} has no rising frequencies with finite values.", name)
    power = 1 - np.abs(matrix[:, 0, 0]) ** 2 if ports == 1 else np.abs(matrix[:, 1, 0]) ** 2
    gains = np.maximum(10 * np.log10(np.maximum(power, 1e-20)), _LEAST_DB)
    points = tuple(zip(frequencies.tolist(), gains.tolist(), strict=True))
    return Response(source=name, points=points)


def _network(path: Path, name: str) -> Any:
    try:
        skrf = importlib.import_module("skrf")
    except ImportError as error:
        text = f'{name} is a Touchstone file, which needs scikit-rf: pip install "bandwright[networks]".'
        hint = "Or state the gain over frequency with points."
        raise _wrong("no-scikit-rf", text, name, hint) from error
    try:
        # Read here, as the package leaves a file open that it cannot read; it takes the ports from the name.
        file = io.StringIO(path.read_text(encoding="utf-8-sig", errors="replace"))
        file.name = path.name
        network = skrf.Network()
        with warnings.catch_warnings(action="ignore"):
            network.read_touchstone(file)
        return network
    except Exception as error:
        text = f"{name} cannot be read as a Touchstone file."
        raise _wrong("bad-touchstone", text, name, "Its name ends in .s1p or .s2p.") from error


def _wrong(code: str, text: str, given: str, hint: str | None = None) -> InputError:
    return InputError.single(code, text, key="touchstone", given=given, hint=hint)
