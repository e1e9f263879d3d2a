"""Promised times count at the pace of the moment: expected numbers are worked out by hand from the rule beside them."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest
from benchmarks.measure import Benchmark, Figure, Reading, time_it
from benchmarks.pace import PROMISED_AT_S, judge, measured, pace_of


def test_a_machine_that_takes_twice_as_long_before_and_three_times_after_is_two_and_a_half_times_slower() -> None:
    assert pace_of([2 * PROMISED_AT_S, 3 * PROMISED_AT_S]) == pytest.approx(2.5)


@pytest.mark.parametrize(("value_ms", "kept"), [(1999, True), (2000, False), (2001, False)])
def test_eight_hundred_promised_milliseconds_are_two_seconds_where_the_kernel_takes_a_hundred(
    value_ms: float, *, kept: bool
) -> None:
    assert judge(value_ms, unit="ms", reference=[0.1, 0.1], limit=800).kept is kept


def test_a_machine_faster_than_the_one_of_the_promises_is_held_to_less() -> None:
    fast = [0.02, 0.02]  # half of 40 ms: 30 ms promised are 15
    assert judge(0.014, unit="s", reference=fast, limit=0.03).kept is True
    assert judge(0.016, unit="s", reference=fast, limit=0.03).kept is False


def test_a_promised_rate_is_divided_by_the_pace() -> None:
    slow = [0.08]  # twice 40 ms: 100 MB/s promised are 50
    assert judge(51, unit="MB/s", reference=slow, limit=100, at_least=True).kept is True
    assert judge(49, unit="MB/s", reference=slow, limit=100, at_least=True).kept is False


@pytest.mark.parametrize("unit", ["MB", "dB", "%", "times", "links", "% of seeds"])
def test_what_no_processor_sets_is_judged_as_it_was_promised(unit: str) -> None:
    found = judge(11, unit=unit, reference=[0.4], limit=10)
    assert (found.kept, found.scale, found.multiple) == (False, None, None)


@pytest.mark.parametrize(("value", "unit"), [(500, "ms"), (0.5, "s"), (0.5, "s CPU")])
def test_half_a_second_is_five_times_a_kernel_of_a_hundred_milliseconds_in_every_unit(value: float, unit: str) -> None:
    assert judge(value, unit=unit, reference=[0.1], limit=None).multiple == pytest.approx(5)


def test_without_a_promise_nothing_is_kept_or_missed() -> None:
    assert judge(1, unit="s", reference=[0.04], limit=None).kept is None


def test_the_reference_is_taken_right_before_the_rounds_and_right_after_them_and_not_while_preparing() -> None:
    done: list[str] = []

    def prepare() -> Callable[[], object]:
        done.append("prepared")
        return lambda: done.append("work")

    def reference() -> float:
        done.append("reference")
        return float(done.count("reference"))

    timing = time_it(Benchmark(name="x", prepare=prepare, rounds=2), reference=reference)
    assert done == ["prepared", "work", "reference", "work", "work", "reference"]
    assert timing.reference_s == (1.0, 2.0)


def _slower() -> Callable[[], float]:
    counts = itertools.count(1)
    return lambda: next(counts) / 100


def test_a_figure_that_brings_its_own_reference_is_not_given_another_one() -> None:
    own = Reading(value=3.0, reference_s=(0.05, 0.06, 0.07))
    assert measured(Figure(name="long", measure=lambda: own, unit="ms"), reference=_slower()) == own


def test_any_other_figure_gets_the_reference_of_before_and_after() -> None:
    counts = itertools.count(1)
    found = measured(Figure(name="short", measure=lambda: float(next(counts)), unit="ms"), reference=_slower())
    assert found == Reading(value=1.0, reference_s=(0.01, 0.02))  # measured once, between the two


def test_what_cannot_be_measured_here_stays_missing() -> None:
    none = Figure(name="none", measure=lambda: None, unit="ms", without="no browser")
    assert measured(none, reference=_slower()) is None
