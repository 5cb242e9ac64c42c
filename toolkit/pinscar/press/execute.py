"""Run a template: papermill with our own kernel, and one place where every way to fail becomes one line."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import re
import signal
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import nbformat
import papermill
from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from jupyter_client.provisioning.provisioner_base import KernelProvisionerBase
from nbclient.exceptions import CellTimeoutError, DeadKernelError
from nbformat import NotebookNode
from papermill.clientwrap import PapermillNotebookClient
from papermill.engines import Engine, papermill_engines

from pinscar.child import Child, ChildDiedError, describe_end
from pinscar.errors import RunError
from pinscar.press.kernel_app import ERROR_MIME


class OwnKernelSpecs(KernelSpecManager):
    """One kernel, made here: the kernels that are installed on the machine are not used."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        """Return the description of our kernel."""
        return KernelSpec(argv=[], display_name="Python 3", language="python", name=kernel_name)


class ParentedKernel(KernelProvisionerBase):
    """A kernel process started by the kernel parent, seen as jupyter_client wants to see it.

    Attributes
    ----------
    returncode : int or None
        Its exit status once it has ended, negative for a signal.
    """

    parent: Any
    kernel_parent: Child
    folder: Path
    pid: int | None = None
    returncode: int | None = None

    @property
    def has_process(self) -> bool:
        """Whether the kernel was started and has not been seen to end."""
        return self.pid is not None and self.returncode is None

    async def pre_launch(self, **kwargs: Any) -> dict[str, Any]:
        """Write the connection file."""
        self.parent.write_connection_file()
        self.connection_info = self.parent.get_connection_info()
        return await super().pre_launch(cmd=[], **kwargs)

    async def launch_kernel(self, cmd: list[str], **kwargs: Any) -> Any:  # noqa: ARG002  # their signature
        """Have the kernel started."""
        request = {"start": self.parent.connection_file, "folder": str(self.folder)}
        self.pid = self.kernel_parent.ask(request)["pid"]
        return self.connection_info

    async def poll(self) -> int | None:
        """Return the exit status, or None while the kernel runs."""
        if self.has_process:
            try:
                self.returncode = self.kernel_parent.ask({"poll": self.pid})["status"]
            except ChildDiedError:
                # The kernel ends with its parent: what killed the one has ended the other.
                self.returncode = -signal.SIGKILL
        return self.returncode

    async def wait(self) -> int | None:
        """Wait for the end."""
        while await self.poll() is None:
            await asyncio.sleep(0.02)
        return self.returncode

    async def send_signal(self, signum: int) -> None:
        """Send a signal."""
        if self.has_process:
            assert self.pid is not None
            # Safe against reuse: an ended kernel keeps its id until poll() has seen its status.
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signum)

    async def kill(self, restart: bool = False) -> None:  # noqa: ARG002  # their signature
        """Kill the kernel."""
        await self.send_signal(signal.SIGKILL if sys.platform != "win32" else signal.SIGTERM)

    async def terminate(self, restart: bool = False) -> None:  # noqa: ARG002  # their signature
        """Ask the kernel to end."""
        await self.send_signal(signal.SIGTERM)

    async def cleanup(self, restart: bool = False) -> None:
        """Leave nothing behind: files in the private folder go with it."""


def kernel_manager(kernel_parent: Child, private: Path, folder: Path) -> AsyncKernelManager:
    """Make a manager for one kernel.

    Examples
    --------
    ``kernel_manager(parent, Path("/tmp/pinscar-x"), Path("/data/campaign"))``
    """
    manager = AsyncKernelManager(
        transport="ipc" if sys.platform != "win32" else "tcp",
        connection_file=str(private / "kernel.json"),
        kernel_name="python3",
        kernel_spec_manager=OwnKernelSpecs(),
    )
    provisioner = ParentedKernel(kernel_id="template", kernel_spec=manager.kernel_spec, parent=manager)
    provisioner.kernel_parent = kernel_parent
    provisioner.folder = folder
    manager.provisioner = provisioner
    return manager


ENGINE = "pinscar"
START_TIMEOUT = 60
"""Time for a kernel to start [s]."""


class TemplateError(RunError):
    """A template did not run through.

    Attributes
    ----------
    errors : sequence of str
        What to say, a line each; more than one only for the problems of an input.
    notebook : NotebookNode or None
        The notebook as far as it ran.
    exit_status : int
        Exit status of the command.
    problems : sequence of dict
        Problems of the input, where the template found some.
    """

    def __init__(
        self,
        errors: Sequence[str],
        notebook: NotebookNode | None,
        exit_status: int = RunError.exit_status,
        problems: Sequence[Mapping[str, Any]] = (),
    ) -> None:
        super().__init__("; ".join(errors))
        self.errors = list(errors)
        self.notebook = notebook
        self.exit_status = exit_status
        self.problems = list(problems)


class NotebookCellError(Exception):
    """A cell ended in an error; its arguments are the error's name and text."""


@dataclass
class NotebookRun:
    """One run while it is under way: what the engine is given, and what it leaves for the handler.

    Attributes
    ----------
    manager : AsyncKernelManager
        Manager of its kernel.
    timeout : float
        Longest time for one cell [s].
    notebook : NotebookNode, optional
        The notebook, as far as it ran.
    cell : int, optional
        Position of the cell that runs, or ran last.
    tell : callable, optional
        Called with that position when a cell begins.
    """

    manager: AsyncKernelManager
    timeout: float
    notebook: NotebookNode | None = None
    cell: int | None = None
    tell: Callable[[int], None] | None = None

    def at_cell(self, cell: NotebookNode, cell_index: int) -> None:  # noqa: ARG002  # nbclient's signature
        """Note which cell runs: a dead kernel does not tell."""
        self.cell = cell_index
        if self.tell is not None:
            self.tell(cell_index)


class PinscarEngine(Engine):  # type: ignore[misc]  # papermill carries no types
    """Papermill's engine with our kernel, without its files, clocks and progress bar."""

    @classmethod
    def execute_managed_notebook(cls, nb_man: Any, kernel_name: str, *, run: NotebookRun, **_: Any) -> None:
        """Run the cells; the kernel is ended whatever happens."""
        run.notebook = nb_man.nb
        client = PapermillNotebookClient(
            nb_man,
            km=run.manager,
            timeout=max(1, round(run.timeout)),
            startup_timeout=START_TIMEOUT,
            iopub_timeout=START_TIMEOUT,
            kernel_name=kernel_name,
            on_cell_execute=run.at_cell,
            force_raise_errors=True,
            record_timing=False,
            store_widget_state=False,
            shutdown_kernel="immediate",
            log=logging.getLogger(__name__),
        )
        client.execute(cleanup_kc=True)
        # Papermill takes sys.exit(0) for a good end, though no later cell has run.
        for output in (output for cell in run.notebook.cells for output in cell.get("outputs", [])):
            if output.output_type == "error":
                raise NotebookCellError(output.ename, output.evalue)


def run_template(
    notebook: Mapping[str, Any],
    name: str,
    parameters: Mapping[str, object],
    *,
    folder: Path,
    kernel_parent: Child,
    private: Path,
    timeout: float,
    at_cell: Callable[[int], None] | None = None,
) -> NotebookNode:
    """Run a template in a kernel of its own.

    Examples
    --------
    See ``tests/press/test_execute.py``.
    """
    papermill_engines.register(ENGINE, PinscarEngine)
    run = NotebookRun(kernel_manager(kernel_parent, private, folder), timeout, tell=at_cell)
    try:
        executed: NotebookNode = papermill.execute_notebook(
            nbformat.from_dict(dict(notebook)),
            None,
            parameters=dict(parameters),
            engine_name=ENGINE,
            kernel_name="python3",
            language="python",
            progress_bar=False,
            run=run,
        )
    except NotebookCellError as error:
        raise _cell_error(error, run, name) from error
    except (DeadKernelError, CellTimeoutError, ChildDiedError, RuntimeError) as error:
        raise TemplateError([f"{_place(run, name)}: {_reason(error, run)}"], run.notebook) from error
    return executed


def _cell_error(error: NotebookCellError, run: NotebookRun, name: str) -> TemplateError:
    ours = _our_error(run)
    if ours:
        return TemplateError(ours["errors"], run.notebook, ours["exit_status"], ours["problems"])
    kind, text = error.args
    # A syntax error names a file that exists only inside the kernel.
    text = re.sub(r"\(\d+\.py, (line \d+)\)", r"(\1)", " ".join(text.split()))
    said = f"{kind}: {text}" if text else kind
    return TemplateError([f"{_place(run, name)}: {said}"], run.notebook)


def _our_error(run: NotebookRun) -> dict[str, Any] | None:
    for cell in run.notebook.cells if run.notebook else []:
        for output in cell.get("outputs", []):
            record: dict[str, Any] | None = output.get("data", {}).get(ERROR_MIME)
            if record:
                return record
    return None


def _reason(error: Exception, run: NotebookRun) -> str:
    if isinstance(error, CellTimeoutError):
        return f"took longer than {run.timeout:g} s"
    if isinstance(error, ChildDiedError):
        return f"the process that starts kernels {error}"
    status = getattr(run.manager.provisioner, "returncode", None)
    if isinstance(error, DeadKernelError) or run.cell is None:
        return f"the kernel {describe_end(status) if status is not None else 'did not start'}"
    # Not a way to fail that is known here: it is reported as an internal error, with its traceback.
    raise error


def _place(run: NotebookRun, name: str) -> str:
    if run.cell is None or run.notebook is None:
        return f"template {name}"
    cells = run.notebook.cells[: run.cell + 1]
    position = sum("injected-parameters" not in cell.metadata.get("tags", []) for cell in cells)
    return f"template {name}, cell {position} ({cells[-1].get('id', 'no id')})"
