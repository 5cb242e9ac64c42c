"""The process that makes reports, one after another: the command survives whatever happens in here."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import shutil
import signal
import tempfile
import threading
import traceback
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

from pinscar.errors import InputError, PinscarError, RunError
from pinscar.report.child import Child, answer, take_streams

Messages = queue.SimpleQueue[dict[str, Any]]


def main(arguments: list[str]) -> None:
    """Answer requests until the command hangs up or ends us.

    Parameters
    ----------
    arguments : list of str
        The private folder, then the modules that the template imports.
    """
    private = Path(arguments[0])
    incoming, outgoing = take_streams()
    requests: Messages = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(incoming, requests, private), daemon=True).start()
    # Started first: it imports what the template needs while this process imports what the report needs.
    kernel_parent = _start_kernel_parent(private, arguments[1:])
    while True:
        request = requests.get()
        if not kernel_parent.alive:
            kernel_parent = _start_kernel_parent(private, arguments[1:])
        answer(outgoing, _serve(request, kernel_parent, private, outgoing))


def _start_kernel_parent(private: Path, modules: list[str]) -> Child:
    return Child(
        "pinscar.report.kernel_parent", *modules, environment=os.environ, folder=private, log=private / "log"
    )


def _listen(incoming: IO[str], requests: Messages, private: Path) -> None:
    """Hear requests; if the command was killed, end at once, kernels and layout with us."""
    for line in incoming:
        requests.put(json.loads(line))
    shutil.rmtree(private, ignore_errors=True)
    os.killpg(os.getpgrp(), signal.SIGKILL)


def _serve(
    request: Mapping[str, Any], kernel_parent: Child, private: Path, outgoing: IO[str]
) -> dict[str, Any]:
    try:
        if request["do"] == "check":
            return _check(request)
        from pinscar.report.produce import produce

        sockets = Path(tempfile.mkdtemp(dir=private))
        made = produce(
            request,
            kernel_parent=kernel_parent,
            private=sockets,
            tell=lambda step: answer(outgoing, {"progress": step}),
        )
        return {"status": 0, **made}
    except PinscarError as error:
        return _failure(error, request)
    except Exception as error:
        said = f"internal error: {type(error).__name__}: {' '.join(str(error).split())}; please report it"
        return {"status": 4, "errors": [said], "debug": traceback.format_exc()}


def _check(request: Mapping[str, Any]) -> dict[str, Any]:
    from pinscar.report.subject import read_subject

    read_subject(Path(request["folder"]), request.get("parameters", {}), "")
    return {"status": 0}


def _failure(error: PinscarError, request: Mapping[str, Any]) -> dict[str, Any]:
    from pinscar.problems import Severity
    from pinscar.report.still_to_fill import gathered

    reply: dict[str, Any] = {"status": error.exit_status, "errors": [str(error)]}
    if isinstance(error, InputError):
        grave = [problem for problem in error.problems if problem.severity is Severity.ERROR]
        reply["errors"] = [str(problem) for problem in gathered(grave)]
        reply["problems"] = [problem.as_dict() for problem in error.problems]
    if hasattr(error, "notebook"):
        reply["errors"] = error.errors  # type: ignore[attr-defined]  # TemplateError: its module is slow to import
        reply["problems"] = error.problems  # type: ignore[attr-defined]
        reply["failed"] = _save_failed(error, request)
    return reply


def _save_failed(error: Any, request: Mapping[str, Any]) -> str | None:
    """Write the failed notebook into the scratch folder; an error in that must not hide the first one."""
    if error.notebook is None or error.exit_status != RunError.exit_status:
        return None
    from pinscar.report.clean import mark_failed, notebook_bytes

    with contextlib.suppress(OSError):
        path = Path(request["scratch"]) / "report-failed.ipynb"
        path.write_bytes(notebook_bytes(mark_failed(error.notebook, request["given"], str(error))))
        return str(path)
    return None
