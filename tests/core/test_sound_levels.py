"""Levels, times of sound and exposure, against definitions and published figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bandwright.core.audio import SourceKind
from bandwright.core.kit import Worn
from bandwright.core.sound.hearing import daily_exposure_db, hours_allowed
from bandwright.core.sound.levels import (
    dbu,
    dbv_from_dbu,
    level_at_db_spl,
    microphone_db_spl,
    microphone_dbu,
    power_sum_db,
    sound_speed_m_per_s,
    thermal_noise_dbu,
    volts,
)
from bandwright.core.sound.timing import air_time_ms, comb_notches_hz
from bandwright.reference import sound_tables


def test_levels_in_dbu_and_dbv_are_those_of_their_definitions(authority):
    source = "definition: 0 dBu is 1 mW in 600 ohm, 0 dBV is 1 V"
    authority("+4 dBu in volts", source=source, ours=volts(4), theirs=1.22765, tolerance=1e-5, kind="arithmetic")
    authority("0 dBu in volts", source=source, ours=volts(0), theirs=math.sqrt(0.6), tolerance=1e-12, kind="arithmetic")
    authority("-10 dBV in dBu", source=source, ours=dbu(10**-0.5), theirs=-7.78, tolerance=0.005, kind="arithmetic")
    assert dbv_from_dbu(dbu(1.0)) == pytest.approx(0)


@pytest.mark.parametrize(
    ("name", "tone_dbu", "full_v", "source"),
    [("ebu-r68", 0.0, 6.153, "EBU R68-2000"), ("smpte-rp155", 4.0, 12.277, "SMPTE RP 155")],
)
def test_alignments_put_full_scale_where_the_standards_do(authority, name, tone_dbu, full_v, source):
    alignment = sound_tables().alignment(name)
    assert alignment.line_dbu == tone_dbu
    full_dbu = tone_dbu - alignment.level_dbfs
    authority(f"0 dBFS by {name}, volts", source=source, ours=volts(full_dbu), theirs=full_v, tolerance=0.001)


def test_a_microphone_gives_what_its_sensitivity_says(authority):
    source = "definition: 1 Pa is 93.979 dB SPL; 20 mV/Pa is -33.98 dBV"
    at_1_pa = microphone_dbu(20 * math.log10(1 / 20e-6), sensitivity_mv_per_pa=20)
    ours = dbv_from_dbu(at_1_pa)
    authority("20 mV/Pa at 1 Pa, dBV", source=source, ours=ours, theirs=-33.98, tolerance=0.005, kind="arithmetic")
    loud = microphone_dbu(120, sensitivity_mv_per_pa=20)
    ours = volts(loud)
    authority("20 mV/Pa at 120 dB SPL, volts", source=source, ours=ours, theirs=0.4, tolerance=0.001, kind="arithmetic")
    assert microphone_db_spl(loud, sensitivity_mv_per_pa=20) == pytest.approx(120)


@pytest.mark.parametrize(("ohm", "theirs"), [(150, -130.96), (200, -129.72)])
def test_thermal_noise_of_a_microphone(authority, ohm, theirs):
    ours = thermal_noise_dbu(resistance_ohm=ohm)
    source = "Nyquist 1928, V = sqrt(4 k T B R), 290 K, 20 kHz, by hand"
    what = f"Thermal noise of {ohm} ohm, dBu"
    authority(what, source=source, ours=ours, theirs=theirs, tolerance=0.005, kind="arithmetic")


@pytest.mark.parametrize(("effort", "theirs"), [("normal", 62.35), ("raised", 68.34), ("loud", 74.85), ("shout", 82.3)])
def test_speech_is_as_loud_as_the_standard_says(authority, effort, theirs):
    level = sound_tables().effort(effort).level_db_spl
    source = "ANSI S3.5-1997, overall level at 1 m, as an open library transcribes it"
    authority(f"Speech, {effort}, dB SPL", source=source, ours=level, theirs=theirs, tolerance=0.005)
    nearer = level_at_db_spl(level, stated_at_m=1, at_m=0.3) - theirs
    what = f"The same at 0.3 m ({effort})"
    authority(what, source="1/r law", ours=nearer, theirs=10.46, tolerance=0.005, kind="arithmetic")


@pytest.mark.parametrize(("celsius", "theirs"), [(0, 331.29), (20, 343.2), (30, 349.0)])
def test_sound_is_as_fast_as_the_standard_says(authority, celsius, theirs):
    ours = sound_speed_m_per_s(celsius)
    authority(f"Speed of sound at {celsius} C", source="ISO 9613-1", ours=ours, theirs=theirs, tolerance=0.01)


def test_a_metre_takes_a_little_under_3_ms(authority):
    ours = air_time_ms(1, temperature_c=20)
    authority("A metre of air at 20 C, ms", source="ISO 9613-1", ours=ours, theirs=2.914, tolerance=0.001)


def test_notches_lie_where_a_sum_of_two_tones_vanishes(authority):
    first, second = comb_notches_hz(1 / 343.2, count=2)
    source = "|1 + exp(-j 2 pi f t)| = 0"
    authority("First comb notch of 1 m", source=source, ours=first, theirs=171.6, tolerance=0.05, kind="arithmetic")
    authority("Second comb notch of 1 m", source=source, ours=second, theirs=514.8, tolerance=0.05, kind="arithmetic")
    for notch_hz in comb_notches_hz(0.003, count=20):
        assert abs(1 + np.exp(-2j * np.pi * notch_hz * 0.003)) < 1e-9
    assert comb_notches_hz(20e-6) == ()  # the first one lies at 25 kHz


def test_noises_add_by_power():
    generator = np.random.default_rng(5)
    one, two = generator.normal(size=200_000), 0.5 * generator.normal(size=200_000)
    found = power_sum_db([0.0, 20 * math.log10(0.5), None])
    assert found == pytest.approx(10 * math.log10(np.mean((one + two) ** 2)), abs=0.03)
    assert power_sum_db([]) is None


@pytest.mark.parametrize(("level", "theirs"), [(85, 8.0), (88, 4.0), (94, 1.0), (100, 0.25), (115, 0.0078125)])
def test_exposure_halves_for_each_3_db(authority, level, theirs):
    ours = hours_allowed(level, over_8h_db=85)
    source = "equal energy, 85 dB over 8 h, 3 dB exchange (ISO 1999; Directive 2003/10/EC)"
    what = f"Hours a day at {level} dB"
    authority(what, source=source, ours=ours, theirs=theirs, tolerance=1e-9, kind="arithmetic")
    # By equal energy, as the exposure level is defined: 10 lg(T / 8 h) and not 3 dB exactly.
    assert daily_exposure_db(level, hours=theirs) == pytest.approx(85, abs=0.11)


def test_quiet_may_last_all_day():
    assert hours_allowed(60, over_8h_db=85) == 24


def test_tables_know_every_kind_of_source_and_name_their_sources():
    tables = sound_tables()
    assert [tables.peaks_over(kind).kind for kind in SourceKind] == list(SourceKind)
    assert tables.near(Worn.RACK) is None
    assert all(row.source for rows in (tables.efforts, tables.alignments, tables.exposure) for row in rows)
    assert [(one.over_8h_db, one.peak_db) for one in tables.exposure] == [(80, 135), (85, 137), (87, 140)]
