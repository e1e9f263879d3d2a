"""An invented brief with antennas, runs and distances, for tests of reach."""

REACH = """\
[job]
title = "Lantern Quay"
dates = [2027-05-14]

[[place]]
id = "quay"

[[permit]]
id = "shared"
state = "granted"
windows_mhz = [[606.5, 613.5]]
max_power = { bodyworn_mw = 50, handheld_mw = 10, kind = "erp" }

[[radio]]
id = "heron"
name = "Heron (invented)"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
power_mw = [10, 50]
power_kind = "erp"
peak_deviation_khz = 50
noise_figure_db = 8
needs_cn_db = 20
iip3_dbm = -5
diversity = "selection"

[[radio]]
id = "siskin"
name = "Siskin (invented)"
direction = "to-person"
tuning = [{ low_mhz = 606.1, high_mhz = 669.9, step_khz = 25 }]
emission = "fm-stereo"
bandwidth_khz = 200
spacing_khz = 500
power_mw = [50]
power_kind = "conducted"
sensitivity_dbm = -85

[[unit]]
id = "R1"
radio = "heron"
rack = "A"

[[antenna]]
id = "east"
gain_dbi = 6
at_m = [0, 0]

[[antenna]]
id = "west"
gain_dbi = 6
at_m = [2, 0]

[[antenna]]
id = "ears"
gain_dbi = 4

[[run]]
id = "east-run"
antenna = "east"
feeds = "A"
parts = [{ what = "cable", length_m = 8, loss_db = 4.1 }, { what = "splitter", ways = 4 }]

[[run]]
id = "west-run"
antenna = "west"
feeds = "R1"
parts = [{ what = "cable", type = "rg-58", length_m = 8 }, { what = "splitter", ways = 4 }]

[[run]]
id = "ears-run"
antenna = "ears"
feeds = "E01"
parts = [{ what = "pad", loss_db = 3 }]

[[link]]
id = "L01"
name = "Mara"
radio = "heron"
hold_mhz = 606.7
unit = "R1"
distance_m = 35

[[link]]
id = "E01"
radio = "siskin"
hold_mhz = 608
distance_m = 20
body_loss_db = 10
"""
