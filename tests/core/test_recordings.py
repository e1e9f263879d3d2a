"""The analysis on recordings made by others, against labels read by hand from their plots before it ever saw them."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from benchmarks.air_recordings import compared, labels

RECORDINGS = Path(os.environ.get("BANDWRIGHT_RECORDINGS", Path(__file__).parents[3] / "shared" / "sweeps"))

# Of what is labelled sure: as many may be missed, and as many carriers may stand where nothing is labelled. The wide
# survey has a kilohertz in every two megahertz, and man-made noise below 200 MHz.
ALLOWED = {
    "fm_band_50_sweeps_as_columns.csv": (0, 0),
    "fm_station_5min_rtl_power.csv": (1, 0),  # narrower than its station: there is no floor to stand above
    "rfi_survey_1-1000MHz.CSV": (3, 5),
    "rfi_survey_325-329MHz.CSV": (0, 0),
}


@pytest.mark.parametrize("label", labels(), ids=lambda label: label["file"])
def test_what_a_careful_eye_sees_in_a_recording_is_found_and_little_else(label, authority):
    path = RECORDINGS / label["file"]
    if not path.exists():
        pytest.skip(f"the recording {label['file']} is not here")
    missed, false = ALLOWED[label["file"]]
    found = compared(label, path)
    authority(
        f"Signals found in {label['file']}",
        source="labelled by hand from plots, tests/authorities/recordings_labelled.json",
        ours=len(found.found),
        theirs=len(label["sure"]),
        tolerance=missed,
        kind="common practice",
    )
    assert len(found.false) <= false, found.false
    assert found.quiet == label["quiet"]


def test_every_label_has_what_the_comparison_reads():
    for label in labels():
        assert label["low_mhz"] < label["high_mhz"]
        for one in (*label["sure"], *label["doubtful"]):
            assert one["tolerance_khz"] > 0
            assert label["low_mhz"] - 1 <= one["mhz"] <= label["high_mhz"] + 1
