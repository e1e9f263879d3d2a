"""Whether suspected products are strong enough to be heard beside the noise of the receiver itself."""

from __future__ import annotations

from collections.abc import Sequence

from bandwright.core.kit import RadioType
from bandwright.core.planning.plan import Warn
from bandwright.core.reach.switch_off import Suspect
from bandwright.core.receiver import bearable

__all__ = ["under_noise"]


def under_noise(radio: RadioType, suspects: Sequence[Suspect]) -> Warn | None:
    """Return that no product reaches what the receiver can bear; None where one does, or something is not known."""
    own = bearable(radio)
    levels = [suspect.level_dbm for suspect in suspects if suspect.level_dbm is not None]
    if own is None or not levels or len(levels) < len(suspects) or max(levels) >= own.level_dbm:
        return None
    text = (
        f"None of these products is predicted at {own.level_dbm:.0f} dBm or more ({own.grounds}); the strongest stays "
        f"{own.level_dbm - max(levels):.0f} dB below. Look first for a carrier of somebody else: a sweep with own "
        "transmitters off shows it."
    )
    return Warn(code="products-under-noise", text=text)
