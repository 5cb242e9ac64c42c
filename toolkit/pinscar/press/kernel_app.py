"""The kernel that a template runs in: IPython's, with none of the person's own settings."""

from __future__ import annotations

import os
from pathlib import Path
from types import TracebackType
from typing import Any

from ipykernel.kernelapp import IPKernelApp
from traitlets.config import Config

from pinscar.child import skip_unused_imports
from pinscar.errors import InputError, PinscarError
from pinscar.import_path import PYARROW, let_pyarrow_in
from pinscar.press.handover import announce

ERROR_MIME = "application/vnd.pinscar.error+json"
"""Output by which an error of ours leaves the kernel whole, with its problems and its exit status."""


class TemplateKernel(IPKernelApp):
    """IPython's kernel application without configuration files, profile start-up files or extensions."""

    def load_config_file(self, *_: object, **__: object) -> None:
        """Read no configuration file, of the person's or of the machine's."""

    def init_extensions(self) -> None:
        """Load no extension."""

    def init_code(self) -> None:
        """Run no start-up file."""


def run_kernel(connection_file: str) -> None:
    """Run a kernel until it is told to stop.

    Examples
    --------
    ``main([connection_file])`` is what a kernel process runs.
    """
    announce(Path(connection_file).parent)
    kernel: Any = TemplateKernel.instance(
        connection_file=connection_file,
        config=Config({"HistoryManager": {"enabled": False}}),
        parent_handle=os.getppid(),
        capture_fd_output=False,
        # A numpy.py lying in a campaign folder must not be imported.
        ignore_cwd=True,
    )
    kernel.initialize([])
    kernel.shell.set_custom_exc((PinscarError,), _show_our_error)
    kernel.start()


def _show_our_error(
    shell: Any,
    kind: type[PinscarError],
    error: PinscarError,
    trace: TracebackType,
    tb_offset: int | None = None,
) -> None:
    from IPython.display import publish_display_data

    problems = [problem.as_dict() for problem in error.problems] if isinstance(error, InputError) else []
    lines = [str(problem) for problem in error.problems] if isinstance(error, InputError) else [str(error)]
    record = {"exit_status": error.exit_status, "errors": lines, "problems": problems}
    publish_display_data({ERROR_MIME: record})
    shell.showtraceback((kind, error, trace), tb_offset=tb_offset)


def main(arguments: list[str]) -> None:
    """Run a kernel in a process of its own.

    Examples
    --------
    ``python_command("pinscar.press.kernel_app", connection_file, folder)``
    """
    connection_file, folder, *modules = arguments
    skip_unused_imports()
    if PYARROW in modules:
        let_pyarrow_in(by_pandas=True)
    import matplotlib  # noqa: F401 - it reads its settings here, in a folder of ours

    os.chdir(folder)
    run_kernel(connection_file)
