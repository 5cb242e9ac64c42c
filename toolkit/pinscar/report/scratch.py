"""The hidden folder a report is made in, beside where it will lie; what a killed run left there is mended."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from pinscar.errors import RunError

ROOM = 64 * 1024 * 1024
"""Free room asked for before a report is begun [bytes]: some ten times what one takes."""

NEW = "report"
OLD = "replaced"
"""Names inside the scratch folder: the report being made, and the one being replaced."""


@contextlib.contextmanager
def scratch_folder(out: Path) -> Iterator[Path]:
    """Give a scratch folder on the file system of the report, and remove it whatever happens.

    Parameters
    ----------
    out : pathlib.Path
        Where the report will lie; its parent exists.

    Yields
    ------
    pathlib.Path
        A new folder beside it.

    Raises
    ------
    RunError
        If the parent cannot be written or has no room left: said before anything is run.

    References
    ----------
    POSIX, ``rename``: atomic within one file system only, hence beside it.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as parent, scratch_folder(Path(parent) / "report") as folder:
    ...     folder.is_dir(), folder.parent == Path(parent)
    (True, True)
    """
    check_room(out.parent)
    try:
        folder = Path(tempfile.mkdtemp(prefix=f".pinscar-{out.name}-", dir=out.parent))
    except OSError as error:
        raise cannot_write(out.parent, error) from error
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def cannot_write(folder: Path, error: OSError) -> RunError:
    """Return the error for a folder that could not be written.

    Parameters
    ----------
    folder : pathlib.Path
        The folder.
    error : OSError
        What the system said.

    Returns
    -------
    RunError
        To be raised.

    References
    ----------
    POSIX, ``strerror``.

    Examples
    --------
    >>> str(cannot_write(Path("out"), OSError(28, "No space left on device")))
    'cannot write into out: no space left on device'
    """
    return RunError(f"cannot write into {folder}: {(error.strerror or str(error)).lower()}")


def check_room(folder: Path) -> None:
    """Refuse to begin where the disk is as good as full.

    Parameters
    ----------
    folder : pathlib.Path
        A folder on the file system in question.

    Raises
    ------
    RunError
        If less than 64 MB are free.

    Examples
    --------
    >>> check_room(Path(tempfile.gettempdir()))
    """
    free = shutil.disk_usage(folder).free
    if free < ROOM:
        raise RunError(f"no room in {folder}: {free / 1e6:.0f} MB are free, {ROOM / 1e6:.0f} MB are needed")


def sweep(out: Path) -> None:
    """Mend what a killed run left: bring a report back that was being replaced, remove scratch folders.

    Parameters
    ----------
    out : pathlib.Path
        Where the report lies; the caller holds its lock.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as parent:
    ...     Path(parent, ".pinscar-report-abcd_123", OLD).mkdir(parents=True)
    ...     sweep(Path(parent, "report"))
    ...     os.listdir(parent)
    ['report']
    """
    ours = re.compile(rf"\.pinscar-{re.escape(out.name)}-[a-z0-9_]{{8}}")
    for folder in sorted(out.parent.iterdir()):
        if ours.fullmatch(folder.name) and folder.is_dir() and not folder.is_symlink():
            if (folder / OLD).is_dir() and not os.path.lexists(out):
                (folder / OLD).rename(out)
            shutil.rmtree(folder, ignore_errors=True)
