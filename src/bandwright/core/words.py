"""Plans in short words, the same on paper, on a page and in a terminal."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence

from bandwright.core.kit import PowerKind
from bandwright.core.library import Confidence, RuleWindow
from bandwright.core.permits import PowerLimit
from bandwright.core.planning.plan import Bound, BoundStatus, Closest, Noise, NoiseState
from bandwright.units import khz_text

__all__ = [
    "CAUTIONS",
    "CONFIDENCE_WORDS",
    "KIND_WORDS",
    "and_list",
    "bound_words",
    "caution_words",
    "closest_words",
    "label_list",
    "limit_words",
    "noise_words",
    "one_line",
    "power_words",
    "terms_words",
]

# What stands on every sheet, in two lines.
CAUTIONS = (
    "Spectrum law is local: figures shipped with the program are dated copies, the regulator's current text decides. "
    "Stay within the power of your permit.",
    "In-ear levels can harm hearing: start low. Never retune or switch a transmitter that is in somebody's ears.",
)

KIND_WORDS = {PowerKind.ERP: "ERP", PowerKind.EIRP: "e.i.r.p.", PowerKind.CONDUCTED: "conducted"}

# How sure a figure of a shipped table is; none of them was held against the regulator's current text.
CONFIDENCE_WORDS = {
    Confidence.READ: "figures read, not confirmed",
    Confidence.MEMORY: "some figures from memory, not confirmed",
}


def closest_words(closest: Closest) -> str:
    """Return the rule with the smallest slack in a few words.

    >>> closest_words(Closest(rule="product", family="2A-B", sources=("L03", "L07"), product_hz=606_825_000,
    ...                       offset_hz=125_000, required_hz=100_000))
    '2A-B of L03 L07, 125 kHz away (asks 100)'
    """
    what = _RULES.get(closest.rule, _any_rule)(closest)
    return f"{what}, {khz_text(closest.offset_hz)} kHz away (asks {khz_text(closest.required_hz)})"


def _product(closest: Closest) -> str:
    return " ".join(part for part in (closest.family or "IM product", "of", *closest.sources) if part)


def _named(closest: Closest) -> str:
    return " ".join(closest.sources) or closest.rule


def _tv(closest: Closest) -> str:
    return " ".join(("TV channel", *closest.sources))


def _any_rule(closest: Closest) -> str:
    return " ".join((closest.rule, *closest.sources))


_RULES: dict[str, Callable[[Closest], str]] = {
    "product": _product,
    "spacing": _named,
    "other": _named,
    "tv": _tv,
}

_CAUTION_WORDS = {
    "level-margin": "thin level margin",
    "not-deep-enough": "sweep not deep enough",
    "slack": "thin slack",
    "thin-slack": "thin slack",
    "unmeasured": "not measured",
}


def caution_words(code: str) -> str:
    """Return a caution code as words; a code nobody listed is read as it is written.

    >>> caution_words("unmeasured"), caution_words("permit-not-granted")
    ('not measured', 'permit not granted')
    """
    return _CAUTION_WORDS.get(code, code.replace("-", " ").replace("_", " "))


def noise_words(noise: Noise) -> str:
    """Return what the sweeps say about a carrier: `quiet to -98 dBm`, `noisy: -71 dBm`, `not measured`."""
    if noise.value is None or noise.state is NoiseState.UNMEASURED:
        return noise.state.value
    level = f"{noise.value:.0f} {noise.unit or 'dB'}"
    joint = " to " if noise.state is NoiseState.QUIET else ": "
    return f"{noise.state.value}{joint}{level}"


def bound_words(bound: Bound) -> str:
    """Return how good a plan is as one sentence.

    >>> bound_words(Bound(about="links placed", status=BoundStatus.PROVEN, found=12, upper_bound=12, method="count"))
    '12 links placed; no larger plan exists under these rules (proven: count).'
    """
    return f"{bound.found} {bound.about}; {_HOW_SURE[bound.status](bound)}."


def _bounded(bound: Bound) -> str:
    if bound.upper_bound is None:
        return _found(bound)
    return f"within {bound.upper_bound - bound.found} of a bound of {bound.upper_bound} ({bound.method})"


def _found(_: Bound) -> str:
    return "found, nothing is proven about more"


def _proven(bound: Bound) -> str:
    return f"no larger plan exists under these rules (proven: {bound.method})"


_HOW_SURE: dict[BoundStatus, Callable[[Bound], str]] = {
    BoundStatus.PROVEN: _proven,
    BoundStatus.BOUNDED: _bounded,
    BoundStatus.FOUND: _found,
}


def power_words(power_mw: float) -> str:
    """Return a power without needless zeros.

    >>> power_words(50.0), power_words(2.5)
    ('50 mW', '2.5 mW')
    """
    return f"{power_mw:.4g} mW"


def limit_words(limit: PowerLimit) -> str:
    """Return the most power that may be used.

    >>> limit_words(PowerLimit(kind=PowerKind.ERP, handheld_mw=10, bodyworn_mw=50))
    '10 mW hand-held, 50 mW body-worn (ERP)'
    """
    figures = ((limit.any_mw, ""), (limit.handheld_mw, " hand-held"), (limit.bodyworn_mw, " body-worn"))
    stated = [f"{power_words(mw)}{worn}" for mw, worn in figures if mw is not None]
    return f"{', '.join(stated) or 'no power stated'} ({KIND_WORDS[limit.kind]})"


def terms_words(window: RuleWindow) -> str:
    """Return the terms of one window of a rule table as a line; what this copy does not say is named."""
    power = "no power stated" if window.max_power is None else limit_words(window.max_power)
    wide = (
        "bandwidth not in this copy"
        if window.max_bandwidth_hz is None
        else f"at most {khz_text(window.max_bandwidth_hz)} kHz wide"
    )
    grid = "" if window.grid_hz is None else f", in steps of {khz_text(window.grid_hz)} kHz"
    note = f" ({window.note})" if window.note else ""
    return f"{power}, {wide}{grid}; {CONFIDENCE_WORDS[window.confidence]}{note}"


def and_list(names: Sequence[str]) -> str:
    """Return names as a list that ends with "and".

    >>> and_list(["L01"]), and_list(["L01", "L02", "L03"])
    ('L01', 'L01, L02 and L03')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def label_list(labels: Sequence[str]) -> str:
    """Return TV channel labels in their order, runs of three or more whole numbers joined.

    >>> label_list(["21", "22", "23", "26", "9A"])
    '21–23, 26, 9A'
    """
    return ", ".join(_run_text(run) for run in _runs(labels))


def _runs(labels: Sequence[str]) -> list[list[str]]:
    runs: list[list[str]] = []
    for label in labels:
        follows = runs and label.isdecimal() and runs[-1][-1].isdecimal() and int(label) == int(runs[-1][-1]) + 1
        if follows:
            runs[-1].append(label)
        else:
            runs.append([label])
    return runs


def _run_text(run: list[str]) -> str:
    return f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(run)


def one_line(text: str) -> str:
    """Return the text composed (NFC) and fit for one line.

    Line breaks, tabs and control codes become spaces; invisible format characters, which can turn the direction of
    what follows, are dropped.
    """
    return "".join(_visible(char) for char in unicodedata.normalize("NFC", text))


def _visible(char: str) -> str:
    category = unicodedata.category(char)
    if category in {"Cc", "Zl", "Zp"}:
        return " "
    return "" if category == "Cf" else char
