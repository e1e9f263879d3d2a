"""The examples in docs/planning.md and in the docstrings are run, and must answer what they show."""

from __future__ import annotations

import doctest
import importlib
import re
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[1] / "docs"
SOURCE = Path(__file__).parents[1] / "src"
MODULES = [
    ".".join(path.relative_to(SOURCE).with_suffix("").parts)
    for path in sorted(SOURCE.rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


def run_examples(examples):
    said = []
    runner = doctest.DocTestRunner()
    for example in examples:
        runner.run(example, out=said.append)
    assert runner.failures == 0, "".join(said)
    return runner.tries


@pytest.mark.parametrize("name", ["planning"])
def test_the_examples_of_a_page_are_run_one_after_another(name):
    page = DOCS / f"{name}.md"
    blocks = re.findall(r"```python\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) >= 6
    example = doctest.DocTestParser().get_doctest("\n".join(blocks), {}, name, str(page), 0)
    assert run_examples([example]) >= 20


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_docstring_are_run(name):
    module = importlib.import_module(name)
    assert run_examples(doctest.DocTestFinder().find(module, name)) > 0
