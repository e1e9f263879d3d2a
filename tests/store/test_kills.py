"""A program that is killed while it writes, fifty times: what it was told is done, is done."""

from __future__ import annotations

import random
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from thorough import cases

from bandwright.store import JobFile

FIRST = Path(__file__).parent / "files" / "layout-1.bwjob"

# Prints the number of each change once the call came back. Every fifth time it closes the file and opens it again.
WRITER = """
import sys
from pathlib import Path
from bandwright.store import JobFile

path, number = Path(sys.argv[1]), int(sys.argv[2])
while True:
    with JobFile.open(path) as job:
        for _ in range(5):
            number += 1
            def make(draft):
                draft.add_note(f"{number} first")
                draft.add_sweep(f"{number}", bytes([number % 256]) * 20_000, {})
                draft.add_note(f"{number} second")
            job.change(make, who="Mara", what="Wrote", client_key=str(number))
            print(number, flush=True)
            job.undo(who="Mara")
            if number % 3 == 0:
                job.checkpoint()
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system cannot kill a program outright")
def test_nothing_that_was_done_is_lost_when_the_program_is_killed_fifty_times(tmp_path: Path) -> None:
    path = Path(shutil.copyfile(FIRST, tmp_path / "quay.bwjob"))
    chance, told = random.Random(1), 0
    for _ in range(cases(50)):
        told = _killed_at_some_moment(path, told, chance)
        with JobFile.open(path) as job:
            assert job.check() == ()
            assert all(job.answer_to(str(number)) for number in range(1, told + 1))
            texts = [note.text.split() for note in job.notes()]
            assert {number for number, *half in texts if half == ["first"]} == {
                number for number, *half in texts if half == ["second"]
            }
            while job.answer_to(str(told + 1)):
                told += 1
    assert told > 50


def _killed_at_some_moment(path: Path, told: int, chance: random.Random) -> int:
    """Let it write, kill it at a random moment, and return the last number it was told is done."""
    command = [sys.executable, "-c", WRITER, str(path), str(told)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        for _ in range(chance.randrange(6)):
            told = int(program.stdout.readline())
        for _ in range(chance.randrange(200_000)):  # a random while that does not depend on what the program does
            pass
        program.kill()
        rest = program.stdout.read().split("\n")[:-1]
    return int(rest[-1]) if rest else told
