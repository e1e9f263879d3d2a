"""How much room there is, as text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from bandwright.core.planning.plan import BoundStatus
from bandwright.core.planning.room import Eased, Room
from bandwright.core.words import one_line, proof_words
from bandwright.units import mhz_text

__all__ = ["room_text"]

_MOST_CARRIERS = 40
_LEAST_WIDTH = 60
_GAIN_WORDS = "A gain of 0 means that no more was found and more is not ruled out; none is proven to gain nothing."


def room_text(room: Room, *, columns: int = 100) -> str:
    """Return how many links fit, a set that does, and the table of single changes, for so many columns."""
    width = max(columns, _LEAST_WIDTH)
    parts = (_head(room, width), _verdict(room, width), _carriers(room, width), _table(room, width))
    return "\n\n".join("\n".join(lines) for part in parts if (lines := list(part))) + "\n"


def _head(room: Room, width: int) -> Iterable[str]:
    yield from textwrap.wrap(one_line(f"{room.radio_name} at {room.place_name}, {_beside(room)}"), width)


def _beside(room: Room) -> str:
    if room.plan_number is None:
        return "alone: the links of the brief do not count"
    carriers = "1 carrier" if room.plan_carriers == 1 else f"{room.plan_carriers} carriers"
    return f"beside the {carriers} of plan {room.plan_number} ({room.plan_phrase}), which stay clean"


def _verdict(room: Room, width: int) -> Iterable[str]:
    yield from textwrap.wrap(f"{_fits(room)}{_HOW_SURE[room.capacity.status](room)}", width)
    for reason in room.closing:
        yield from textwrap.wrap(f"{reason.code}: {reason.text}", width, initial_indent="  ", subsequent_indent="    ")


def _fits(room: Room) -> str:
    more = "" if room.plan_number is None else "more "
    found = room.capacity.found
    if found == 0:
        return f"No {more}link of this type fits here"
    words = "link of this type fits" if found == 1 else "links of this type fit"
    return f"{found} {more}{words} here at once"


def _proof(room: Room) -> str:
    return proof_words(room.capacity.method, found=room.capacity.found)


def _proven(room: Room) -> str:
    if room.capacity.found == 0:
        return f" under these rules (proven: {_proof(room)})."
    return f", and no set of {room.capacity.found + 1} exists under these rules (proven: {_proof(room)})."


def _bounded(room: Room) -> str:
    low, high = room.capacity.found + 1, room.capacity.upper_bound
    open_question = str(low) if low == high else f"{low} to {high}"
    return (
        f"; more than {high} are proven impossible ({_proof(room)}). "
        f"Of {open_question} nobody knows: none was found, none is ruled out."
    )


_HOW_SURE = {BoundStatus.PROVEN: _proven, BoundStatus.BOUNDED: _bounded}


def _carriers(room: Room, width: int) -> Iterable[str]:
    carriers = room.capacity.carriers_hz
    if 0 < len(carriers) <= _MOST_CARRIERS:
        text = f"For example on {', '.join(mhz_text(hz) for hz in carriers)} MHz."
        yield from textwrap.wrap(text, width, break_on_hyphens=False)


def _table(room: Room, width: int) -> Iterable[str]:
    if not room.eased:
        return
    heading = "One change alone"
    most = width - len("   found  at most   gain")
    texts = [textwrap.wrap(one_line(item.change), most) for item in room.eased]
    wide = max(len(heading), *(len(line) for lines in texts for line in lines))
    yield f"{heading:<{wide}}   found  at most   gain"
    for item, lines in zip(room.eased, texts, strict=True):
        yield from lines[:-1]
        yield f"{lines[-1]:<{wide}}   {item.capacity.found:5}  {item.capacity.upper_bound:7}  {_gain(room, item):>5}"
    if any(_gain(room, item) == "0" for item in room.eased):
        yield ""
        yield from textwrap.wrap(_GAIN_WORDS, width)


def _gain(room: Room, item: Eased) -> str:
    gain = item.capacity.found - room.capacity.found
    return f"+{gain}" if gain else "none" if item.capacity.upper_bound == item.capacity.found else "0"
