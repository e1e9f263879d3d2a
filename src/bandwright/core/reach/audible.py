"""Dropouts that are heard: fades that last longer than a stated time, how often they come, and the margin against them.

Of one Rayleigh branch every dip below what the receiver needs counts down to microseconds when all are counted. Nobody
hears those: a squelch, a decoder's concealment and the ear bridge them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from bandwright.core.kit import Diversity, Emission, RadioType
from bandwright.core.reach.fade_lengths import share_of_several
from bandwright.core.reach.fading import Fading, dropouts_per_s, fade_duration_s, outage
from bandwright.core.words import or_list

__all__ = [
    "ASSUMED_AUDIBLE_MS",
    "Audible",
    "audible_dropouts_per_s",
    "audible_of",
    "counted_words",
    "margin_needed_db",
    "often_words",
]

ASSUMED_AUDIBLE_MS = {Emission.FM: 5.0, Emission.FM_STEREO: 5.0, Emission.DIGITAL: 2.0}
"""Longer dips are taken as heard where nobody states it, in ms: an assumption, not a measurement.

FM: what squelch and ear bridge. Digital: about one frame; what a decoder conceals beyond that is to be stated.
"""

_MOST_LOST = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Audible:
    """Which dips are heard: those longer than `ms`; `stated` tells whether somebody stated that."""

    ms: float
    stated: bool

    @property
    def s(self) -> float:
        """The same in seconds."""
        return self.ms / 1000

    @property
    def words(self) -> str:
        """What counts, and whose word that is.

        >>> Audible(ms=5.0, stated=False).words
        'over 5 ms, assumed'
        """
        return f"over {self.ms:g} ms, {'stated' if self.stated else 'assumed'}"


def counted_words(kinds: Iterable[Audible]) -> str:
    """Return as a sentence which dropouts of links count as audible, and whose word that is; nothing for none.

    >>> counted_words([Audible(ms=5.0, stated=False), Audible(ms=20.0, stated=True)])
    'Audible is what lasts longer than 5 ms (assumed, unless audible_ms of the radio type states it) or 20 ms (stated).'
    """
    found = sorted(set(kinds), key=lambda one: (one.stated, one.ms))
    whose = {False: "assumed, unless audible_ms of the radio type states it", True: "stated"}
    lengths = [
        f"{or_list([f'{one.ms:g}' for one in same])} ms ({whose[stated]})"
        for stated, same in ((key, [one for one in found if one.stated is key]) for key in whose)
        if same
    ]
    return f"Audible is what lasts longer than {or_list(lengths)}." if lengths else ""


def often_words(per_min: float, what: str) -> str:
    """Return how often something comes, in words that fit the number.

    >>> often_words(52.1, "dip"), often_words(0.11, "audible dropout"), often_words(1e-9, "dip")
    ('52 dips a minute', 'one audible dropout in 9 min', 'less than one dip in 100 h')
    """
    if per_min >= 1:
        return f"{f'{per_min:.2g}' if per_min < 100 else f'{per_min:.0f}'} {what}s a minute"
    if per_min * 120 >= 1:
        return f"one {what} in {1 / per_min:.0f} min"
    if per_min * 6000 >= 1:
        return f"one {what} in {1 / per_min / 60:.0f} h"
    return f"less than one {what} in 100 h"


def audible_of(radio: RadioType) -> Audible:
    """Return which dips of a radio type are heard: those longer than it states, or than is assumed."""
    stated = radio.audible_ms
    ms = ASSUMED_AUDIBLE_MS[radio.emission] if stated is None else stated
    return Audible(ms=ms, stated=stated is not None)


def audible_dropouts_per_s(margin_db: float, fading: Fading, *, doppler_hz: float, audible_s: float) -> float:
    """Return how often a second the signal stays below what is needed for longer than a stated time.

    Dropouts of any length (`dropouts_per_s`) times the part of them that is longer (`share_of_several`). Switching
    counts as selection: the receiver looks at its other antenna again and again while it hears nothing.

    Parameters
    ----------
    margin_db
        Mean power of a branch over what is needed.
    doppler_hz
        Largest Doppler shift: walking speed over wavelength. Who walks more slowly meets fewer dips that last longer.
    audible_s
        Shorter dips are not heard; 0 counts all.

    Examples
    --------
    >>> from bandwright.core.reach.fading import Fading
    >>> for ms in (0, 1, 5):
    ...     print(round(60 * audible_dropouts_per_s(25, Fading(), doppler_hz=2.83, audible_s=ms / 1000), 2))
    23.86
    23.65
    17.87
    """
    rate = dropouts_per_s(margin_db, fading, doppler_hz=doppler_hz)
    alone_s = fade_duration_s(margin_db, fading.one(), doppler_hz=doppler_hz)
    if audible_s == 0 or rate == 0 or not math.isfinite(alone_s):  # hardly ever there, or hardly ever gone
        return rate
    combined = fading.diversity is Diversity.COMBINING and not fading.alone
    part = share_of_several(
        np.array(audible_s / alone_s),
        np.array(10 ** (-margin_db / 20)),
        like=np.array(max(1.0, alone_s * rate / outage(margin_db, fading))),
        summed=fading.branches if combined else 1,
    )
    return rate * float(part)


def margin_needed_db(fading: Fading, *, doppler_hz: float, audible_s: float, at_most_every_s: float) -> float:
    """Return the margin from which on there is no more than one audible dropout in so many seconds, in dB.

    And from which on no more than 1 % of the time is lost (a choice of ours): how long fades last is known of deep
    ones, and a link that is gone again and again, each time too shortly to count, is no good link. Found by halving
    between 0 and 150 dB, where dropouts get rarer as the margin grows; to a hundredth of a dB.

    >>> round(margin_needed_db(Fading(), doppler_hz=2.83, audible_s=0.005, at_most_every_s=600))
    39
    >>> round(margin_needed_db(Fading(), doppler_hz=2.83, audible_s=0, at_most_every_s=600))
    73
    """
    return _margin_needed_db(fading, doppler_hz, audible_s, at_most_every_s)


@lru_cache(maxsize=4096)
def _margin_needed_db(fading: Fading, doppler_hz: float, audible_s: float, at_most_every_s: float) -> float:
    low, high = 0.0, 150.0
    while high - low > 0.01:
        middle = (low + high) / 2
        often = audible_dropouts_per_s(middle, fading, doppler_hz=doppler_hz, audible_s=audible_s)
        if often * at_most_every_s > 1 or outage(middle, fading) > _MOST_LOST:
            low = middle
        else:
            high = middle
    return high
