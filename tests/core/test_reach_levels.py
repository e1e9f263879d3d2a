"""Carrier to interference at receivers, held against plain enumeration."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from bandwright.core.reach.intermod import fifth_order_dbm, product_rms_hz, third_order_dbm
from bandwright.core.reach.levels import LevelModel, Made, interference
from bandwright.core.reach.levels_rows import level_dbm_of, pairs_of, rows_of, values_in_pictures, weakened
from bandwright.core.reach.receiver_front import FrontEnd, FrontStage

_DEEP_DB = 70.0  # below it the edges of spectra are cut off, and fifth order is passed over


def front(iip3_dbm, *, selectivity=(), hz=600_000_000):
    receiver = FrontStage(
        name="receiver", iip3_dbm=iip3_dbm, clips_dbm=None, clips_stated=False, filters=(), selectivity=selectivity
    )
    return FrontEnd(
        carrier_hz=hz,
        iip3_dbm=iip3_dbm,
        p1db_dbm=None,
        passband_hz=None,
        selectivity=selectivity,
        clips_first=None,
        stages=(receiver,),
    )


def model(level_dbm, *, iip3_dbm=0.0, made_db=math.inf, fronts=None, **changed):
    size = len(level_dbm)
    facts = {
        "level_dbm": np.array(level_dbm, float).reshape(size, size),
        "fronts": (front(iip3_dbm),) * size if fronts is None else fronts,
        "iip5_dbm": np.full(size, math.nan),
        "made_db": np.broadcast_to(np.asarray(made_db, float), (size, size)).copy(),
        "rms_hz": np.full(size, 24_000.0),
        "bandwidth_hz": np.full(size, 200_000.0),
        "victim": np.ones(size, np.bool_),
        "makes": np.ones(size, np.bool_),
    }
    return LevelModel(**{**facts, **changed})


def _share(offset_hz, rms_hz, half_hz):
    def below(x):
        return 0.5 * (1 + math.erf(x / rms_hz / math.sqrt(2)))

    return below(half_hz - offset_hz) - below(-half_hz - offset_hz)


def _ratios_by_enumeration(m, f):
    """Return carrier to interference of every victim, each product written out by the published equations."""
    on = [i for i, hz in enumerate(f) if hz >= 0]
    found = {}
    for v in (i for i in on if m.victim[i]):
        level, total = m.level_dbm[v], 0.0
        iip3 = math.inf if m.fronts[v] is None else m.fronts[v].iip3_dbm
        iip5 = math.inf if math.isnan(m.iip5_dbm[v]) else m.iip5_dbm[v]
        landed = [(f[a], level[a], m.rms_hz[a]) for a in on if a != v]
        for size in (2, 3):
            for who in itertools.permutations(on, size):
                tones, rms, hz = [level[i] for i in who], [m.rms_hz[i] for i in who], [f[i] for i in who]
                if size == 2:
                    a, b = who
                    two, three = product_rms_hz("2A-B", rms), product_rms_hz("3A-2B", rms)
                    landed.append((2 * hz[0] - hz[1], third_order_dbm("2A-B", tones, iip3_dbm=iip3), two))
                    landed.append((2 * hz[0] - hz[1], level[a] - m.made_db[a, b], two))
                    landed.append((3 * hz[0] - 2 * hz[1], fifth_order_dbm("3A-2B", tones, iip5_dbm=iip5), three))
                    continue
                a, b, c = who
                if a < b and v not in (a, b):
                    dbm = third_order_dbm("A+B-C", tones, iip3_dbm=iip3)
                    landed.append((hz[0] + hz[1] - hz[2], dbm, product_rms_hz("A+B-C", rms)))
                if v != b:
                    dbm = fifth_order_dbm("2A+B-2C", tones, iip5_dbm=iip5)
                    landed.append((2 * hz[0] + hz[1] - 2 * hz[2], dbm, product_rms_hz("2A+B-2C", rms)))
                if b < c:
                    dbm = fifth_order_dbm("3A-B-C", tones, iip5_dbm=iip5)
                    landed.append((3 * hz[0] - hz[1] - hz[2], dbm, product_rms_hz("3A-B-C", rms)))
        for hz, dbm, rms in landed:
            total += 10 ** (dbm / 10) * _share(hz - f[v], rms, m.bandwidth_hz[v] / 2)
        found[v] = level[v] - 10 * math.log10(total) if total > 0 else math.inf
    return found


def _random_case(random):
    size = int(random.integers(0, 9))
    f = 600_000_000 + 25_000 * random.integers(0, 160, size) + 6_250 * random.integers(0, 3, size)
    f[random.random(size) < 0.1] = -1
    level = random.uniform(-70, -10, (size, size))
    level[(random.random((size, size)) < 0.1) & ~np.eye(size, dtype=bool)] = -math.inf
    m = model(
        level,
        fronts=tuple(front(dbm) if dbm > -8 else None for dbm in random.uniform(-10, 20, size)),
        iip5_dbm=np.where(random.random(size) < 0.2, math.nan, random.uniform(-5, 10, size)),
        made_db=np.where(random.random((size, size)) < 0.3, math.inf, random.uniform(30, 90, (size, size))),
        rms_hz=random.choice([20e3, 30e3, 57_735.0], size),
        bandwidth_hz=random.choice([200e3, 100e3], size),
        victim=random.random(size) < 0.9,
    )
    return m, f


def test_small_random_stages_agree_with_plain_enumeration(authority):
    random, worst = np.random.default_rng(3), 0.0
    for _ in range(60):
        m, f = _random_case(random)
        ours = {item.victim: item.ratio_db for item in interference(m, f)}
        theirs = _ratios_by_enumeration(m, f)
        assert ours.keys() == theirs.keys()
        for victim, ratio in theirs.items():
            if ratio < _DEEP_DB:
                worst = max(worst, abs(ours[victim] - ratio))
            else:
                assert ours[victim] >= _DEEP_DB - 1
    authority(
        "Carrier to interference of 60 random stages, largest difference in dB",
        source="every product written out (itertools), error function of the Python library",
        ours=worst,
        theirs=0.0,
        tolerance=0.1,
        kind="arithmetic",
    )


def test_rows_add_up_to_what_was_found():
    random = np.random.default_rng(8)
    for _ in range(20):
        m, f = _random_case(random)
        rows = rows_of(m, f)
        for item in interference(m, f):
            total = rows.value_mw[rows.victim == item.victim].sum()
            assert total == pytest.approx(10 ** (item.interference_dbm / 10) if item.strongest else 0.0, rel=1e-6)
            if item.strongest:
                most = max((rows.product(row) for row in np.flatnonzero(rows.victim == item.victim)),
                           key=lambda product: product.level_dbm)  # fmt: skip
                assert most.level_dbm == pytest.approx(item.strongest.level_dbm, abs=1e-6)


def test_in_overload_a_product_stays_a_third_of_the_strongest_tone_that_filters_let_through():
    # 2A-B of two tones at +10 dBm with an intercept point of -10 dBm: by the power law 3 x 10 + 20 = 50 dBm.
    f = [600_000_000, 602_000_000, 604_000_000]
    level = np.full((3, 3), 10.0)
    inside = 10 * math.log10(_share(0, math.sqrt(5) * 24_000, 100_000))
    first = interference(model(level, iip3_dbm=-10.0), f)[0]
    assert first.strongest.level_dbm == pytest.approx(10 - 9.542 + inside, abs=0.01)
    assert first.ratio_db == pytest.approx(9.542 - inside, abs=0.1)
    # Filters that take 20 dB from A and 25 dB from B leave A at -10 dBm, still as strong as the intercept point.
    narrow = (front(-10.0, selectivity=((2_000_000, 20.0), (4_000_000, 25.0))),) * 3
    filtered = interference(model(level, fronts=narrow), f)[0]
    assert filtered.strongest.level_dbm == pytest.approx(-10 - 9.542 + inside, abs=0.01)


def test_fifth_order_in_overload_stays_a_fifth_of_the_strongest_tone():
    # 3A-2B lands on the first: 3 x 602 - 2 x 603 = 600 MHz.
    f = [600_000_000, 602_000_000, 603_000_000]
    m = model(np.full((3, 3), 10.0), iip3_dbm=300.0, iip5_dbm=np.full(3, -10.0))
    inside = 10 * math.log10(_share(0, math.sqrt(13) * 24_000, 100_000))
    assert interference(m, f)[0].strongest.level_dbm == pytest.approx(10 - 13.979 + inside, abs=0.01)


def test_a_picture_with_the_levels_of_the_model_comes_to_the_same_also_in_overload():
    random, bound = np.random.default_rng(9), 0
    for _ in range(20):
        m, f = _random_case(random)
        m = replace(m, level_dbm=m.level_dbm + 25.0)
        rows = rows_of(m, f)
        air = np.where(np.isneginf(m.level_dbm), 0.0, 10 ** (m.level_dbm / 10))
        pairs, _ = pairs_of(rows)
        made = 10 ** (-m.made_db[pairs[:, 0], pairs[:, 1]] / 10)
        site = np.arange(m.size, dtype=np.int64)
        (total,) = values_in_pictures(rows, weakened(rows, np.zeros((m.size, m.size))), site, air[None], made[None])
        for item in interference(m, f):
            expected = 10 ** (item.interference_dbm / 10) if item.strongest else 0.0
            assert total[item.victim] == pytest.approx(expected, rel=1e-6)
            bound += item.strongest is not None and item.ratio_db < 0
    assert bound > 10


def test_a_product_on_a_carrier_is_named_with_its_level():
    f = [600_000_000, 601_000_000, 603_000_000, 602_000_000]
    found = interference(model(np.full((4, 4), -40.0)), f)
    first = found[0]
    assert first.strongest is not None
    assert (first.strongest.family, first.strongest.made) == ("A+B-C", Made.RECEIVER)
    assert first.strongest.members in {(1, 3, 2)}
    # 6.02 dB over 3 x -40 dBm, of which nearly all falls into 200 kHz: 2.4 rms widths of sqrt 3 x 24 kHz at each side.
    inside = 10 * math.log10(_share(0, math.sqrt(3) * 24_000, 100_000))
    assert first.strongest.level_dbm == pytest.approx(-120 + 6.02 + inside, abs=0.01)


def test_two_carriers_on_one_frequency_interfere_in_full():
    level = [[-50.0, -60.0], [-60.0, -50.0]]
    for item in interference(model(level, fronts=(None, None)), [600_000_000, 600_000_000]):
        assert item.ratio_db == pytest.approx(10, abs=0.01)
        assert (item.strongest.family, item.strongest.made) == (None, Made.SENT)


def test_selectivity_lowers_a_product_by_its_tones():
    # Both tones 20 dB down lower 2A-B by 60 dB, as 1.5 S more intercept point says.
    f, level = [600_000_000, 602_000_000, 604_000_000], np.full((3, 3), -30.0)
    plain = interference(model(level), f)[0]
    narrow = (front(0.0, selectivity=((2_000_000, 20.0), (4_000_000, 20.0))),) * 3
    filtered = interference(model(level, fronts=narrow), f)[0]
    assert plain.strongest.family == filtered.strongest.family == "2A-B"
    assert filtered.ratio_db - plain.ratio_db == pytest.approx(60, abs=0.01)


def test_a_pack_beside_another_makes_a_product_at_third_receivers():
    made = np.full((3, 3), math.inf)
    made[1, 2] = 40.0
    f = [600_000_000, 601_000_000, 602_000_000]
    item = interference(model(np.full((3, 3), -50.0), fronts=(None,) * 3, made_db=made), f)[0]
    assert (item.strongest.made, item.strongest.members) == (Made.TRANSMITTER, (1, 2))
    assert item.ratio_db == pytest.approx(40, abs=0.5)


def test_whoever_makes_no_products_still_interferes_as_a_carrier():
    f = [600_000_000, 601_000_000, 602_000_000]
    quiet = model(np.full((3, 3), -40.0), makes=np.array([True, True, False]))
    assert interference(quiet, f)[0].ratio_db == math.inf
    assert interference(quiet, [600_000_000, 601_000_000, 600_000_000])[0].ratio_db < 1


@pytest.mark.parametrize("f", [[], [-1, -1, -1]])
def test_nobody_on_the_air_means_nothing_to_tell(f):
    assert interference(model(np.full((len(f), len(f)), -40.0)), f) == ()


@pytest.mark.parametrize("dbm", [-1e9, -400.0, 200.0, 1e9])
def test_extreme_levels_stay_numbers(dbm):
    for item in interference(model(np.full((3, 3), dbm), iip3_dbm=-dbm), [600_000_000, 601_000_000, 602_000_000]):
        assert not math.isnan(item.ratio_db)


def test_levels_that_are_no_numbers_are_refused():
    with pytest.raises(ValueError, match="level_dbm is a matrix over all 2 members without NaN"):
        model([[math.nan, -40.0], [-40.0, -40.0]])
    with pytest.raises(ValueError, match="rms_hz holds a width of 0 Hz or more for each of 2 members"):
        model(np.full((2, 2), -40.0), rms_hz=np.array([1.0, math.inf]))
    with pytest.raises(ValueError, match="there is one carrier for each of 2 members; given 1"):
        interference(model(np.full((2, 2), -40.0)), [600_000_000])


def test_the_level_of_one_product_is_that_of_its_equation_however_it_is_written():
    f = [600_000_000, 601_000_000, 603_000_000, 602_000_000]
    m = model([[-30.0, -35.0, -40.0, -45.0]] * 4, iip5_dbm=np.zeros(4), made_db=60.0)
    rows = rows_of(m, f)
    # 601 + 602 - 603 = 600 and 2 x 601 - 602 = 600 MHz, each centred on the first receiver.
    inside_three, inside_two = (
        10 * math.log10(_share(0, math.sqrt(variance) * 24_000, 100_000)) for variance in (3, 5)
    )
    three = third_order_dbm("A+B-C", [-35, -45, -40], iip3_dbm=0) + inside_three
    two = (
        10 * math.log10(10 ** (third_order_dbm("2A-B", [-35, -45], iip3_dbm=0) / 10) + 10 ** (-95.0 / 10)) + inside_two
    )
    assert level_dbm_of(rows, 0, "A+B-C", [1, 3, 2]) == pytest.approx(three, abs=0.01)
    assert level_dbm_of(rows, 0, "A+B-C", [3, 1, 2]) == pytest.approx(three, abs=0.01)
    assert level_dbm_of(rows, 0, "2A-B", [1, 3]) == pytest.approx(two, abs=0.01)
    assert level_dbm_of(rows, 0, "2A-B", [3, 1]) is None
