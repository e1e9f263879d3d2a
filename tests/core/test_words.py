"""Plans in words."""

from datetime import date, datetime, timedelta, timezone

import pytest

from bandwright.core.planning.plan import Bound, BoundStatus, Closest, Noise, NoiseState
from bandwright.core.products import FAMILIES
from bandwright.core.when import TimeSpan
from bandwright.core.words import (
    CAUTIONS,
    bound_words,
    caution_words,
    closest_words,
    is_one_line,
    label_list,
    noise_words,
    on_air_words,
    one_line,
    power_words,
)


def closest(rule, *sources, family=None, offset_hz=375_000, required_hz=350_000):
    return Closest(
        rule=rule, family=family, sources=sources, product_hz=None, offset_hz=offset_hz, required_hz=required_hz
    )


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (closest("spacing", "L03"), "L03, 375 kHz away (asks 350)"),
        (
            closest("product", "L03", "L07", family="2A-B", offset_hz=112_500, required_hz=100_000),
            "2 x L03 - L07, 112.5 kHz away (asks 100)",
        ),
        (closest("other", "house"), "house, 375 kHz away (asks 350)"),
        (closest("tv", "23", required_hz=0), "TV channel 23, 375 kHz away (asks 0)"),
        (closest("permit", "shared", required_hz=0), "permit shared, 375 kHz away (asks 0)"),
        (closest("spacing"), "spacing, 375 kHz away (asks 350)"),
    ],
)
def test_the_closest_conflict_is_told_in_a_few_words(given, words):
    assert closest_words(given) == words


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("unmeasured", "not measured"),
        ("power-not-shown-to-be-within", "power not shown to be within the permit"),
        ("something-new", "something new"),
        ("level_margin", "level margin"),
    ],
)
def test_a_caution_code_is_read_as_words(code, words):
    assert caution_words(code) == words


@pytest.mark.parametrize(
    ("noise", "words"),
    [
        (Noise(state=NoiseState.QUIET, value=-98.4, unit="dBm"), "quiet to -98 dBm"),
        (Noise(state=NoiseState.NOISY, value=-71.0, unit="dBm"), "noisy: -71 dBm"),
        (Noise(state=NoiseState.UNMEASURED), "not measured"),
        (Noise(state=NoiseState.SHALLOW), "not deep enough"),
        (Noise(state=NoiseState.QUIET, value=3.0), "quiet to 3 dB"),
    ],
)
def test_noise_tells_state_and_level(noise, words):
    assert noise_words(noise) == words


@pytest.mark.parametrize(
    ("status", "upper", "words"),
    [
        (BoundStatus.PROVEN, 11, "11 links placed; no larger plan exists under these rules (proven: m)."),
        (BoundStatus.BOUNDED, 13, "11 links placed; within 2 of a bound of 13 (m)."),
        (BoundStatus.BOUNDED, None, "11 links placed; found, nothing is proven about more."),
        (BoundStatus.FOUND, None, "11 links placed; found, nothing is proven about more."),
    ],
)
def test_a_bound_says_how_sure_it_is(status, upper, words):
    assert bound_words(Bound(about="links placed", status=status, found=11, upper_bound=upper, method="m")) == words


@pytest.mark.parametrize(
    ("status", "found", "upper", "words"),
    [
        (BoundStatus.PROVEN, 11, 11, "(proven: every other link has no carrier open to it)."),
        (BoundStatus.PROVEN, 0, 0, "(proven: no link has a carrier open to it)."),
        (BoundStatus.BOUNDED, 11, 13, "a bound of 13 (so many links have a carrier open to them)."),
    ],
)
def test_open_candidates_are_said_in_plain_words(status, found, upper, words):
    bound = Bound(about="links placed", status=status, found=found, upper_bound=upper, method="open candidates")
    assert bound_words(bound).endswith(words)


def test_one_link_is_no_links():
    one = Bound(about="links placed", status=BoundStatus.FOUND, found=1, upper_bound=None, method="m")
    assert bound_words(one).startswith("1 link placed;")


def test_no_words_promise_what_nobody_can():
    said = " ".join(CAUTIONS).lower()
    assert "optimal" not in said
    assert "safe" not in said.split()


@pytest.mark.parametrize(("mw", "words"), [(50.0, "50 mW"), (0.5, "0.5 mW"), (2.5, "2.5 mW"), (1000.0, "1000 mW")])
def test_power_has_no_needless_zeros(mw, words):
    assert power_words(mw) == words


@pytest.mark.parametrize(
    ("labels", "words"),
    [
        (["21", "22", "23", "26"], "21–23, 26"),
        (["21", "22"], "21, 22"),
        (["9", "9A", "10"], "9, 9A, 10"),
        ([], ""),
    ],
)
def test_runs_of_three_tv_channels_are_joined(labels, words):
    assert label_list(labels) == words


DATES = (date(2027, 5, 31), date(2027, 6, 1))


def span(start, end):
    # Lisbon in summer is an hour ahead of UTC (tz database).
    zone = timezone(timedelta(hours=1))
    return TimeSpan(start=datetime(*start, tzinfo=zone), end=datetime(*end, tzinfo=zone))


@pytest.mark.parametrize(
    ("spans", "words"),
    [
        # The same hours on every date of the job: no date is needed.
        ([span((2027, 5, 31, 14), (2027, 5, 31, 23)), span((2027, 6, 1, 14), (2027, 6, 1, 23))], ("14:00–23:00",)),
        # On some dates only, or at other hours on each: the date stands there.
        ([span((2027, 6, 1, 14), (2027, 6, 1, 23, 30))], ("1 June 14:00–23:30",)),
        (
            [span((2027, 5, 31, 9), (2027, 5, 31, 10)), span((2027, 6, 1, 8), (2027, 6, 1, 10))],
            ("31 May 09:00–10:00", "1 June 08:00–10:00"),
        ),
        # Past midnight; longer than a day; whole days.
        ([span((2027, 5, 31, 22), (2027, 6, 1, 2))], ("31 May 22:00–02:00",)),
        ([span((2027, 5, 31, 22), (2027, 6, 2, 2))], ("31 May 22:00 to 2 June 02:00",)),
        ([span((2027, 6, 1), (2027, 6, 2))], ("1 June",)),
        ([span((2027, 5, 31), (2027, 6, 2))], ("31 May to 1 June",)),
        ([], ()),
    ],
)
def test_times_on_air_name_the_date_unless_they_count_on_every_one(spans, words):
    assert on_air_words(spans, DATES) == words


@pytest.mark.parametrize("name", sorted(FAMILIES))
def test_a_product_in_words_is_arithmetic_that_python_computes_to_the_same(name):
    family = FAMILIES[name]
    carriers = dict(zip("abcde", (601, 607, 613, 641, 653), strict=True))
    names = list(carriers)[: len(family.coefficients)]
    words = family.words(names)
    assert eval(words.replace(" x ", " * "), {}, carriers) == family.product_hz(tuple(carriers[n] for n in names))


@pytest.mark.parametrize(
    ("text", "ok"),
    [
        ("می\u200cخواهم", True),  # "I want": a non-joiner within the word, as Persian spelling asks
        ("क्\u200dष", True),  # a joiner behind a virama, which is a mark
        ("\u200dMara", False),
        ("Mara\u200c", False),
        ("Ma\u200c\u200cra", False),
        ("1\u200c2", False),
        ("Ma\u202era", False),
        ("Ma\u200bra", False),
        ("two\nlines", False),
    ],
)
def test_a_name_may_hold_the_joiners_within_words_and_nothing_else_that_is_invisible(text, ok):
    # The Unicode Standard, chapter 23.2: U+200C and U+200D stand within words of Arabic and Indic scripts.
    assert is_one_line(text) is ok


def test_one_line_keeps_joiners_within_words_only():
    assert one_line("می\u200cخواهم\u202e \u200dMara\n") == "می\u200cخواهم Mara "
