"""Compiled and plain kernels give equal answers, and compiled code is kept where it may be, or not at all."""

from __future__ import annotations

import shutil
from pathlib import Path

from own_process import answers

from bandwright.kernels import jit

# A mixed case with a given carrier: placed by the search where asked, and examined by the verifier.
CASE = """
import json, sys
import numpy as np
from bandwright.core.planning.problem import Choice, Fixed, Problem, Wanted
from bandwright.core.planning.verify import examine, nearest
from bandwright.engines.solve import solve
from bandwright.kernels import jit

families = (("2A-B", 40), ("A+B-C", 20), ("3A-2B", 20), ("2A+B-2C", 10))
choices = [
    Choice(name=str(q), carriers_hz=np.arange(q, 800, 10 + q), wish=np.zeros(len(range(q, 800, 10 + q)), np.int64),
           clearance_hz=families[: 4 - 2 * q])
    for q in range(2)
]
near = np.full((5, 5), 70, np.int64)
np.fill_diagonal(near, 0)
problem = Problem(
    choices=tuple(choices), wanted=tuple(Wanted(id=str(i), choice=i % 2) for i in range(4)), near_hz=near,
    fixed=(Fixed(id="given", carrier_hz=333),),
)
answers = {"folder": str(jit.cache_folder()), "uncompiled": jit.uncompiled()}
carriers = np.array([0, 90, 200, 271])
if sys.argv[1] == "search":
    found = solve(problem, time_limit_s=600)
    answers |= {"found": found.carriers_hz, "moves": found.moves}
    carriers = np.array(found.carriers_hz)
    carriers[0] = carriers[1] + 10
answers["hits"] = [str(hit) for hit in examine(problem, carriers).hits]
answers["nearest"] = str(nearest(problem, carriers))
print(json.dumps(answers))
"""


def test_plain_python_gives_the_answers_of_compiled_code():
    compiled = answers(CASE, "search", BANDWRIGHT_UNCOMPILED="")
    plain = answers(CASE, "search", BANDWRIGHT_UNCOMPILED="1")
    assert compiled.pop("uncompiled") is False
    assert plain.pop("uncompiled") is True
    assert compiled["hits"]
    assert plain == compiled


def test_a_cache_folder_that_cannot_be_made_changes_no_answer(tmp_path):
    in_the_way = tmp_path / "a file"
    in_the_way.write_text("no folder")
    cached = answers(CASE, "examine", BANDWRIGHT_UNCOMPILED="")
    uncached = answers(CASE, "examine", BANDWRIGHT_UNCOMPILED="", BANDWRIGHT_CACHE=str(in_the_way / "below"))
    assert uncached.pop("folder") == "None"
    assert cached.pop("folder") != "None"
    assert uncached == cached


def test_the_cache_folder_is_the_stated_one(monkeypatch, tmp_path):
    monkeypatch.setenv("BANDWRIGHT_CACHE", str(tmp_path))
    folder = jit.cache_folder.__wrapped__()
    assert folder == tmp_path / f"kernels-{jit.source_stamp()}"
    assert folder.is_dir()


def test_the_name_of_the_cache_folder_changes_with_any_kernel_source(tmp_path):
    sources = tmp_path / "kernels"
    shutil.copytree(Path(jit.__file__).parent, sources, ignore=shutil.ignore_patterns("__pycache__"))
    before = jit.source_stamp(sources)
    assert before == jit.source_stamp()
    stamps = {before}
    for source in sorted(sources.glob("*.py")):
        source.write_text(source.read_text(encoding="utf-8") + "\n", encoding="utf-8")
        stamps.add(jit.source_stamp(sources))
    assert len(stamps) == 1 + len(list(sources.glob("*.py")))
