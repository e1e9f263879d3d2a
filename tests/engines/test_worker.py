"""The worker: one warm process that runs, tells, stops, and never outlives the process it works for."""

from __future__ import annotations

import errno
import multiprocessing
import os
import queue
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
import worker_tasks
from processes import LISTED, NOT_LISTED, PATIENCE_S, alive, until

from bandwright.engines.worker import Worker
from bandwright.errors import BrokenPromise, Cancelled, InputError, MachineError

SUPPORT = Path(worker_tasks.__file__).parent


@pytest.fixture
def worker():
    made = Worker()
    yield made
    made.close()


def test_a_function_runs_in_another_process_and_that_process_stays(worker):
    first = worker.submit(worker_tasks.own_process).result()
    assert first != os.getpid()
    assert first == worker.process_id
    assert worker.submit(worker_tasks.own_process).result() == first


def test_arguments_and_result_arrive_as_they_were(worker):
    assert worker.submit(worker_tasks.add, {"a": (1, 2)}, {"b": b"\0"}).result() == {"a": (1, 2), "b": b"\0"}


def test_progress_arrives_in_order_and_the_end_after_it(worker):
    told: list[object] = []
    ended = threading.Event()
    task = worker.submit(
        worker_tasks.count, 5, progress=told.append, done=lambda task: (told.append(task), ended.set())
    )
    assert task.result() == 5
    assert ended.wait(PATIENCE_S)
    assert told == [0, 1, 2, 3, 4, task]


def test_a_task_that_is_cancelled_returns_the_best_it_has(worker):
    told: queue.Queue[int] = queue.Queue()
    task = worker.submit(worker_tasks.improve, progress=told.put)
    told.get(timeout=PATIENCE_S)
    task.cancel()
    assert task.wait(PATIENCE_S)
    assert task.result() >= 1


def test_tasks_run_one_after_the_other_and_each_hears_only_its_own_cancel(worker):
    told: queue.Queue[int] = queue.Queue()
    first = worker.submit(worker_tasks.improve, progress=told.put)
    second = worker.submit(worker_tasks.was_cancelled)
    third = worker.submit(worker_tasks.was_cancelled)
    second.cancel()
    told.get(timeout=PATIENCE_S)
    assert not second.ended
    first.cancel()
    assert (second.result(), third.result()) == (True, False)


def test_an_error_in_the_input_keeps_its_faults(worker):
    with pytest.raises(InputError, match="no such thing") as caught:
        worker.submit(worker_tasks.refuse).result()
    assert [(fault.code, fault.key) for fault in caught.value.faults] == [("no-thing", "link"), ("other", None)]


def test_a_mistake_of_ours_brings_the_traceback_of_the_other_process(worker):
    with pytest.raises(ZeroDivisionError) as caught:
        worker.submit(worker_tasks.divide, 0).result()
    assert "worker_tasks.py" in caught.value.__notes__[0]


def test_an_error_that_cannot_be_sent_is_told_all_the_same(worker):
    with pytest.raises(BrokenPromise, match="UnsendableError: of no use elsewhere"):
        worker.submit(worker_tasks.raise_unsendable).result()


def test_a_call_back_that_fails_stops_nothing(worker, caplog):
    assert worker.submit(worker_tasks.count, 2, progress=lambda _: 1 / 0).result() == 2
    assert worker.submit(worker_tasks.count, 1).result() == 1
    assert "ZeroDivisionError" in caplog.text


def test_a_crash_is_one_clear_error_for_each_task_and_the_next_task_finds_a_new_process(worker):
    first = worker.submit(worker_tasks.own_process).result()
    crash, behind = worker.submit(worker_tasks.crash), worker.submit(worker_tasks.own_process)
    for task in (crash, behind):
        with pytest.raises(MachineError, match=r"ended unexpectedly \(signal 9\).*run it once more"):
            task.result()
    again = worker.submit(worker_tasks.own_process).result()
    assert again not in (first, os.getpid())


def test_a_new_process_is_warmed_before_its_first_task():
    warmed = Worker(warm=worker_tasks.warm)
    try:
        warmed.start()
        assert warmed.submit(worker_tasks.is_warm).result() is True
    finally:
        warmed.close()


def test_where_the_system_gives_no_process_that_is_said_and_the_next_task_tries_again(worker, monkeypatch):
    def no_process(_self):
        raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))

    with monkeypatch.context() as patch:
        patch.setattr(multiprocessing.get_context("spawn").Process, "start", no_process)
        with pytest.raises(MachineError, match=r"No process for computing can be started \(.+\); close other programs"):
            worker.submit(worker_tasks.own_process)
    assert worker.submit(worker_tasks.own_process).result() == worker.process_id


def test_a_closed_worker_ends_its_process_at_once_and_says_so_to_who_waits(worker):
    told: queue.Queue[int] = queue.Queue()
    task = worker.submit(worker_tasks.never_stop, progress=told.put)
    process_id = told.get(timeout=PATIENCE_S)
    worker.close()
    with pytest.raises(Cancelled, match="closed"):
        task.result()
    if LISTED:
        assert until(lambda: not alive(process_id))
    with pytest.raises(Cancelled, match="closed"):
        worker.submit(worker_tasks.own_process)


@pytest.mark.skipif(not LISTED, reason=NOT_LISTED)
@pytest.mark.parametrize("busy", ["never_stop", "own_process"])
def test_the_process_dies_with_its_parent_even_where_the_parent_is_killed(busy):
    parent = subprocess.Popen(
        [sys.executable, str(SUPPORT / "worker_parent.py"), busy], stdout=subprocess.PIPE, text=True
    )
    assert parent.stdout is not None
    child = int(parent.stdout.readline())
    assert alive(child)
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    assert until(lambda: not alive(child))


def test_a_real_plan_is_made_in_the_worker(worker):
    placed = worker.submit(worker_tasks.place_four, progress=lambda _: None).result()
    assert placed == 4
