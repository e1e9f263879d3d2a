"""Where a process begins: nothing is imported before Ctrl-C is understood."""

from __future__ import annotations

import sys

__all__ = ["main"]


def main() -> None:
    """Run the program on the arguments of this process, and end the process."""
    try:
        from bandwright.cli import run

        code = run(sys.argv[1:])
    except KeyboardInterrupt:
        code = _stopped()
    sys.exit(code)


def _stopped() -> int:
    """Say that the program was stopped before it could do anything; another Ctrl-C no longer counts."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from bandwright.cli import failures

    return failures.tell(KeyboardInterrupt(), arguments=sys.argv[1:], as_json="--json" in sys.argv)
