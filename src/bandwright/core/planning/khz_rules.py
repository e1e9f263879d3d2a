"""Product clearances in kHz kept, relaxed or off where levels are predicted in their place.

Only receivers whose intercept point is stated are eased: where a level cannot be predicted, the rule in kHz is all that
guards the receiver. Carrier spacing, permits and what keeps off other users stay.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from bandwright.core.job import Job
from bandwright.core.kit import RadioType

__all__ = ["eased"]

_Clearances = tuple[tuple[str, int], ...]

_EASED: Mapping[str, Callable[[_Clearances], _Clearances]] = {
    "kept": lambda asked: asked,
    "relaxed": lambda asked: tuple((family, -(-hz // 2)) for family, hz in asked),
    "off": lambda asked: (),
}


def eased(job: Job) -> Job:
    """Return the job with the clearances that its wishes leave.

    Halves are rounded up to whole Hz, so that "not coincident" (1 Hz) stays.
    """
    if job.wishes.khz_rules == "kept":
        return job
    links = tuple(replace(link, radio=_radio(link.radio, job.wishes.khz_rules)) for link in job.links)
    radios = tuple(_radio(radio, job.wishes.khz_rules) for radio in job.radios)
    return replace(job, radios=radios, links=links)


def _radio(radio: RadioType, khz_rules: str) -> RadioType:
    if radio.iip3_dbm is None:
        return radio
    return replace(radio, clearance_hz=_EASED[khz_rules](radio.clearance_hz))
