"""Plans in short words, the same on paper, on a page and in a terminal."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime, time, timedelta

from bandwright.core.kit import PowerKind
from bandwright.core.library import Confidence, RuleWindow
from bandwright.core.permits import PowerLimit
from bandwright.core.planning.plan import (
    AtAntenna,
    Bound,
    BoundStatus,
    CarrierToInterference,
    Closest,
    Culprit,
    Kept,
    Moved,
    Noise,
    NoiseState,
)
from bandwright.core.products import family_named
from bandwright.core.when import TimeSpan
from bandwright.units import khz_text, mhz_text

__all__ = [
    "CAUTIONS",
    "CONFIDENCE_WORDS",
    "JOINERS",
    "KIND_WORDS",
    "UNIT_SPACE",
    "and_list",
    "antenna_words",
    "bound_words",
    "caution_words",
    "closest_brief",
    "closest_words",
    "is_one_line",
    "kept_words",
    "label_list",
    "limit_words",
    "noise_words",
    "on_air_words",
    "one_line",
    "or_list",
    "power_words",
    "proof_words",
    "ratio_brief",
    "ratio_words",
    "share_words",
    "sweep_label",
    "terms_words",
]

# What stands on every sheet, in two lines.
CAUTIONS = (
    "Spectrum law is local: figures shipped with the program are dated copies, the regulator's current text decides. "
    "Stay within the power of your permit.",
    "In-ear levels can harm hearing: start low. Never retune or switch a transmitter that is in somebody's ears.",
)

# The space between a figure and its unit: no line is broken there.
UNIT_SPACE = re.compile(r"(?<=\d) (?=(?:[kM]?Hz|dBm?|mW)\b)")

KIND_WORDS = {PowerKind.ERP: "ERP", PowerKind.EIRP: "e.i.r.p.", PowerKind.CONDUCTED: "conducted"}

# How sure a figure of a shipped table is; none of them was held against the regulator's current text.
CONFIDENCE_WORDS = {
    Confidence.READ: "figures read, not confirmed",
    Confidence.MEMORY: "some figures from memory, not confirmed",
}


_MONTHS = ("Jan", "Feb", "March", "April", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec")


def closest_words(closest: Closest) -> str:
    """Return the rule with the smallest slack in a few words.

    >>> closest_words(Closest(rule="product", family="2A-B", sources=("L03", "L07"), product_hz=606_825_000,
    ...                       offset_hz=125_000, required_hz=100_000))
    '2 x L03 - L07, 125 kHz away (asks 100)'
    """
    return f"{_what(closest)}, {khz_text(closest.offset_hz)} kHz away (asks {khz_text(closest.required_hz)})"


def closest_brief(closest: Closest) -> str:
    """Return the same for a row of one line, under a heading that says "kHz away / asked".

    >>> closest_brief(Closest(rule="product", family="2A-B", sources=("L03", "L07"), product_hz=606_825_000,
    ...                       offset_hz=125_000, required_hz=100_000))
    '2 x L03 - L07 125/100'
    """
    return f"{_what(closest)} {khz_text(closest.offset_hz)}/{khz_text(closest.required_hz)}"


def _what(closest: Closest) -> str:
    return _RULES.get(closest.rule, _any_rule)(closest)


def _product(closest: Closest) -> str:
    if closest.family is None:
        return " ".join(("IM product of", *closest.sources))
    return family_named(closest.family).words(closest.sources)


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
    "power-not-shown-to-be-within": "power not shown to be within the permit",
    "slack": "thin slack",
    "thin-slack": "thin slack",
    "unmeasured": "not measured",
}


def ratio_words(item: CarrierToInterference) -> str:
    """Return carrier to interference in words.

    >>> ratio_words(CarrierToInterference(worst_db=12.2, quantile_db=41.4, median_db=50.0, needs_db=30.0,
    ...                                   needs_stated=True, wanted_dbm=-60.0, interference_dbm=-72.2, culprit=None))
    'C/I 41 dB (needs 30), 12 at worst'
    """
    if item.worst_db is None:
        return "C/I: nothing falls in"
    source = "" if item.culprit is None else f" by {_culprit(item.culprit)}"
    return f"C/I {_ratio(item.quantile_db)} dB (needs {item.needs_db:g}), {_ratio(item.worst_db)} at worst{source}"


def _ratio(db: float | None) -> str:
    """Return a ratio in dB; below 0 the figure says nothing more, since what makes the product is driven past it."""
    if db is None or db > 99:
        return "over 99"
    return f"{round(db)}" if db >= 0 else "under 0"


def ratio_brief(item: CarrierToInterference) -> str:
    """Return carrier to interference as short as on a crowded sheet: what 95 of 100 stage pictures keep."""
    return f"C/I {_ratio(item.quantile_db)} dB"


def _culprit(item: Culprit) -> str:
    return " ".join(item.sources) if item.family is None else family_named(item.family).words(item.sources)


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


def antenna_words(noise: Noise, receiver: str) -> str:
    """Return what a calibrated sweep tells of levels at its antenna, beside what a receiver can bear; "" where none is.

    >>> there = AtAntenna(outside_dbm=-99.5, depth_dbm=-106.0, bears_dbm=-105.0, bears_because="10 dB below -95 dBm")
    >>> antenna_words(Noise(state=NoiseState.NOISY, at_antenna=there), "Heron")
    'at the antenna that is -99.5 dBm from outside, where Heron can bear -105.0 dBm (10 dB below -95 dBm)'
    """
    there = noise.at_antenna
    if there is None or there.depth_dbm is None:
        return ""
    found = f"at the antenna that is {_from_outside(noise.state, there)}"
    if there.bears_dbm is None:
        return found
    return f"{found}, where {receiver} can bear {there.bears_dbm:.1f} dBm ({there.bears_because})"


def _from_outside(state: NoiseState, there: AtAntenna) -> str:
    depth = f"{there.depth_dbm:.1f} dBm"
    if state is NoiseState.SHALLOW:
        return f"the instrument's own noise of {depth}"
    if there.outside_dbm is None:
        return f"nothing above the instrument's own noise of {depth}"
    return f"{there.outside_dbm:.1f} dBm from outside"


def sweep_label(name: str, started: datetime | None) -> str:
    """Return the name of a sweep and the hour it began, where somebody knows it.

    >>> sweep_label("walls-on.csv", datetime(2027, 5, 14, 14, 5)), sweep_label("walls-on.csv", None)
    ('walls-on.csv, 14:05', 'walls-on.csv')
    """
    return name if started is None else f"{name}, {started:%H:%M}"


def bound_words(bound: Bound) -> str:
    """Return how good a plan is as one sentence.

    >>> bound_words(Bound(about="links placed", status=BoundStatus.PROVEN, found=12, upper_bound=12, method="count"))
    '12 links placed; no larger plan exists under these rules (proven: count).'
    """
    about = bound.about.replace("links", "link", 1) if bound.found == 1 else bound.about
    return f"{bound.found} {about}; {_HOW_SURE[bound.status](bound)}."


def _bounded(bound: Bound) -> str:
    if bound.upper_bound is None:
        return _found(bound)
    return f"within {bound.upper_bound - bound.found} of a bound of {bound.upper_bound} ({_counted(bound)})"


def _counted(bound: Bound) -> str:
    return bound.method.replace(_OPEN, "so many links have a carrier open to them")


_OPEN = "open candidates"  # the method of a bound that counts links with a carrier open to them


def _found(_: Bound) -> str:
    return "found, nothing is proven about more"


def _proven(bound: Bound) -> str:
    return f"no larger plan exists under these rules (proven: {proof_words(bound.method, found=bound.found)})"


def proof_words(method: str, *, found: int) -> str:
    """Return by which argument a count is proven; what its method calls open candidates is said in plain words.

    >>> proof_words("open candidates", found=3)
    'every other link has no carrier open to it'
    """
    if not method.startswith(_OPEN):
        return method
    who = "every other link has no carrier open to it" if found else "no link has a carrier open to it"
    return f"{who}{method.removeprefix(_OPEN)}"


_HOW_SURE: dict[BoundStatus, Callable[[Bound], str]] = {
    BoundStatus.PROVEN: _proven,
    BoundStatus.BOUNDED: _bounded,
    BoundStatus.FOUND: _found,
}


_MOVES_TOLD = 12


def kept_words(kept: Kept) -> str:
    """Return what a plan keeps of an earlier one: how many, which moved from where, and what is new.

    >>> moved = (Moved(id="L03", from_hz=606_725_000, to_hz=607_100_000),)
    >>> kept_words(Kept(of="Plan 3 (bodik-hatuz)", status=BoundStatus.PROVEN, had=30, moved=moved, new=("L31",)))
    '29 of 30 carriers of Plan 3 (bodik-hatuz) are kept, and no plan that places as much keeps more (proven). Moved: \
L03 from 606.725 to 607.100 MHz. New: L31.'
    """
    if not kept.had:
        told = f"{kept.of} has no carrier for any link of this plan."
    elif not kept.moved:
        told = f"{'The carrier' if kept.had == 1 else f'All {kept.had} carriers'} of {kept.of} {_are(kept.had)} kept."
    else:
        sure = kept.status is BoundStatus.PROVEN
        more = "no plan that places as much keeps more (proven)" if sure else "none was found that keeps more"
        told = f"{kept.kept} of {kept.had} carriers of {kept.of} {_are(kept.kept)} kept, and {more}."
    listed = [_moved_words(item) for item in kept.moved[:_MOVES_TOLD]]
    left = len(kept.moved) - len(listed)
    moved = f" Moved: {'; '.join(listed)}{f'; and {left} more' if left else ''}." if listed else ""
    new = f" New: {and_list(kept.new)}." if kept.new and kept.had else ""
    return f"{told}{moved}{new}"


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _moved_words(item: Moved) -> str:
    if item.to_hz is None:
        return f"{item.id} from {mhz_text(item.from_hz)} MHz to nowhere"
    return f"{item.id} from {mhz_text(item.from_hz)} to {mhz_text(item.to_hz)} MHz"


def power_words(power_mw: float) -> str:
    """Return a power without needless zeros.

    >>> power_words(50.0), power_words(2.5)
    ('50 mW', '2.5 mW')
    """
    return f"{power_mw:.4g} mW"


def share_words(part: float) -> str:
    """Return a part of the time in per cent; neither never nor always is claimed where it only comes close.

    >>> share_words(0.0123), share_words(0.998), share_words(1.0), share_words(1e-9)
    ('1.2 %', '99.8 %', 'over 99.9 %', 'under 0.01 %')
    """
    if part < 1e-4:
        return "under 0.01 %"
    if part > 0.999:
        return "over 99.9 %"
    return f"{part * 100:.1f} %" if part > 0.99 else f"{part * 100:.2g} %"


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


def on_air_words(spans: Sequence[TimeSpan], dates: Collection[date]) -> tuple[str, ...]:
    """Return times on air in words: hours alone where they count on every date of the job, else with their dates.

    >>> from datetime import UTC, datetime
    >>> day = [TimeSpan(start=datetime(2027, 5, d, 14, tzinfo=UTC), end=datetime(2027, 5, d, 23, tzinfo=UTC))
    ...        for d in (14, 15)]
    >>> dates = [date(2027, 5, 14), date(2027, 5, 15)]
    >>> on_air_words(day, dates), on_air_words(day[1:], dates)
    (('14:00–23:00',), ('15 May 14:00–23:00',))
    """
    days: dict[str, list[date]] = {}
    for span in spans:
        days.setdefault(_hours_words(span), []).append(span.start.date())
    return tuple(
        hours if hours and set(found) == set(dates) else f"{_days_words(found)} {hours}".rstrip()
        for hours, found in days.items()
    )


def _hours_words(span: TimeSpan) -> str:
    """Return the hours of a span that starts on a day told beside it; empty for that whole day."""
    midnights = (span.start.time(), span.end.time()) == (time.min, time.min)
    days = (span.end.date() - span.start.date()).days
    if midnights:
        return "" if days == 1 else f"to {_day_words(span.end.date() - timedelta(days=1))}"
    if span.end - span.start < timedelta(days=1):
        return f"{span.start:%H:%M}–{span.end:%H:%M}"
    return f"{span.start:%H:%M} to {_day_words(span.end.date())} {span.end:%H:%M}"


def _days_words(days: Sequence[date]) -> str:
    return ", ".join(_day_words(day) for day in days)


def _day_words(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]}"


def and_list(names: Sequence[str]) -> str:
    """Return names as a list that ends with "and".

    >>> and_list(["L01"]), and_list(["L01", "L02", "L03"])
    ('L01', 'L01, L02 and L03')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def or_list(names: Sequence[str]) -> str:
    """Return names as a list that ends with "or".

    >>> or_list(["L01"]), or_list(["L01", "L02", "L03"])
    ('L01', 'L01, L02 or L03')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


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


JOINERS = "\u200c\u200d"
"""What stands within words of Persian, Hindi and others to part or join their letters."""


def one_line(text: str) -> str:
    """Return the text composed (NFC) and fit for one line.

    Line breaks, tabs and control codes become spaces; invisible format characters, which can turn the direction of
    what follows, are dropped, but for joiners within words.
    """
    whole = unicodedata.normalize("NFC", text)
    return "".join(char if _joins(whole, at) else _visible(char) for at, char in enumerate(whole))


def is_one_line(text: str) -> bool:
    r"""Whether a text is one line of what can be seen, and of the joiners that Persian, Hindi and others need.

    Zero width non-joiner and joiner, U+200C and U+200D: The Unicode Standard, chapter 23.2, "Cursive connection and
    ligatures". Anything else that is invisible could hide a difference or turn the direction of what follows.

    >>> is_one_line("Mara"), is_one_line("می\u200cخواهم"), is_one_line("Ma\u202era"), is_one_line("\u200d")
    (True, True, False, False)
    """
    return all(char.isprintable() or _joins(text, at) for at, char in enumerate(text))


def _joins(text: str, at: int) -> bool:
    """Whether a joiner stands there, behind a letter or its mark and before a letter."""
    if text[at] not in JOINERS or not 0 < at < len(text) - 1:
        return False
    return unicodedata.category(text[at - 1])[0] in "LM" and unicodedata.category(text[at + 1])[0] == "L"


def _visible(char: str) -> str:
    category = unicodedata.category(char)
    if category in {"Cc", "Zl", "Zp"}:
        return " "
    return "" if category == "Cf" else char
