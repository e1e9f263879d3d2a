"""Code that a test runs in a process of its own, so that the kernels are compiled, or not, anew."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any


def answers(case: str, *arguments: str, **environment: str) -> Any:
    """Run Python code, every warning an error, and return what it printed as JSON."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", case, *arguments],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
