"""Briefs for tests, and the library that they call on."""

from functools import cache

from bandwright.core.job import Job
from bandwright.core.library import Library
from bandwright.documents.brief import read_brief, read_kit
from bandwright.errors import Fault, InputError
from bandwright.reference import generic_classes, kit_files, rasters, reach_tables, rule_tables, sound_tables

FILE = "quay.toml"

# The sample that the brief was designed on.
SAMPLE = """\
bandwright = 1                     # version of this document

[job]
title = "Lantern Quay"             # an invented harbour production
dates = [2027-05-14, 2027-05-15]

[[place]]
id = "quay"
name = "Quay stage"
timezone = "Europe/Lisbon"
tv_raster = "region1"              # region1, americas, australia, japan
tv_closed = ["23", "26"]           # known multiplexes: whole TV channel closed (labels are strings: there is a 9A)

[[permit]]
id = "shared"
reference = "shared licence"
state = "granted"                  # applied, granted, exempt
windows_mhz = [[606.5, 613.5]]
max_bandwidth_khz = 200
max_power = { bodyworn_mw = 50, handheld_mw = 10, kind = "erp" }
# optional: place, valid = [{ start, end }], grid_khz, grid_anchor_mhz, inside = "carrier", closed_mhz

[[radio]]
id = "heron"
name = "Heron (invented)"
direction = "from-person"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]   # or presets = [{ label = "A1", mhz = 606.7 }]
emission = "fm"
bandwidth_khz = 200
power_mw = [10, 50]
power_kind = "erp"
spacing_khz = 350                  # or defaults = "analogue-fm-wide"
clearance_khz = { "2A-B" = 100, "A+B-C" = 50, "3A-2B" = 50 }

[[link]]
id = "L01"
name = "Mara"
radio = "heron"                    # a variant: "heron/narrow"
worn = "body"                      # body, hand, rack
# optional: count, hold_mhz, priority (higher first, default 0), earshot = ["main"], on_air = [{ start, end }], power_mw

[[other]]
id = "house-talkback"
name = "House talkback"
carrier_mhz = 611.3
bandwidth_khz = 12.5

[plan]
spares = { heron = 2 }
close_above_floor_db = 10
unmeasured = "avoid"               # avoid (used last), allow, close
seed = 1
time_limit_s = 10
"""

# Little more than the least that is a brief: something to add to.
SMALL = """\
[job]
title = "Small"
dates = [2027-05-14, 2027-05-15]
[[place]]
id = "quay"
timezone = "Europe/Lisbon"
[[permit]]
id = "shared"
state = "granted"
windows_mhz = [[606.5, 613.5]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
"""


@cache
def library() -> Library:
    """Return what is shipped."""
    classes = generic_classes()
    kit = tuple(radio for name, text in kit_files() for radio in read_kit(text, file=name, classes=classes))
    tables = {"rasters": rasters(), "rules": rule_tables(), "reach": reach_tables(), "sound": sound_tables()}
    return Library(classes=classes, kit=kit, **tables)


def job_of(text: str) -> Job:
    """Return the job of a brief."""
    return read_brief(text, file=FILE, library=library())


def faults_of(text: str) -> tuple[Fault, ...]:
    """Return everything that is wrong with a brief; nothing when it reads."""
    try:
        job_of(text)
    except InputError as error:
        return error.faults
    return ()


def changed(old: str, new: str, *, text: str = SAMPLE) -> str:
    """Return a brief with one piece of it replaced."""
    assert text.count(old) >= 1, old
    return text.replace(old, new, 1)
