"""Small separation problems drawn by Hypothesis: mixed choices, contexts, given carriers, priorities."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import strategies as st

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted

__all__ = ["tiny_problems"]


@st.composite
def tiny_problems(draw):
    wanted = draw(st.integers(2, 4))
    fixed = draw(st.integers(0, 2))
    contexts = draw(st.integers(1, 2))
    pieces = []
    names = ["2A-B", "A+B-C", "3A-2B", "4A-3B"]
    for q in range(draw(st.integers(1, 2))):
        carriers = sorted(draw(st.sets(st.integers(0, 60), min_size=1, max_size=7)))
        clearance = draw(st.dictionaries(st.sampled_from(names), st.integers(1, 6), max_size=4))
        pieces.append(
            Choice(
                name=str(q),
                carriers_hz=np.array(carriers) * 5 + draw(st.sampled_from([0, 2])),
                wish=np.array([draw(st.sampled_from([0, 1, 2000])) for _ in carriers]),
                clearance_hz=tuple(sorted((family, 5 * hz) for family, hz in clearance.items())),
            )
        )
    some = tuple(draw(st.lists(st.integers(0, contexts - 1), min_size=1, unique=True)))
    size = wanted + fixed
    near = np.zeros((size, size), np.int64)
    for i, j in itertools.combinations(range(size), 2):
        near[i, j] = near[j, i] = 5 * draw(st.integers(1, 6))
    # One choice shares its contexts and its spacing to given carriers, as the builder makes them.
    kinds = [draw(st.integers(0, len(pieces) - 1)) for _ in range(wanted)]
    for f in range(wanted, size):
        for q in range(len(pieces)):
            value = 5 * draw(st.integers(0, 4))
            for i in [i for i in range(wanted) if kinds[i] == q]:
                near[i, f] = near[f, i] = value
    by_kind = [some if q == 0 else tuple(range(contexts)) for q in range(len(pieces))]
    return Problem(
        choices=tuple(pieces),
        wanted=tuple(
            Wanted(id=f"w{i}", choice=kinds[i], contexts=by_kind[kinds[i]], priority=draw(st.integers(0, 1)))
            for i in range(wanted)
        ),
        fixed=tuple(
            Fixed(
                id=f"f{i}",
                carrier_hz=draw(st.integers(0, 300)),
                sends=draw(st.sampled_from(list(Sends))),
                clearance_hz=draw(st.sampled_from([(), (("2A-B", 10),)])),
            )
            for i in range(fixed)
        ),
        near_hz=near,
        contexts=contexts,
    )
