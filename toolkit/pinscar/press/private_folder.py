"""Folders of our own for temporary files; what a killed run left of them is removed by the next one."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from pinscar.errors import RunError

if TYPE_CHECKING:
    from filelock import BaseFileLock

LONGEST = 60
"""Longest path for the private folder: the name of a socket in it may have about 100 characters."""

OWNER = "owner.lock"
"""A file in it that its owner holds a lock on; the system lets go of it however the owner dies."""

NAME = re.compile(r"pinscar-[a-z0-9_]{8}")

UNLOCKED = 600.0
"""Age at which a folder without that file, so a run that died within its first instant, is removed [s]."""


class PrivateFolder:
    """A private folder with a short path, readable by this person only.

    Attributes
    ----------
    path : pathlib.Path
        The folder.
    """

    def __init__(self) -> None:
        import filelock

        try:
            self.path = _make()
            self._lock: BaseFileLock = filelock.FileLock(self.path / OWNER)
            self._lock.acquire(timeout=0)
            (self.path / "matplotlibrc").touch()  # empty, so that no one else's is read
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise RunError(
                f"cannot make a folder for temporary files in {_place()}: {why}; name another in TMPDIR"
            ) from error

    def remove(self) -> None:
        """Remove the folder with all that is in it."""
        # While the lock is held, so that no other run takes the folder for one of a dead owner.
        empty_private(self.path)
        self._lock.release()
        remove_private(self.path)

    def __enter__(self) -> Path:
        return self.path

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.remove()


def empty_private(path: Path) -> None:
    """Remove all that is in a private folder but the owner's file."""
    with contextlib.suppress(OSError):
        for one in list(path.iterdir()):
            if one.is_dir() and not one.is_symlink():
                shutil.rmtree(one, ignore_errors=True)
            elif one.name != OWNER:
                one.unlink(missing_ok=True)


def remove_private(path: Path) -> None:
    """Remove a private folder, the owner's file last: without it no later run knows whose folder it was.

    A process that is killed meanwhile leaves it to the next run; so does another that still writes there.
    """
    empty_private(path)
    with contextlib.suppress(OSError):
        if [one.name for one in path.iterdir()] in ([], [OWNER]):
            (path / OWNER).unlink(missing_ok=True)
            path.rmdir()


def _place() -> str:
    try:
        return tempfile.gettempdir()
    except OSError:
        return os.environ.get("TMPDIR", "/tmp")


def _make() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="pinscar-"))
    if len(str(folder)) > LONGEST and os.access("/tmp", os.W_OK):
        folder.rmdir()
        folder = Path(tempfile.mkdtemp(prefix="pinscar-", dir="/tmp"))
    return folder


def sweep_private(places: Iterator[Path] | None = None) -> None:
    """Remove private folders whose owner is dead."""
    for place in places or iter({Path(_place()), Path("/tmp")}):
        with contextlib.suppress(OSError):
            for path in sorted(place.iterdir()):
                if NAME.fullmatch(path.name):
                    with contextlib.suppress(OSError):
                        _sweep_one(path)


def _sweep_one(path: Path) -> None:
    import filelock

    found = path.lstat()
    if not path.is_dir() or path.is_symlink() or (hasattr(os, "geteuid") and found.st_uid != os.geteuid()):
        return
    if not (path / OWNER).is_file() or (path / OWNER).is_symlink():
        if time.time() - found.st_mtime > UNLOCKED:
            path.rmdir()  # only where it is empty
        return
    lock = filelock.FileLock(path / OWNER)
    with contextlib.suppress(filelock.Timeout), lock.acquire(timeout=0):
        remove_private(path)
