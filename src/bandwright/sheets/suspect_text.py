"""Which packs to lower to find out what is heard, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bandwright.core.planning.plan import Warn
from bandwright.core.reach.switch_off import Drop, Outcome, Suspect, Suspicion
from bandwright.core.words import and_list, one_line, power_words
from bandwright.sheets.terminal import wrapped
from bandwright.units import khz_text, mhz_text

__all__ = ["suspect_text"]

_PAD_DB = 6


def suspect_text(found: Suspicion, *, link: str | None, warnings: Sequence[Warn], columns: int = 100) -> str:
    """Return what may be heard and how to find out, for a terminal of so many columns."""
    width = max(columns, 50)
    lines = [line for text, first in _texts(found, link) for line in wrapped(one_line(text), width, first=first)]
    lines += [line for warning in warnings for line in wrapped(one_line(warning.in_terminal), width, first="Note: ")]
    return "\n".join(lines) + "\n"


def _texts(found: Suspicion, link: str | None) -> Iterator[tuple[str, str]]:
    where = f"{mhz_text(found.at_hz)} MHz" + (f" ({link})" if link is not None else "")
    near = f"within {khz_text(found.within_hz)} kHz of {where}"
    if found.carriers:
        names = and_list([other.name for other in found.carriers])
        yield f"{names}: another user's own carrier lies {near}, and may simply be what is heard.", ""
    if not found.suspects:
        yield f"No third-order product, nor a 3A-2B, of the carriers on the air falls {near}.", ""
        yield "Look for a carrier: a sweep with own transmitters off shows it.", ""
        return
    count = len(found.suspects)
    more = f"; {found.more} more lie farther off" if found.more else ""
    levels = any(suspect.level_dbm is not None for suspect in found.suspects)
    loudest = "; levels are at the receiver, with every pack where it does most" if levels else ""
    yield f"{count} product{'' if count == 1 else 's'} {near}{more}{loudest}:", ""
    for number, suspect in enumerate(found.suspects, start=1):
        yield _suspect_text(suspect), f"  {number:>2}  "
    yield (
        (
            f"First, without touching anybody: a {_PAD_DB} dB pad at the antenna lowers what is on the air by "
            f"{_PAD_DB} dB, and a product of order 3 that is made behind the pad by {3 * _PAD_DB} dB."
        ),
        "",
    )
    yield from _drops(found)


def _drops(found: Suspicion) -> Iterator[tuple[str, str]]:
    if not found.drops:
        yield "No pack of ours that takes part has a lower setting; only switching one off in a break will tell.", ""
        return
    packs = "1 pack" if len(found.drops) == 1 else f"{len(found.drops)} packs one after the other"
    yield f"Then lower {packs} and watch the needle (no fewer reach them all):", ""
    for number, drop in enumerate(found.drops, start=1):
        yield _drop_text(drop), f"  {number}.  "
        for outcome in drop.outcomes:
            yield _outcome_text(outcome), "      "
        if drop.in_ear:
            yield "It is an in-ear transmitter: only while nobody wears it.", "      "
    if found.beyond:
        yield f"No pack with a lower setting takes part in {_numbers(found.beyond)}.", ""
    yield "If nothing moves it, it is a carrier of somebody else, or a product without ours; set every pack back.", ""


def _suspect_text(suspect: Suspect) -> str:
    offset = f"{khz_text(abs(suspect.offset_hz))} kHz {'above' if suspect.offset_hz > 0 else 'below'}"
    away = "right on it" if suspect.offset_hz == 0 else offset
    level = "" if suspect.level_dbm is None else f", {suspect.level_dbm:.0f} dBm at most"
    return f"{suspect.family.words(suspect.members)} at {mhz_text(suspect.product_hz)} MHz, {away}{level}"


def _drop_text(drop: Drop) -> str:
    name = drop.link if drop.name == drop.link else f"{drop.link} ({drop.name})"
    if drop.from_mw is None or drop.to_mw is None or drop.step_db is None:
        return f"{name}: one setting down"
    return f"{name}: from {power_words(drop.from_mw)} to {power_words(drop.to_mw)}, {drop.step_db:.1f} dB"


def _outcome_text(outcome: Outcome) -> str:
    what = "stays" if outcome.db_per_db == 0 else f"falls {outcome.db_per_db} dB for each dB"
    if outcome.db_per_db and outcome.db is not None:
        what = f"falls by {-outcome.db:.0f} dB"
    told = _numbers(outcome.suspects)
    if outcome.db_per_db == 0:
        return f"{what}: {told}, or a carrier"
    then = "" if outcome.then is None else f"; then lower {outcome.then} to tell them apart"
    return f"{what}: {told}{then}"


def _numbers(suspects: Sequence[int]) -> str:
    return and_list([str(number + 1) for number in suspects])
