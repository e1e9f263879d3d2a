"""Serves jobs from the program that users install, in a process of its own, as a test asks for them.

A test starts it once with `start_host`. What goes between the two are lines of JSON: one that asks, one that answers.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import traceback
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from served_app import Served, served

import bandwright
from bandwright.engines.prepare import prepare_kernels, prepare_repair

SUPPORT = Path(__file__).parent


@dataclass(slots=True)
class Host:
    """The process that serves; asked from the process that tests."""

    process: subprocess.Popen[str]

    def ask(self, **question: Any) -> dict[str, Any]:
        """Return the answer; what went wrong over there is raised here, with its trace."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(question) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        assert line, "the process that serves has ended"
        answer: dict[str, Any] = json.loads(line)
        assert "wrong" not in answer, answer["wrong"]
        return answer

    @contextmanager
    def serve(self, path: Path, *, port: int = 0, lan: bool = False) -> Iterator[Served]:
        """Serve a job file; at the end everything is closed again."""
        answer = self.ask(do="serve", path=str(path), port=port, lan=lan)
        number = answer["number"]
        app = Served(
            address=answer["address"],
            advance=lambda seconds: self.ask(do="advance", number=number, seconds=seconds),
        )
        try:
            yield app
        finally:
            app.leave()
            self.ask(do="end", number=number)


@contextmanager
def start_host(site: Path, work: Path) -> Iterator[Host]:
    """Start the process that serves what is installed in `site`; nothing of the source is in its way."""
    own = {"PYTHONPATH": os.pathsep.join((str(site), str(SUPPORT))), "XDG_STATE_HOME": str(work / "state")}
    process = subprocess.Popen(
        [sys.executable, "-m", "wheel_host"],
        cwd=work,
        env=os.environ | own | {"LOCALAPPDATA": str(work)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with process:
        host = Host(process)
        program = Path(host.ask(do="where")["program"])
        assert program.is_relative_to(site), f"{program} is served, not what is installed in {site}"
        yield host
        assert process.stdin is not None
        process.stdin.close()  # it ends by itself


class Floor:
    """What the process that serves does when it is asked."""

    def __init__(self) -> None:
        self.jobs: dict[int, tuple[ExitStack, Any]] = {}

    def where(self) -> dict[str, Any]:
        return {"program": bandwright.__file__}

    def prepare(self) -> dict[str, Any]:
        prepare_kernels()
        prepare_repair()
        return {}

    def serve(self, path: str, port: int, lan: bool) -> dict[str, Any]:
        stack = ExitStack()
        app = stack.enter_context(served(Path(path), port=port, lan=lan))
        number = max(self.jobs, default=0) + 1
        self.jobs[number] = (stack, app)
        return {"number": number, "address": app.address}

    def advance(self, number: int, seconds: float) -> dict[str, Any]:
        self.jobs[number][1].advance(seconds)
        return {}

    def end(self, number: int) -> dict[str, Any]:
        self.jobs.pop(number)[0].close()
        return {}


def answer_all(questions: TextIO, answers: TextIO) -> None:
    """Answer until nobody asks any more."""
    floor = Floor()
    for line in questions:
        question = json.loads(line)
        try:
            answer = getattr(floor, question.pop("do"))(**question)
        except Exception:
            answer = {"wrong": traceback.format_exc()}
        answers.write(json.dumps(answer) + "\n")
        answers.flush()


if __name__ == "__main__":
    kept = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)  # what the program prints is no answer
    answer_all(sys.stdin, kept)
