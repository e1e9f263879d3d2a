"""Loops on sound give the same compiled and as plain Python."""

from __future__ import annotations

import numpy as np
import pytest
from own_process import answers

CASE = """
import json
import numpy as np
from bandwright.kernels import jit
from bandwright.kernels.audio import first_order, follow

sound = np.random.default_rng(5).standard_normal(400)
poles = np.array([0.95, 0.7, 0.0])
out, back, plain = (np.empty(400) for _ in range(3))
for squared, power in ((True, 0.5), (False, 1.0)):
    follow(sound, poles, 0.02, 0.001, squared, 1.3, 1e-2, power, True, out)
    follow(out, poles, 0.02, 0.001, squared, 1.3, 1e-2, power, False, back)
first_order(sound, 0.4, 0.1, -0.5, plain)
print(json.dumps([jit.uncompiled(), out.tolist(), back.tolist(), plain.tolist(), sound.tolist()]))
"""


def test_following_and_filtering_give_the_same_compiled_and_as_plain_python():
    plain, out, back, filtered, sound = answers(CASE, BANDWRIGHT_UNCOMPILED="1")
    compiled, *others = answers(CASE, BANDWRIGHT_UNCOMPILED="")
    assert (plain, compiled) == (True, False)
    for ours, theirs in zip((out, back, filtered), others, strict=False):
        assert np.array(ours) == pytest.approx(np.array(theirs), rel=1e-10, abs=1e-12)
    assert np.array(back) == pytest.approx(np.array(sound), abs=1e-9)
