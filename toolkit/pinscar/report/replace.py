"""Put a new report in the place of an old one, as a whole."""

from __future__ import annotations

import ctypes
import errno
import os
import sys
from pathlib import Path

from pinscar.errors import UsageError
from pinscar.report.scratch import OLD

AT_FDCWD = -100
RENAME_EXCHANGE = 2


def exchange(one: Path, other: Path) -> bool:
    """Exchange the names of two folders in one step.

    Parameters
    ----------
    one, other : pathlib.Path
        Both exist, on one file system.

    Returns
    -------
    bool
        False where the system or the file system cannot do so: nothing has happened then.

    References
    ----------
    Linux, ``renameat2(2)``, ``RENAME_EXCHANGE``.

    Examples
    --------
    >>> exchange(Path("/no/such/folder"), Path("/none/either"))
    Traceback (most recent call last):
    ...
    FileNotFoundError: [Errno 2] ...
    """
    function = (
        getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None) if sys.platform == "linux" else None
    )
    if function is None:
        return False
    if function(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(other), RENAME_EXCHANGE) == 0:
        return True
    number = ctypes.get_errno()
    if number in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP):
        return False
    raise OSError(number, os.strerror(number), str(one))


def replace_folder(new: Path, out: Path) -> None:
    """Put a folder in the place of another, or where nothing was.

    Parameters
    ----------
    new : pathlib.Path
        The new report, in a scratch folder beside `out`, which takes the old one.
    out : pathlib.Path
        Where it shall lie.

    References
    ----------
    POSIX, ``rename``. Where an exchange in one step is not to be had, there is an instant without a report;
    a run killed in it is mended by `pinscar.report.scratch.sweep`.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as parent:
    ...     new, out = Path(parent, "scratch", "report"), Path(parent, "report")
    ...     for folder, text in ((new, "new"), (out, "old")):
    ...         folder.mkdir(parents=True); _ = (folder / "a").write_text(text)
    ...     replace_folder(new, out)
    ...     (out / "a").read_text()
    'new'
    """
    sync(new)
    if not os.path.lexists(out):
        new.rename(out)
    elif not exchange(new, out):
        out.rename(new.parent / OLD)
        new.rename(out)


def sync(folder: Path) -> None:
    """Bring the files of a folder to the disk, so that a power cut after the rename finds them whole.

    Parameters
    ----------
    folder : pathlib.Path
        The folder.

    References
    ----------
    POSIX, ``fsync``.

    Examples
    --------
    >>> import tempfile
    >>> sync(Path(tempfile.mkdtemp()))
    """
    for path in folder.iterdir():
        with path.open("rb") as file:
            os.fsync(file.fileno())


def check_place(out: Path, *, default: bool) -> None:
    """Refuse to replace what is not a report.

    Parameters
    ----------
    out : pathlib.Path
        Where the report shall lie.
    default : bool
        Whether it is the campaign's own ``report`` folder, which pinscar may always replace.

    Raises
    ------
    UsageError
        If a file lies there, or a folder with anything in it and no manifest.json.

    Examples
    --------
    >>> check_place(Path(__file__), default=True)
    Traceback (most recent call last):
    ...
    pinscar.errors.UsageError: ...replace.py is a file; the report needs a folder
    """
    if not os.path.lexists(out):
        return
    if not out.is_dir() or out.is_symlink():
        raise UsageError(f"{out} is a {'link' if out.is_symlink() else 'file'}; the report needs a folder")
    if not default and any(out.iterdir()) and not (out / "manifest.json").is_file():
        raise UsageError(f"{out} is not empty and holds no report; choose another folder")
