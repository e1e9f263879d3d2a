"""A sound through a whole link: filter, pre-emphasis, compressor, limiter, FM, expander, de-emphasis.

The receiver undoes what the transmitter did, in the opposite order. Samples of 1.0 before the transmitter are the peak
of a 1 kHz tone that modulates fully.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from bandwright.core.kit import Companding, Emission, RadioType
from bandwright.core.sound.companding import Compander, compander_of, compressed, expanded
from bandwright.core.sound.filters import emphasis, low_pass
from bandwright.core.sound.fm import FmLink, fading_gain, through_fm

__all__ = ["DEVIATION_SHARE", "Chain", "RfLevel", "chain_of", "on_air", "out_of", "passed", "wanted"]

Floats = npt.NDArray[np.float64]

DEVIATION_SHARE = 0.25
"""Peak deviation as a part of the bandwidth, where it is not stated: 50 kHz in 200 kHz; common practice."""

_AUDIO_HZ = 20_000.0  # where the receiver's audio ends
_ULTRASONIC_TRANSITION_HZ = 3_000.0  # from the edge of an ultrasonic filter to its stop band


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """What a sound passes. `heard` is the receiver's own compander where it is not the transmitter's."""

    id: str
    sent: Compander
    link: FmLink
    heard: Compander | None = None
    assumed: tuple[str, ...] = ()

    @property
    def receiver(self) -> Compander:
        """The compander that the receiver is set to."""
        return self.sent if self.heard is None else self.heard


@dataclass(frozen=True, slots=True, kw_only=True)
class RfLevel:
    """How strong the carrier is: over noise in the receiver's bandwidth, in dB; None is without noise.

    With `doppler_hz` the carrier fades as it does without line of sight while somebody moves, and `cn_db` is the mean.
    """

    name: str
    cn_db: float | None
    doppler_hz: float | None = None


def chain_of(
    radio: RadioType,
    companding: Companding,
    *,
    rate_hz: int,
    heard: Companding | None = None,
    name: str | None = None,
) -> Chain:
    """Return the chain of a radio type that is set to a kind of companding; what is assumed is named.

    Where both ends are set alike the unity level makes no difference to what comes out, and 0 dB stands for it. Audio
    ends at 20 kHz, or where Carson's bandwidth of tone and peak deviation fills the receiver's, or at 0.42 of the
    rate.

    Raises
    ------
    ValueError
        When the type is not FM, or the kind of companding has no ratio.
    """
    if radio.emission is not Emission.FM:
        raise ValueError(f"only FM in mono is simulated; {radio.id} is {radio.emission.value}")
    sent, assumed = compander_of(companding, preemphasis_us=radio.preemphasis_us)
    receiver = None if heard is None else compander_of(heard, preemphasis_us=radio.preemphasis_us)[0]
    if receiver is None:
        sent, assumed = replace(sent, unity_db=0.0), tuple(axis for axis in assumed if axis != "unity_db")
    deviation_hz = radio.peak_deviation_hz
    if deviation_hz is None:
        deviation_hz, assumed = round(DEVIATION_SHARE * radio.bandwidth_hz), (*assumed, "peak_deviation_hz")
    carson_hz = max(radio.bandwidth_hz / 2 - deviation_hz, radio.bandwidth_hz / 16)
    link = FmLink(
        deviation_hz=deviation_hz,
        bandwidth_hz=radio.bandwidth_hz,
        rate_hz=rate_hz,
        audio_hz=min(_AUDIO_HZ, carson_hz, 0.42 * rate_hz),
    )
    return Chain(id=name or companding.name or radio.id, sent=sent, heard=receiver, link=link, assumed=assumed)


def on_air(sound: Floats, chain: Chain) -> Floats:
    """Return what modulates the carrier, before the limiter; 1.0 is peak deviation."""
    rate_hz, sent = chain.link.rate_hz, chain.sent
    signal = sound * 10 ** (sent.full_db / 20)
    if sent.ultrasonic_filter_hz is not None:
        signal = low_pass(
            signal,
            cutoff_hz=sent.ultrasonic_filter_hz,
            rate_hz=rate_hz,
            transition_hz=_ULTRASONIC_TRANSITION_HZ,
        )
    if sent.preemphasis_s > 0:
        signal = emphasis(time_constant_s=sent.preemphasis_s, rate_hz=rate_hz).applied(signal)
    return compressed(signal, sent, rate_hz=rate_hz)


def out_of(demodulated: Floats, chain: Chain) -> Floats:
    """Return what comes out of the receiver, on the scale of what went into the transmitter."""
    rate_hz, receiver = chain.link.rate_hz, chain.receiver
    signal = expanded(demodulated, receiver, rate_hz=rate_hz)
    if receiver.preemphasis_s > 0:
        signal = emphasis(time_constant_s=receiver.preemphasis_s, rate_hz=rate_hz).undone(signal)
    return signal * 10 ** (-receiver.full_db / 20)


def passed(
    sound: Floats,
    chain: Chain,
    level: RfLevel,
    *,
    seed: int,
    modulating: Floats | None = None,
    heard: Callable[[float], None] = lambda _: None,
) -> Floats:
    """Return a sound behind the whole link, as long as it was and not delayed.

    Parameters
    ----------
    sound
        Samples at the link's rate.
    chain, level
        What it passes.
    seed
        Of noise and fading; the same for every chain that is compared.
    modulating
        What `on_air` made of the sound, where that is known already.
    heard
        Called with the share that is done, and free to raise.
    """
    fading, noise = (np.random.default_rng([seed, part]) for part in (1, 2))
    gain = None
    if level.doppler_hz is not None:
        gain = fading_gain(len(sound), rate_hz=chain.link.rate_hz, doppler_hz=level.doppler_hz, random=fading)
    sent = on_air(sound, chain) if modulating is None else modulating
    return out_of(through_fm(sent, chain.link, cn_db=level.cn_db, random=noise, gain=gain, heard=heard), chain)


def wanted(sound: Floats, chain: Chain) -> Floats:
    """Return what a perfect link would give: the sound itself, or with less dynamics where the expander leaves some."""
    if math.isclose(chain.sent.expansion, chain.sent.ratio):
        return sound
    plain = replace(chain.sent, ultrasonic_filter_hz=None)
    perfect = replace(chain, sent=plain, heard=None)
    return out_of(on_air(sound, perfect), perfect)
