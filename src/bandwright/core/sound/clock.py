"""Digital outputs in one device need one clock: which there are, and where two meet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bandwright.core.reach.facts import Gap
from bandwright.core.sound.facts import WayFacts

__all__ = ["Clock", "clock_words", "clocks"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """The clocks that meet in one device, with the links of each; `one` says whether it is a single one.

    Links whose time nobody stated stand under None; `one` is then None too, unless two are known already.
    """

    device: str
    masters: tuple[tuple[str | None, tuple[str, ...]], ...]
    gaps: tuple[Gap, ...]

    @property
    def one(self) -> bool | None:
        """Whether everything in the device runs on one clock."""
        known = [name for name, _ in self.masters if name is not None]
        if len(known) > 1:
            return False
        return True if len(known) == len(self.masters) else None


def clock_words(clock: Clock) -> str:
    """Return which clocks meet in a device, in words; what nobody stated is named once.

    >>> clock_words(Clock(device="mixer", masters=(("mixer", ("L01",)), (None, ("L02", "L03"))), gaps=()))
    'Digital into mixer: clock of L02, L03 not stated (mixer: L01)'
    """
    known = [f"{name}: {', '.join(links)}" for name, links in clock.masters if name is not None]
    unknown = ", ".join(link for name, links in clock.masters if name is None for link in links)
    word = "one clock" if clock.one else "wrong: several clocks, it will click"
    if clock.one is None:
        word = f"clock of {unknown} not stated"
    elif unknown:
        known.append(f"not stated: {unknown}")
    return f"Digital into {clock.device}: {word}" + (f" ({'; '.join(known)})" if known else "")


def clocks(ways: Iterable[WayFacts]) -> tuple[Clock, ...]:
    """Return the clocks of every device that takes digital outputs; inputs that convert rates need none."""
    devices: dict[str, dict[str | None, list[str]]] = {}
    gaps: dict[str, list[Gap]] = {}
    for facts in ways:
        feed, output = facts.feed, facts.output
        if feed is None or output is None or not output.plug.digital or feed.converts_rate:
            continue
        device = feed.device or feed.id
        master = _master(facts)
        devices.setdefault(device, {}).setdefault(master, []).append(facts.link.id)
        if master is None:
            gaps.setdefault(device, []).append(Gap(table="feed", id=feed.id, key="clock"))
    return tuple(
        Clock(
            device=device,
            masters=tuple((name, tuple(links)) for name, links in masters.items()),
            gaps=tuple(dict.fromkeys(gaps.get(device, ()))),
        )
        for device, masters in devices.items()
    )


def _master(facts: WayFacts) -> str | None:
    """Return what a digital output takes its time from: its own receiver where it can follow nothing."""
    if facts.output is not None and facts.output.own_clock:
        link = facts.link
        return f"receiver {link.unit or link.receiver or f'of {link.id}'}"
    return facts.feed.clock if facts.feed is not None else None
