"""Make reports: one worker process a job, the report put in place only when it is whole."""

from __future__ import annotations

import contextlib
import os
import queue
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

from pinscar.campaign.folder import ROOT
from pinscar.child import Child, ChildDiedError, child_environment
from pinscar.errors import PinscarError, Problem, Severity
from pinscar.press.files import NEW, cannot_write, check_place, locked, replace_folder, scratch_folder, sweep
from pinscar.press.private_folder import PrivateFolder, sweep_private
from pinscar.press.request import Outcome, Request

Progress = Callable[[Request, Mapping[str, Any]], None]


class Maker(Protocol):
    """What makes a report when it is asked: a process here, or a worker of a cluster."""

    def ask(
        self, message: Mapping[str, Any], told: Callable[[Mapping[str, Any]], None] | None = None
    ) -> dict[str, Any]:
        """Have something done, and wait for it; hear of the steps meanwhile."""

    def logged(self) -> str:
        """Return what was written to its log."""


class Makers(Protocol):
    """What lends makers, as many as it has."""

    def one(self) -> AbstractContextManager[Maker]:
        """Lend one."""

    def stop(self) -> None:
        """End all."""


class Workers:
    """The worker processes of one command.

    Attributes
    ----------
    modules : sequence of str
        Modules that the template imports.
    """

    def __init__(self, modules: Sequence[str]) -> None:
        self._modules = modules
        self._idle: queue.SimpleQueue[Worker] = queue.SimpleQueue()
        self._all: list[Worker] = []
        self._guard = threading.Lock()
        self._stopped = False

    @contextlib.contextmanager
    def one(self) -> Iterator[Worker]:
        """Lend a worker; one that died is not taken back."""
        try:
            worker = self._idle.get_nowait()
        except queue.Empty:
            worker = self._start()
        try:
            yield worker
        except ChildDiedError:
            worker.end()
            raise
        else:
            self._idle.put(worker)

    def _start(self) -> Worker:
        with self._guard:
            if self._stopped:
                raise ChildDiedError("was stopped")
            worker = Worker(self._modules)
            self._all.append(worker)
            return worker

    def stop(self) -> None:
        """End all workers with everything they started; a caller that waits for one is told that it died."""
        with self._guard:
            self._stopped = True
            for worker in self._all:
                worker.end()


class Worker:
    """A worker process and its private folder.

    Attributes
    ----------
    modules : sequence of str
        Modules that the template imports.
    root : pathlib.Path, optional
        A folder that links and paths of campaigns may lead into, in place of the one that the person named.
    """

    def __init__(self, modules: Sequence[str], root: Path | None = None) -> None:
        self._folder = PrivateFolder()
        self.private = self._folder.path
        self._log = self.private / "log"
        surroundings = child_environment(self.private)
        try:
            self._child = Child(
                "pinscar.press.worker_start",
                str(self.private),
                *modules,
                environment=surroundings if root is None else {**surroundings, ROOT: str(root)},
                folder=self.private,
                log=self._log,
                leader=True,
            )
        except BaseException:
            self._folder.remove()
            raise

    def ask(
        self, message: Mapping[str, Any], told: Callable[[Mapping[str, Any]], None] | None = None
    ) -> dict[str, Any]:
        """Have something done, and wait for it; hear of the steps meanwhile."""
        return self._child.ask(message, told)

    def logged(self) -> str:
        """Return what the process and all that it started wrote to standard error."""
        return self._log.read_text(errors="replace")

    def end(self) -> None:
        """End the process with all that it started, and remove the private folder."""
        self._child.end()
        self._folder.remove()


def build_reports(
    requests: Sequence[Request],
    modules: Sequence[str],
    jobs: int | None,
    tell: Callable[[Outcome], None],
    progress: Progress | None = None,
    makers: Makers | None = None,
) -> int:
    """Make reports, by processes of this machine unless others are given; return the worst exit status.

    Without a number of jobs it is one campaign at a time, its evidence read by all cores there are.
    """
    sweep_private()
    workers = makers or Workers(modules)
    worst = 0
    at_a_time = max(1, min(jobs or 1, len(requests)))
    # Cores that are left over by few campaigns read the evidence of each side by side.
    cores = 1 if makers else max(1, (jobs or available_cores()) // at_a_time)
    shared = [replace(request, cores=cores) for request in requests]
    with ThreadPoolExecutor(at_a_time) as pool:
        try:
            for outcome in pool.map(lambda request: build_report(request, workers, progress), shared):
                worst = max(worst, outcome.status)
                tell(outcome)
        except BaseException:
            workers.stop()
            pool.shutdown(cancel_futures=True)
            raise
        workers.stop()
    return worst


def available_cores() -> int:
    """Count the cores that this process may run on."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def build_report(request: Request, workers: Makers, progress: Progress | None = None) -> Outcome:
    """Make one report, and take its time."""
    begun = time.monotonic()
    return replace(_build(request, workers, progress), seconds=round(time.monotonic() - begun, 3))


def _build(request: Request, workers: Makers, progress: Progress | None) -> Outcome:
    try:
        if not request.folder.is_dir():
            return _outcome(request, _no_folder(request.folder))
        check_place(request.out)
        with workers.one() as worker:
            reply = worker.ask(request.as_question())
            if reply["status"] == 0:
                reply = _make(request, worker, progress)
            if reply["status"] == 4:
                reply["debug"] = reply.get("debug", "") + worker.logged()
        return _outcome(request, reply)
    except ChildDiedError as error:
        return _outcome(request, {"status": 4, "errors": [f"the process that makes the report {error}"]})
    except PinscarError as error:
        return _outcome(request, {"status": error.exit_status, "errors": [str(error)]})
    except OSError as error:
        return _outcome(request, {"status": 4, "errors": [str(cannot_write(request.out.parent, error))]})


def _no_folder(folder: Path) -> dict[str, Any]:
    message = "this is a file and not a folder" if folder.exists() else "there is no such folder"
    problem = Problem(
        code="folder-missing",
        severity=Severity.ERROR,
        file=str(folder),
        message=message,
        mend="check the path",
    )
    return {"status": 1, "errors": [str(problem)], "problems": [problem.as_dict()]}


def _outcome(request: Request, reply: Mapping[str, Any]) -> Outcome:
    return Outcome(
        folder=str(request.folder),
        report=str(request.out),
        status=reply["status"],
        errors=tuple(reply.get("errors", ())),
        problems=tuple(reply.get("problems", ())),
        overall=reply.get("overall"),
        limits=reply.get("limits"),
        files=tuple(reply.get("files", ())),
        untranslated=tuple(reply.get("untranslated", ())),
        debug=reply.get("debug", ""),
    )


def _make(request: Request, worker: Maker, progress: Progress | None) -> dict[str, Any]:
    told = None if progress is None else (lambda step: progress(request, step))
    out = request.out
    failed = out.with_name(f"{out.name}-failed.ipynb")
    out.parent.mkdir(parents=True, exist_ok=True)
    with locked(out):
        sweep(out)
        with scratch_folder(out) as scratch:
            reply = worker.ask(request.as_message(scratch), told)
            if reply["status"] == 0:
                check_place(out)  # again: the run took its time
                replace_folder(scratch / NEW, out)
                failed.unlink(missing_ok=True)
            elif reply.get("failed"):
                Path(reply["failed"]).replace(failed)
                reply["errors"] = [f"{line}; see {failed.name}" for line in reply["errors"]]
    return reply
