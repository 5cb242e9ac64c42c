"""A helper process that answers one line of JSON with another, and ends with the process that started it."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import site
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO, Any

from pinscar.errors import RunError

PACKAGE = Path(__file__).resolve().parent
"""The folder of the package."""

FIXED = {
    "PYTHONHASHSEED": "0",
    "PYTHONUTF8": "1",
    "TZ": "UTC",
    "LANG": "C.UTF-8",
    "LC_ALL": "C.UTF-8",
    "MPLBACKEND": "Agg",
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "VECLIB_MAXIMUM_THREADS": "1",
    "SOURCE_DATE_EPOCH": "315532800",
    "PYDANTIC_DISABLE_PLUGINS": "__all__",
}
"""What a report may not take from the person's environment: the same bytes must come out anywhere."""

DROPPED = ("PYTHON", "IPYTHON", "JUPYTER", "JPY_", "MPL", "MATPLOTLIB", "LC_", "LANGUAGE", "PYDANTIC_")
"""How the names of variables begin that no helper process inherits: they steer what it reads, or where it
imports from."""


class ChildDiedError(RunError):
    """A helper process ended before it answered; its text says how, as in ``was killed by SIGKILL``."""


def child_environment(private: Path) -> dict[str, str]:
    """Return the environment of everything that makes bytes of a report.

    Examples
    --------
    >>> child_environment(Path("/p"))["PYTHONHASHSEED"]
    '0'
    """
    ours = {
        "TMPDIR": private,
        "IPYTHONDIR": private / "ipython",
        "MATPLOTLIBRC": private / "matplotlibrc",
        **{f"JUPYTER_{name}_DIR": private / "jupyter" for name in ("CONFIG", "DATA", "RUNTIME")},
    }
    paths = {name: str(path) for name, path in ours.items()}
    return {**clean_environment(), "JUPYTER_NO_CONFIG": "1", **paths}


def clean_environment() -> dict[str, str]:
    """Return the environment without what steers an interpreter or its libraries, and with what we fix."""
    return {k: v for k, v in os.environ.items() if not k.startswith(DROPPED)} | FIXED


def python_command(module: str, *arguments: str) -> list[str]:
    """Return the command that runs ``main(arguments)`` of a module, importing from the installation alone.

    Neither the working folder nor a folder of the person's (``PYTHONPATH``, ``usercustomize``) is imported
    from: a file such as ``json.py`` in a campaign folder must not run.

    Examples
    --------
    >>> python_command("pinscar.press.worker")[-1]
    'pinscar.press.worker'
    """
    # Where pinscar is not installed but runs from its source, its own folder is added, after the
    # standard library.
    start = (
        "import sys; here = sys.argv[1]; "
        "at = [i for i, p in enumerate(sys.path) if p.endswith('-packages')] + [len(sys.path)]; "
        "here in sys.path or sys.path.insert(at[0], here); "
        "from pinscar.import_path import collect_seldom, keep_pyarrow_out; "
        "collect_seldom(); keep_pyarrow_out(); "
        "import importlib; importlib.import_module(sys.argv[2]).main(sys.argv[3:])"
    )
    return [sys.executable, *_flags(), "-c", start, str(PACKAGE.parent), module, *arguments]


def _flags() -> list[str]:
    """Return the switches that keep strangers' files out; the person's packages stay where pinscar is one."""
    own = site.getusersitepackages() if site.ENABLE_USER_SITE else None
    return ["-P"] if own is not None and PACKAGE.is_relative_to(own) else ["-P", "-s"]


def describe_end(status: int) -> str:
    """Say how a process ended.

    Examples
    --------
    >>> describe_end(-9), describe_end(3)
    ('was killed by SIGKILL', 'ended with status 3')
    """
    if status >= 0:
        return f"ended with status {status}"
    try:
        return f"was killed by {signal.Signals(-status).name}"
    except ValueError:
        return f"was killed by signal {-status}"


class Child:
    """The near end of a helper process.

    Attributes
    ----------
    module : str
        Module whose ``main`` it runs.
    *arguments : str
        Arguments of that ``main``.
    environment : mapping
        Its environment.
    folder : pathlib.Path
        Its working folder.
    log : pathlib.Path
        File that what it writes to standard error is added to.
    leader : bool
        Whether it leads a process group of its own, which `end` then ends as a whole, and which a
        keyboard interrupt does not reach.
    """

    def __init__(
        self,
        module: str,
        *arguments: str,
        environment: Mapping[str, str],
        folder: Path,
        log: Path,
        leader: bool = False,
    ) -> None:
        self._leader = leader
        with log.open("ab") as errors:
            self._process = subprocess.Popen(
                python_command(module, *arguments),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                env=dict(environment),
                cwd=folder,
                start_new_session=leader,
            )

    @property
    def alive(self) -> bool:
        """Whether it still runs."""
        return self._process.poll() is None

    def send(self, message: Mapping[str, Any]) -> None:
        """Send a message.

        Examples
        --------
        Used by `ask`; alone where the answer is wanted later.
        """
        # If the child is dead, receive() says how it died: more than a broken pipe tells.
        with contextlib.suppress(BrokenPipeError):
            assert self._process.stdin is not None
            self._process.stdin.write(json.dumps(message).encode() + b"\n")
            self._process.stdin.flush()

    def receive(self) -> dict[str, Any]:
        """Wait for the next message."""
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        if not line.endswith(b"\n"):
            raise ChildDiedError(describe_end(self._process.wait()))
        answer: dict[str, Any] = json.loads(line)
        return answer

    def ask(
        self, message: Mapping[str, Any], told: Callable[[Mapping[str, Any]], None] | None = None
    ) -> dict[str, Any]:
        """Send a message and wait for the answer; what is told of the progress meanwhile is passed on."""
        self.send(message)
        while "progress" in (answered := self.receive()):
            if told is not None:
                told(answered["progress"])
        return answered

    def end(self) -> None:
        """End the child, with its group where it leads one, and wait until it is gone."""
        with contextlib.suppress(ProcessLookupError, PermissionError):
            if self._leader and hasattr(os, "killpg"):
                os.killpg(self._process.pid, signal.SIGKILL)
            else:
                self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):
                assert pipe is not None
                pipe.close()


def skip_unused_imports() -> None:
    """Keep out of this process what jsonschema imports where it can and what no notebook needs.

    ``rfc3987_syntax`` checks international web addresses: it builds its grammar when it is imported, which
    takes a third of the time of importing all that a template needs. The notebook format has no such field,
    and jsonschema goes without where the import fails.
    """
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]  # None makes the import fail


def take_streams() -> tuple[IO[str], IO[str]]:
    """Take the pipes of a helper process for its messages; what its code prints goes to the log instead.

    Examples
    --------
    ``incoming, outgoing = take_streams()`` is the first line of a helper's ``main``.
    """
    incoming = os.fdopen(os.dup(0), "r", encoding="utf-8")
    outgoing = os.fdopen(os.dup(1), "w", encoding="utf-8")
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    os.dup2(2, 1)
    return incoming, outgoing


def answer(outgoing: IO[str], message: Mapping[str, Any]) -> None:
    r"""Write one message to the parent.

    Examples
    --------
    >>> import io
    >>> stream = io.StringIO()
    >>> answer(stream, {"ready": True}); stream.getvalue()
    '{"ready": true}\n'
    """
    outgoing.write(json.dumps(message) + "\n")
    outgoing.flush()
