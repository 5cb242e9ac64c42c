"""Measure a command: wall and processor time of it and of all that it started, killed ones too."""

from __future__ import annotations

import contextlib
import ctypes
import os
import resource
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

SUBREAPER = 36
"""PR_SET_CHILD_SUBREAPER of prctl(2): orphans come to this process, which can wait for them."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What a command took.

    Attributes
    ----------
    wall, processor : float
        Time on the clock and of the processors [s].
    """

    wall: float
    processor: float


def run(words: Sequence[object], folder: Path | None = None, env: Mapping[str, str] | None = None) -> Taken:
    """Run a command to its end, and that of all it started, and say what it took."""
    ctypes.CDLL(None).prctl(SUBREAPER, 1, 0, 0, 0)
    before, start = _children(), time.perf_counter()
    done = subprocess.run(
        [str(word) for word in words],
        cwd=folder,
        env={**os.environ, **(env or {})},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    wall = time.perf_counter() - start
    with contextlib.suppress(ChildProcessError):
        while True:  # what the command killed or left behind counts too, once it has ended
            os.waitpid(-1, 0)
    if done.returncode:
        raise RuntimeError(f"{' '.join(map(str, words))} ended with {done.returncode}: {done.stderr[-2000:]}")
    return Taken(wall, _children() - before)


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)  # to the microsecond, unlike os.times
    return used.ru_utime + used.ru_stime


PEAK = (
    "import resource, sys; from pathlib import Path; from pinscar.campaign.campaign import read_campaign; "
    "from pinscar.decision.evaluate import evaluate_with_traces; "
    "evaluate_with_traces(read_campaign(Path(sys.argv[1]))); "
    "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
)
"""Reads a campaign with its traces, works them out, and tells the most memory that took [KiB]."""


def peak_of_reading(folder: Path) -> float:
    """Most memory of a process that reads a campaign and works its traces out [bytes]."""
    done = subprocess.run(
        [sys.executable, "-c", PEAK, str(folder)], capture_output=True, text=True, check=True
    )
    return 1024.0 * float(done.stdout)
