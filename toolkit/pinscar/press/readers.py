"""Evidence read side by side, before a template runs: several processes, each takes the next file.

What they read lies in the worker's private folder in the form that kept readings have, under the same names:
by content and settings. The kernel takes it from there, and reads itself what is not there, so that neither
the number of processes nor the death of one changes a byte.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib
import json
import os
import signal
import subprocess
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pinscar.campaign.folder import evidence_by_run
from pinscar.child import python_command, skip_unused_imports
from pinscar.decision.kept_results import BESIDE
from pinscar.decision.reading_cache import MISSING
from pinscar.press.handover import announce, handed_over

if TYPE_CHECKING:
    from pinscar.campaign.model import Campaign

KINDS = ("fling", "micrographs", "sound")
"""Folders of evidence that takes long to read, by how long."""
DIE_WITH_PARENT = 1
"""PR_SET_PDEATHSIG of prctl(2)."""

Job = Mapping[str, Any]
"""What readers are told: ``place`` (private folder), ``folder`` (where the template runs), ``confidence``,
and ``timeout``, the longest time that they may take [s]."""


def start_readers(job: Job, count: int, *, fork: bool) -> list[Callable[[], object]]:
    """Start readers; return for each what waits for its end."""
    waiting: list[Callable[[], object]] = []
    with contextlib.suppress(OSError):  # no room for another process: the kernel reads what is left
        for _ in range(count):
            if fork:
                waiting.append(partial(os.waitpid, _forked(partial(read_ahead, job)), 0))
            else:
                words = python_command("pinscar.press.readers", json.dumps(dict(job)))
                waiting.append(subprocess.Popen(words, cwd=job["place"]).wait)
    return waiting


def _forked(work: Callable[[], object]) -> int:
    parent, pid = os.getpid(), os.fork()
    if pid == 0:
        try:
            ctypes.CDLL(None).prctl(DIE_WITH_PARENT, signal.SIGKILL, 0, 0, 0)
            if os.getppid() == parent:  # else it has died meanwhile
                work()
        finally:
            os._exit(0)
    return pid


def start_ahead(job: Job) -> int | None:
    """Start a process that works out what the kernel will ask for later, and return its id.

    The job names the ``module`` whose ``work_ahead`` knows, beside what `read_ahead` is told, and the
    template's ``parameters``.
    """
    with contextlib.suppress(OSError):  # no room for another process: the kernel does all by itself
        return _forked(lambda: _work_ahead(job))
    return None


def _work_ahead(job: Job) -> None:
    announce(Path(job["place"]))
    os.environ[BESIDE] = "1"
    signal.alarm(max(1, round(job["timeout"])))  # ends this process
    module = importlib.import_module(job["module"])
    os.chdir(job["folder"])
    # Whatever is wrong, the kernel meets it again and says so in its place.
    with contextlib.suppress(Exception):
        module.work_ahead(job["parameters"])


def read_ahead(job: Job) -> int:
    """Read file after file that no other reader has taken, and return how many."""
    place, folder = Path(job["place"]), Path(job["folder"])
    announce(place)
    if hasattr(signal, "alarm"):
        signal.alarm(max(1, round(job["timeout"])))  # ends this process
    done, tasks = 0, list(_tasks(folder, job["confidence"]))
    os.chdir(folder)  # where the kernel works, once all is imported
    os.environ[MISSING] = "1"
    for number, read in enumerate(tasks):
        try:
            os.close(os.open(place / f"taken-{number}", os.O_CREAT | os.O_EXCL))
        except FileExistsError:
            continue
        # Whatever is wrong with a file, the kernel meets it again and says so in its place.
        with contextlib.suppress(Exception):
            read()
            done += 1
    del os.environ[MISSING]
    return done


def _tasks(folder: Path, confidence: float | None) -> Iterator[Callable[[], object]]:
    """Give what has to be read of each campaign."""
    known = handed_over()
    for name, campaign in ({} if known is None else known.campaigns).items():
        yield from _of_campaign(replace(campaign, folder=folder / name), confidence)


def _of_campaign(campaign: Campaign, confidence: float | None) -> Iterator[Callable[[], object]]:
    """Give what has to be read, as the analysis of the campaign will ask for it."""
    from pinscar.decision.evidence import largest_scar, see_card, see_scar
    from pinscar.decision.recordings import hear_run

    rig, largest = campaign.file.rig, largest_scar(campaign.file.rig)
    level = confidence or campaign.file.campaign.confidence
    runs = {str(run["run_id"]): run for run in campaign.runs.to_dict("records")}
    for kind in KINDS:
        for run_id, file in evidence_by_run(campaign.folder, kind).items():
            run, path = runs.get(run_id), campaign.folder / file
            if run is None:
                continue
            if kind == "fling":
                yield partial(see_card, path, run, rig.fling_card, folder=campaign.folder)
            elif kind == "micrographs":
                yield partial(see_scar, path, run, largest, keep=False, folder=campaign.folder)
            elif not run["excluded"]:
                yield partial(hear_run, campaign, run, file, None, level)


def main(arguments: list[str]) -> None:
    """Read ahead in a process of its own."""
    skip_unused_imports()
    read_ahead(json.loads(arguments[0]))
