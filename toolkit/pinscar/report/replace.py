"""Put a new report in the place of an old one, as a whole."""

from __future__ import annotations

import ctypes
import errno
import hashlib
import json
import os
import sys
from pathlib import Path

from pinscar.campaign.folder import EVIDENCE
from pinscar.errors import UsageError
from pinscar.report.scratch import OLD

MANIFEST = "manifest.json"
SCHEMA = "pinscar.manifest/1"
DROPPINGS = (".DS_Store", "Thumbs.db", "desktop.ini", ".ipynb_checkpoints")
"""What systems and editors leave in a folder that a person has looked into."""

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


def check_place(out: Path) -> None:
    """Refuse to replace anything but a report as pinscar left it: every file in the way might be wanted.

    Raises
    ------
    UsageError
        If a file, a link or an evidence folder lies there, or a folder with any file that its manifest does
        not have, or has otherwise.

    Examples
    --------
    >>> check_place(Path(__file__))
    Traceback (most recent call last):
    ...
    pinscar.errors.UsageError: ...replace.py is a file; the report needs a folder
    """
    evidence = _evidence_around(out)
    if evidence is not None:
        raise UsageError(f"{evidence} holds the evidence of a campaign; choose another place for the report")
    if not os.path.lexists(out):
        return
    if not out.is_dir() or out.is_symlink():
        raise UsageError(f"{out} is a {'link' if out.is_symlink() else 'file'}; the report needs a folder")
    there = sorted(path for path in out.iterdir() if path.name not in DROPPINGS)
    if not there:
        return
    outputs = _outputs(out)
    if outputs is None:
        raise UsageError(f"{out} is not empty and holds no report; choose another folder, or move it away")
    for path in there:
        if path.name == MANIFEST:
            continue
        if path.name not in outputs:
            raise UsageError(f"{path} is no part of the report and would be lost; move it out of {out}")
        if path.is_symlink() or not path.is_file() or _digest(path) != outputs[path.name]:
            raise UsageError(
                f"{path} is not as the report left it and would be lost; move {out} away, or delete it"
            )


def _evidence_around(out: Path) -> Path | None:
    place = out.resolve()
    for folder in (place, *place.parents):
        if folder.name in EVIDENCE and (folder.parent / "campaign.toml").exists():
            return folder
    return None


def _outputs(out: Path) -> dict[str, str] | None:
    """Return the digests that a manifest of ours has of its files; None where there is none."""
    try:
        manifest = json.loads((out / MANIFEST).read_bytes())
        outputs = dict(manifest["outputs"]) if manifest["schema"] == SCHEMA else None
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
    return outputs or None


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
