"""Our kernel manager: kernels from the kernel parent, over sockets in a private folder."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import sys
from pathlib import Path
from typing import Any

from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from jupyter_client.provisioning.provisioner_base import KernelProvisionerBase

from pinscar.child import Child, ChildDiedError


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
