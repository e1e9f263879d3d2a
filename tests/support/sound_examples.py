"""Parts of briefs about sound, invented."""

HEAD = """
[job]
title = "Lantern Quay"
[[place]]
id = "quay"
temperature_c = 20
[[permit]]
id = "shared"
state = "granted"
windows_mhz = [[606.5, 613.5]]
"""
HERON = """
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606.5, high_mhz = 613.5, step_khz = 25 }]
defaults = "analogue-fm-wide"
companding = [
  { name = "full", ratio = 2, detector = "rms", preemphasis_us = 50, ultrasonic_filter_khz = 17 },
  { name = "flat", ratio = 1, preemphasis_us = 50 },
]
[radio.audio]
input_full_dbu = -26
input_most_dbu = 0
input_noise_dbu = -118
gains = { low_db = -24, high_db = 36, step_db = 3 }
gives = "bias"
noise_db = 108
latency_ms = 0.3
inverts = false
outputs = [
  { name = "line", what = "line", full_dbu = 18, gains = { low_db = -40, high_db = 0, step_db = 1 }, balanced = true },
  { name = "mic", what = "mic", full_dbu = -22, balanced = true },
]
"""
OSPREY = """
[[radio]]
id = "osprey"
tuning = [{ low_mhz = 606.5, high_mhz = 613.5, step_khz = 25 }]
defaults = "digital"
[radio.audio]
input_full_dbu = -16
input_noise_dbu = -120
gains = { low_db = -12, high_db = 30, step_db = 6 }
gives = "bias"
noise_db = 115
latency_ms = 3
inverts = false
outputs = [{ name = "AES", what = "aes3", full_dbfs = 0 }]
"""
VOICE = """
[[microphone]]
id = "lav"
sensitivity_mv_per_pa = 20
self_noise_db = 26
most_db_spl = 130
needs = "bias"
inverts = false
[[source]]
id = "voice"
what = "speech"
quietest = "normal"
loudest = "shout"
peaks_db = 15
one = true
"""
L01 = """
[[link]]
id = "L01"
name = "Mara"
radio = "heron"
source = "voice"
microphone = "lav"
from_source_m = 0.2
"""
L02 = """
[[link]]
id = "L02"
name = "Mara again"
radio = "osprey"
source = "voice"
microphone = "lav"
from_source_m = 0.3
"""
RECORDER = """
[[feed]]
id = "recorder"
for = ["L01"]
output = "line"
input = "line"
reference = "smpte-rp155"
full_scale_dbu = 24
trims = { low_db = -6, high_db = 30, step_db = 1 }
latency_ms = 0
inverts = false
device = "mixer"
noise_dbu = -110
"""
AES = """
[[feed]]
id = "aes"
for = ["L02"]
input = "aes3"
reference = "smpte-rp155"
latency_ms = 0
inverts = false
device = "mixer"
clock = "mixer"
"""
WHOLE = HEAD + HERON + OSPREY + VOICE + L01 + L02 + RECORDER + AES
EARS = """
[[radio]]
id = "wren"
direction = "to-person"
tuning = [{ low_mhz = 606.5, high_mhz = 613.5, step_khz = 25 }]
defaults = "in-ear-fm"
companding = [{ ratio = 2, preemphasis_us = 50, ultrasonic_filter_khz = 17 }]
[radio.audio]
input_full_dbu = 12
noise_db = 90
latency_ms = 0.5
outputs = [{ what = "phones", full_dbu = 4 }]
[[source]]
id = "mix"
what = "programme"
quietest_dbu = -20
loudest_dbu = 0
peaks_db = 6
[[link]]
id = "E01"
radio = "wren"
source = "mix"
wearer = "mara"
[[feed]]
id = "ears"
for = ["E01"]
input = "phones"
earpiece = { db_spl_per_mw = 110, ohm = 32 }
limiter_db = -15
hours = 3
"""
