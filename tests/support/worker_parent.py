"""A process that starts a worker, prints the number of the worker's process, and then waits to be killed."""

from __future__ import annotations

import sys
import threading

import worker_tasks

from bandwright.engines.worker import Worker


def tell(number: int) -> None:
    sys.stdout.write(f"{number}\n")
    sys.stdout.flush()


def main() -> None:
    """Run the task that is named."""
    worker = Worker()
    worker.submit(getattr(worker_tasks, sys.argv[1]), progress=tell)
    threading.Event().wait()


if __name__ == "__main__":
    main()
