"""Where a worker process begins: the process of its kernels is started before anything else is imported."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path

from pinscar.child import Child, skip_unused_imports, take_streams


def start_kernel_parent(private: Path, modules: list[str]) -> Child:
    """Start the process that kernels come from."""
    return Child(
        "pinscar.press.kernel_parent", *modules, environment=os.environ, folder=private, log=private / "log"
    )


def main(arguments: list[str]) -> None:
    """Answer requests until the command hangs up or ends us."""
    skip_unused_imports()
    private, modules = Path(arguments[0]), arguments[1:]
    incoming, outgoing = take_streams()
    # It imports what the template needs while this process imports what the report needs.
    start = partial(start_kernel_parent, private, modules)
    kernel_parent = start()
    from pinscar.press.worker import serve

    serve(incoming, outgoing, private, kernel_parent, start)
