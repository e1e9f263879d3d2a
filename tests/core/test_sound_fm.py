"""The simulated FM link gives what textbooks say of FM, without any of their formulas in it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from bandwright.core.sound.filters import emphasis
from bandwright.core.sound.fm import FmLink, fading_gain, through_fm

RATE_HZ = 96_000
BROADCAST = FmLink(deviation_hz=75e3, bandwidth_hz=180e3, rate_hz=RATE_HZ)


def power(signal, *, up_to_hz, rate_hz=RATE_HZ):
    """Mean square below a frequency, by the Fourier sum of the whole."""
    spectrum = np.abs(np.fft.rfft(signal)) ** 2
    hz = np.fft.rfftfreq(len(signal), 1 / rate_hz)
    return 2 * spectrum[(hz > 0) & (hz <= up_to_hz)].sum() / len(signal) ** 2


def noise(link, cn_db, *, seconds=2.0, seed=1):
    silence = np.zeros(round(seconds * link.rate_hz))
    return through_fm(silence, link, cn_db=cn_db, random=np.random.default_rng(seed))


def tone(hz, *, seconds=0.5, peak=1.0, rate_hz=RATE_HZ):
    return peak * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate_hz)) / rate_hz)


def test_signal_to_noise_above_threshold_is_that_of_the_textbooks(authority, authority_table):
    table = authority_table("sound_noise")["fm"]
    for deviation_hz, audio_hz, bandwidth_hz, gain_db in table["rows_deviation_audio_bandwidth_hz_db"]:
        link = FmLink(deviation_hz=deviation_hz, bandwidth_hz=bandwidth_hz, rate_hz=RATE_HZ)
        found = 0.5 / power(noise(link, 20.0), up_to_hz=audio_hz)
        # 60000 degrees of freedom scatter by 0.03 dB, the receiver's filter is 0.05 dB off at 15 kHz
        authority(
            "Signal to noise of simulated FM over CNR",
            source=table["source"],
            ours=10 * math.log10(found) - 20,
            theirs=gain_db,
            tolerance=0.15,
            unit="dB",
        )


def test_deemphasis_lowers_simulated_noise_as_the_textbooks_say(authority, authority_table):
    table = authority_table("sound_noise")["deemphasis"]
    plain = noise(BROADCAST, 20.0)
    for time_constant_us, audio_hz, gain_db in table["rows_us_audio_hz_db"]:
        heard = emphasis(time_constant_s=time_constant_us / 1e6, rate_hz=RATE_HZ).undone(plain)
        gain = power(plain, up_to_hz=audio_hz) / power(heard, up_to_hz=audio_hz)
        authority(
            "De-emphasis of simulated FM noise",
            source=table["source"],
            ours=10 * math.log10(gain),
            theirs=gain_db,
            tolerance=0.15,
            unit="dB",
        )


def test_the_threshold_is_near_10_db(authority, authority_table):
    table = authority_table("sound_noise")["fm"]
    full = tone(1_000, seconds=2.0)
    clean = through_fm(full, BROADCAST, cn_db=None, random=np.random.default_rng(1))

    def lost_db(cn_db):
        heard = through_fm(full, BROADCAST, cn_db=cn_db, random=np.random.default_rng(1))
        return 26.53 + cn_db - 10 * math.log10(0.5 / power(heard - clean, up_to_hz=15_000))

    cn_db = np.arange(8.0, 14.0)
    lost = np.array([lost_db(value) for value in cn_db])
    threshold_db = float(np.interp(-1.0, -lost, cn_db))  # where 1 dB is lost
    authority(
        "Threshold of simulated FM, where 1 dB is lost with full modulation",
        source=table["source"],
        ours=threshold_db,
        theirs=table["threshold_cn_db"],
        tolerance=1.5,
        unit="dB",
    )
    assert lost[0] > 5  # and it goes down fast from there


def test_clicks_come_as_often_as_rice_says(authority, authority_table):
    table = authority_table("sound_noise")["clicks"]
    link = FmLink(deviation_hz=75e3, bandwidth_hz=table["bandwidth_hz"], rate_hz=RATE_HZ, audio_hz=1_000)
    for cn_db, per_s in table["rows_cn_db_per_s"][:2]:
        turns = np.cumsum(noise(link, cn_db, seconds=12.0)) * link.deviation_hz / RATE_HZ
        # Each click turns the phase once, either way: a random walk whose variance grows by the rate of clicks.
        every = RATE_HZ // 50
        found = np.var(np.diff(turns[::every])) * 50
        authority(
            f"Clicks of simulated FM at {cn_db} dB",
            source=table["source"],
            ours=found,
            theirs=per_s,
            tolerance=0.15 * per_s,
            kind="memory",
            unit="1/s",
        )


def test_without_noise_the_sound_comes_back():
    sound = tone(1_000, peak=0.9) * np.hanning(RATE_HZ // 2)
    heard = through_fm(sound, BROADCAST, cn_db=None, random=np.random.default_rng(1))
    assert len(heard) == len(sound)
    assert 10 * math.log10(np.mean((heard - sound) ** 2) / np.mean(sound**2)) < -70


def test_the_limiter_holds_the_deviation_and_leaves_no_aliases():
    loud = tone(7_000, peak=4.0)
    heard = through_fm(loud, BROADCAST, cn_db=None, random=np.random.default_rng(1))
    spectrum = np.abs(np.fft.rfft(heard[4_800:-4_800] * np.hanning(len(heard) - 9_600)))
    hz = np.fft.rfftfreq(len(heard) - 9_600, 1 / RATE_HZ)
    fundamental = spectrum[np.abs(hz - 7_000) < 50].max()
    other = spectrum[(np.abs(hz - 7_000) > 200) & (hz < 20_000)].max()
    # Odd harmonics lie at 21 kHz and above; clipped at 96 kHz, the 13th would fold to 5 kHz, 27 dB down.
    assert 20 * math.log10(other / fundamental) < -60
    assert abs(heard).max() < 1.35  # a limited square wave, low-passed


def test_noise_is_the_same_for_the_same_seed_and_does_not_depend_on_length():
    link = FmLink(deviation_hz=50e3, bandwidth_hz=200e3, rate_hz=48_000)
    one, again, other = (noise(link, 15.0, seconds=0.2, seed=seed) for seed in (1, 1, 2))
    longer = noise(link, 15.0, seconds=0.5, seed=1)
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)
    assert np.abs(longer[: len(one) - 500] - one[:-500]).max() < 1e-9


def test_a_narrow_receiver_and_one_sample_are_no_trouble():
    narrow = FmLink(deviation_hz=2_500, bandwidth_hz=12_500, rate_hz=48_000, audio_hz=3_400)
    sound = tone(800, peak=0.8, rate_hz=48_000, seconds=0.2) * np.hanning(9_600)
    heard = through_fm(sound, narrow, cn_db=None, random=np.random.default_rng(1))
    assert 10 * math.log10(np.mean((heard - sound) ** 2) / np.mean(sound**2)) < -40
    assert len(through_fm(sound[:1], narrow, cn_db=10.0, random=np.random.default_rng(1))) == 1


def test_a_carrier_fades_as_rayleigh_and_clarke_say(authority):
    gain = np.concatenate(
        [
            fading_gain(20 * 1_000, rate_hz=1_000, doppler_hz=10.0, random=np.random.default_rng(seed))
            for seed in range(40)
        ]
    ).reshape(40, -1)
    envelope = np.abs(gain) ** 2
    authority(
        "Chance of a simulated fade of 10 dB",
        source="Rayleigh: 1 - exp(-0.1)",
        ours=float(np.mean(envelope < 0.1)),
        theirs=1 - math.exp(-0.1),
        tolerance=0.01,
        kind="arithmetic",
    )
    for lag_s in (0.01, 0.03, 0.05):
        lag = round(lag_s * 1_000)
        ours = np.mean(gain[:, lag:] * np.conj(gain[:, :-lag])).real
        authority(
            f"Autocorrelation of simulated fading after {lag_s} s",
            source="Clarke's model: J0(2 pi f t), by scipy.special.j0",
            ours=float(ours),
            theirs=float(special.j0(2 * math.pi * 10 * lag_s)),
            tolerance=0.05,
            kind="library",
        )
    deep = np.sqrt(0.1)
    below = np.abs(gain) < deep
    crossings = np.count_nonzero(below[:, 1:] & ~below[:, :-1]) / (40 * 20)
    authority(
        "Simulated fades of 10 dB per second",
        source="Rice's level-crossing rate, sqrt(2 pi) f rho exp(-rho^2)",
        ours=crossings,
        theirs=math.sqrt(2 * math.pi) * 10 * deep * math.exp(-0.1),
        tolerance=0.5,
        kind="arithmetic",
        unit="1/s",
    )


def test_what_no_link_can_be_is_refused():
    with pytest.raises(ValueError, match="more than 0 Hz"):
        FmLink(deviation_hz=0, bandwidth_hz=200e3, rate_hz=RATE_HZ)


def test_whoever_listens_hears_of_progress_and_may_stop_it():
    told = []
    through_fm(np.zeros(RATE_HZ), BROADCAST, cn_db=10.0, random=np.random.default_rng(1), heard=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0

    def stop(_):
        raise KeyError("stop")

    with pytest.raises(KeyError):
        through_fm(np.zeros(RATE_HZ), BROADCAST, cn_db=10.0, random=np.random.default_rng(1), heard=stop)
