"""The process that kernels are forked from: it has imported what templates need, once, before the first one.

A kernel forked from it is ready in about a quarter of the time of a plain one. Where forking is not safe
(another system than Linux, or a library that started a thread on import) it starts plain kernels.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import signal
import subprocess
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

from pinscar.child import answer, python_command, skip_unused_imports, take_streams
from pinscar.decision.reading_cache import version
from pinscar.import_path import PYARROW, let_pyarrow_in
from pinscar.press.readers import start_ahead, start_readers

Poll = Callable[[], int | None]
"""Returns a kernel's exit status, or None while it runs."""


def preload(modules: list[str]) -> None:
    """Import modules ahead of the templates that will want them.

    Examples
    --------
    >>> preload(["json", "no_such_module_anywhere"])
    """
    # matplotlib reads a matplotlibrc of the working folder when it is first imported: it must be here.
    for module in ("pinscar.press.kernel_app", "matplotlib", *modules):
        with contextlib.suppress(Exception):
            importlib.import_module(module)


def may_fork() -> bool:
    """Tell whether a fork of this process can run a kernel.

    Examples
    --------
    >>> isinstance(may_fork(), bool)
    True
    """
    return sys.platform == "linux" and len(list(Path("/proc/self/task").iterdir())) == 1


def start_kernel(connection_file: str, folder: str, streams: tuple[IO[str], ...]) -> tuple[int, Poll]:
    """Start a kernel, forked if that is safe.

    Examples
    --------
    ``start_kernel("/tmp/k/kernel.json", "/data/campaign", ())``
    """
    if not may_fork():
        wanted = [PYARROW] if sys.modules.get(PYARROW) is not None else []
        # Started outside the campaign folder, which it enters once its libraries have read their settings.
        process = subprocess.Popen(
            python_command("pinscar.press.kernel_app", connection_file, folder, *wanted),
            cwd=Path(connection_file).parent,
        )
        return process.pid, process.poll
    pid = os.fork()
    if pid == 0:
        _become_kernel(connection_file, folder, streams)
    return pid, lambda: _status(pid)


def _become_kernel(connection_file: str, folder: str, streams: tuple[IO[str], ...]) -> None:
    status = 1
    try:
        from pinscar.press.kernel_app import run_kernel

        for stream in streams:
            os.close(stream.fileno())
        os.chdir(folder)
        run_kernel(connection_file)
        status = 0
    except BaseException:  # whatever it is, the copy must not run on as a second parent
        traceback.print_exc()
    finally:
        os._exit(status)


def _status(pid: int) -> int | None:
    ended, status = os.waitpid(pid, os.WNOHANG)
    return os.waitstatus_to_exitcode(status) if ended else None


def main(modules: list[str]) -> None:
    """Serve kernels until the parent hangs up.

    Examples
    --------
    ``Child("pinscar.press.kernel_parent", "pandas", ...)``
    """
    streams = take_streams()
    incoming, outgoing = streams
    skip_unused_imports()
    if PYARROW in modules:
        let_pyarrow_in(by_pandas=True)
    preload(modules)
    version()  # once: each process forked from this one would work it out again
    kernels: dict[int, Poll] = {}
    for line in incoming:
        answer(outgoing, _serve(json.loads(line), kernels, streams))
    for pid in kernels:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, 9)


def _serve(request: dict[str, Any], kernels: dict[int, Poll], streams: tuple[IO[str], ...]) -> dict[str, Any]:
    if "poll" in request:
        status = kernels[request["poll"]]()
        if status is not None:
            del kernels[request["poll"]]
        return {"status": status}
    if "read" in request:
        waiting = start_readers(request["read"], request["count"], fork=may_fork())
        for wait in waiting:
            wait()
        return {"readers": len(waiting)}
    if "ahead" in request:
        pid = start_ahead(request["ahead"]) if may_fork() else None
        return {"pid": pid}
    if "end" in request:
        with contextlib.suppress(ProcessLookupError, ChildProcessError):
            os.kill(request["end"], signal.SIGKILL)
            os.waitpid(request["end"], 0)
        return {}
    pid, poll = start_kernel(request["start"], str(Path(request["folder"])), streams)
    kernels[pid] = poll
    return {"pid": pid}
