"""What to compare for a link or a radio type: its kinds of companding, RF levels, and a sound like its source."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bandwright.core.audio import SourceKind
from bandwright.core.kit import Emission, RadioType
from bandwright.core.reach.link import WALKING_M_PER_S
from bandwright.core.reach.path import wavelength_m
from bandwright.core.sound.judging import Case, Recommendation
from bandwright.core.sound.matching import companding_words
from bandwright.core.sound.material import Material
from bandwright.core.sound.recording import Prepared, Track
from bandwright.core.sound.simulate import Chain, RfLevel, chain_of

__all__ = ["CAUTIONS", "RATE_HZ", "SECONDS", "Compared", "Kind", "kinds_of", "levels_for", "material_for", "why_not"]

RATE_HZ = 96_000
"""Samples per second of a comparison: keys reach 40 kHz."""

SECONDS = 10.0
"""How long a sound of ours is."""

CAUTIONS = (
    "Files are no louder than the sound that went in; still, listen at a low level first: noise and crackle jump.",
    "A simulation of the stated axes, not of a product: listen to the real link before you rely on it.",
)
"""What is said beside every comparison."""

_WIDEST_HZ = 1_000_000  # a choice of ours: the work grows with the width
# C/N in dB: well above threshold, at the farthest point where nobody knows, and about the FM threshold (10 dB).
_NEAR_DB, _FAR_DB, _LIMIT_DB = 40.0, 25.0, 12.0
_MATERIALS = {SourceKind.SPEECH: Material.SPEECH, SourceKind.SINGING: Material.SUNG}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of companding that is compared: its name, what it does in words, and its chain."""

    name: str
    words: str
    chain: Chain


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """What came out of comparing the kinds of a radio type, and with what.

    `sound` is what the material is called, `file` the recording's name where it is one. `skipped` names kinds that
    state no ratio. `found` is None where somebody stopped it.
    """

    radio: str
    link: str | None
    sound: str
    file: str | None
    ready: Prepared
    seed: int
    kinds: tuple[Kind, ...]
    levels: tuple[RfLevel, ...]
    cases: tuple[Case, ...]
    found: Recommendation | None
    stopped: str
    skipped: tuple[str, ...] = ()
    tracks: tuple[Track, ...] = ()


def why_not(radio: RadioType) -> str | None:
    """Return why nothing of a radio type can be compared, or None."""
    if radio.emission is not Emission.FM:
        return f"{radio.id} is {radio.emission.value}: companding is simulated for FM in mono"
    if radio.bandwidth_hz > _WIDEST_HZ:
        return f"{radio.id} is {radio.bandwidth_hz / 1000:g} kHz wide: up to {_WIDEST_HZ / 1000:g} kHz are simulated"
    if not radio.companding:
        return f"{radio.id} states no kind of companding"
    if all(kind.ratio is None for kind in radio.companding):
        return f"no kind of companding of {radio.id} states its ratio"
    return None


def kinds_of(radio: RadioType, *, rate_hz: int) -> tuple[Kind, ...]:
    """Return the kinds of a radio type that state a ratio, in order; one without a name is called by its number."""
    found = []
    for number, kind in enumerate(radio.companding, start=1):
        if kind.ratio is None:
            continue
        name = kind.name or f"kind {number}"
        emphasis = radio.preemphasis_us if kind.preemphasis_us is None else kind.preemphasis_us
        chain = replace(chain_of(radio, kind, rate_hz=rate_hz), id=name)
        found.append(Kind(name=name, words=companding_words(kind, emphasis), chain=chain))
    return tuple(found)


def levels_for(cn_db: float | None, *, carrier_hz: int, walking: bool) -> tuple[RfLevel, ...]:
    """Return three RF levels: near, as far as the link goes, and near the limit of FM.

    Parameters
    ----------
    cn_db
        Carrier-to-noise ratio at the farthest point, where that is known; 25 dB otherwise.
    carrier_hz
        For fading, whose speed it sets.
    walking
        Whether the carrier fades at the farthest point as it does when somebody walks without line of sight.
    """
    doppler_hz = WALKING_M_PER_S / wavelength_m(carrier_hz) if walking else None
    far_db = _FAR_DB if cn_db is None else cn_db
    return (
        RfLevel(name="near", cn_db=max(_NEAR_DB, far_db)),
        RfLevel(name="far", cn_db=far_db, doppler_hz=doppler_hz),
        RfLevel(name="limit", cn_db=_LIMIT_DB),
    )


def material_for(kind: SourceKind | None) -> Material:
    """Return the sound that is most like a source: sung for singing, speech for everything else."""
    return Material.SPEECH if kind is None else _MATERIALS.get(kind, Material.SPEECH)
