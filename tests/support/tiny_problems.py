"""Small separation problems drawn by Hypothesis: mixed choices and rasters, contexts, given carriers, priorities."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import strategies as st

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.products import FAMILIES

__all__ = ["tiny_problems"]


@st.composite
def tiny_problems(draw, *, most_wanted=4, most_fixed=2, most_carriers=7):
    wanted = draw(st.integers(2, most_wanted))
    fixed = draw(st.integers(0, most_fixed))
    contexts = draw(st.integers(1, 2))
    pieces = []
    for q in range(draw(st.integers(1, 2))):
        carriers = sorted(draw(st.sets(st.integers(0, 60), min_size=1, max_size=most_carriers)))
        clearance = draw(st.dictionaries(st.sampled_from(sorted(FAMILIES)), st.integers(1, 6), max_size=4))
        pieces.append(
            Choice(
                name=str(q),
                carriers_hz=np.array(carriers) * 5 + draw(st.sampled_from([0, 0, 2])),
                wish=np.array([draw(st.sampled_from([0, 1, 2000])) for _ in carriers]),
                clearance_hz=tuple(sorted((family, 5 * hz) for family, hz in clearance.items())),
            )
        )
    size = wanted + fixed
    near = np.zeros((size, size), np.int64)
    least = draw(st.sampled_from([0, 1, 6]))  # spacing below the clearances, or above
    for i, j in itertools.combinations(range(size), 2):
        near[i, j] = near[j, i] = 5 * draw(st.integers(least, 8))
    some_contexts = st.lists(st.integers(0, contexts - 1), min_size=1, unique=True).map(tuple)
    return Problem(
        choices=tuple(pieces),
        wanted=tuple(
            Wanted(
                id=f"w{i}",
                choice=draw(st.integers(0, len(pieces) - 1)),
                contexts=draw(some_contexts),
                priority=draw(st.integers(0, 1)),
            )
            for i in range(wanted)
        ),
        fixed=tuple(
            Fixed(
                id=f"f{i}",
                carrier_hz=draw(st.integers(0, 300)),
                sends=draw(st.sampled_from(list(Sends))),
                clearance_hz=draw(st.sampled_from([(), (("2A-B", 10),), (("2A+B-2C", 10), ("A+B-C", 15))])),
                contexts=draw(some_contexts),
            )
            for i in range(fixed)
        ),
        near_hz=near,
        contexts=contexts,
    )
