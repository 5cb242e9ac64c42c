"""Run a template: papermill with our own kernel, and one place where every way to fail becomes one line."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import nbformat
import papermill
from jupyter_client.manager import AsyncKernelManager
from nbclient.exceptions import CellTimeoutError, DeadKernelError
from nbformat import NotebookNode
from papermill.clientwrap import PapermillNotebookClient
from papermill.engines import Engine, papermill_engines

from pinscar.child import Child, ChildDiedError, describe_end
from pinscar.errors import RunError
from pinscar.press.kernel import kernel_manager
from pinscar.press.kernel_app import ERROR_MIME

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
