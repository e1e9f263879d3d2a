"""The exact search gives equal answers compiled and as plain Python."""

from __future__ import annotations

from own_process import answers

CASE = """
import json
import numpy as np
from bandwright.core.planning.problem import Choice, Fixed, Problem, Wanted
from bandwright.engines.exact import most_placed
from bandwright.engines.rulers import least_span
from bandwright.kernels import jit

every = (("2A-B", 2), ("A+B-C", 1), ("3A-2B", 1), ("2A+B-2C", 1), ("3A-B-C", 1), ("4A-3B", 1))
choices = [
    Choice(name=str(q), carriers_hz=np.arange(q, 40, 2 + q), wish=np.zeros(len(range(q, 40, 2 + q)), np.int64),
           clearance_hz=every[: 6 - 3 * q])
    for q in range(2)
]
near = np.full((7, 7), 3, np.int64)
np.fill_diagonal(near, 0)
mixed = Problem(
    choices=tuple(choices), near_hz=near,
    wanted=tuple(Wanted(id=str(i), choice=i % 2, priority=i % 3) for i in range(6)),
    fixed=(Fixed(id="given", carrier_hz=17),),
)
alike = Problem(
    choices=(Choice(name="a", carriers_hz=np.r_[0:60, 70:110], wish=np.zeros(100, np.int64), clearance_hz=every),),
    wanted=tuple(Wanted(id=str(i), choice=0) for i in range(7)), near_hz=near,
)
print(json.dumps([
    jit.uncompiled(), str(most_placed(mixed, effort=40)), str(most_placed(alike, effort=40)),
    str(most_placed(mixed, by_priority=True, effort=300)),
    str(least_span(7, spacing_hz=1, clearance_hz=(("2A-B", 1), ("A+B-C", 1)), step_hz=1, longest_hz=80)),
]))
"""


def test_plain_python_searches_as_compiled_code_does():
    compiled, plain = answers(CASE, BANDWRIGHT_UNCOMPILED="0"), answers(CASE, BANDWRIGHT_UNCOMPILED="1")
    assert [compiled[0], plain[0]] == [False, True]
    assert compiled[1:] == plain[1:]
