"""How far a campaign folder reaches: nothing in it leads to a file outside, by a link or by a path."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path, PurePosixPath, PureWindowsPath

from pinscar.campaign.codes import error
from pinscar.problems import Problem

ROOT = "PINSCAR_ROOT"
"""The environment variable by which a person names a folder around several; ``--root`` sets it."""


def root_of(folder: Path) -> Path:
    """Return the folder that nothing of a campaign may lead out of: its own, or a named one around it."""
    own = folder.resolve()
    named = os.environ.get(ROOT)
    around = Path(named).resolve() if named else own
    return around if own.is_relative_to(around) else own


def is_outside(path: Path, root: Path) -> bool:
    """Tell whether a path leads out of a folder, through links too; a link in a circle leads nowhere."""
    try:
        return not path.resolve().is_relative_to(root)
    except (OSError, RuntimeError):
        return True


def is_absolute(name: str) -> bool:
    """Tell whether a path is one from the top of some system's files."""
    windows = PureWindowsPath(name)
    return PurePosixPath(name).is_absolute() or bool(windows.drive or windows.root)


def reach_problems(folder: Path, names: Sequence[str], kinds: Sequence[str]) -> Iterator[Problem]:
    """Find what is no plain file in the folder: links that lead out, pipes, devices.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign folder.
    names : sequence of str
        Files that pinscar reads in it.
    kinds : sequence of str
        Folders in it whose files pinscar reads.

    Yields
    ------
    Problem
        An error each.
    """
    root = root_of(folder)
    for name in names:
        yield from _of_file(folder / name, name, root)
    for kind in kinds:
        if is_outside(folder / kind, root):
            yield _leads_out(kind)
        elif (folder / kind).is_dir():
            for path in sorted((folder / kind).iterdir()):
                if not path.name.startswith((".", "~")) and not path.is_dir():
                    yield from _of_file(path, f"{kind}/{path.name}", root)


def _of_file(path: Path, name: str, root: Path) -> Iterator[Problem]:
    if not os.path.lexists(path):
        return
    if is_outside(path, root):
        yield _leads_out(name)
        return
    try:
        mode = path.stat().st_mode
    except OSError:
        return  # a link to nothing, or no right to look: opening the file says so
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        message = "this is a pipe or a device and no file, and is not read"
        yield error("file-not-plain", name, message, "put a plain file in its place")


def _leads_out(name: str) -> Problem:
    message = "this is a link that leads out of the campaign folder, and it is not followed"
    mend = "copy what it leads to into the folder, or name a folder around both: --root"
    return error("link-outside", name, message, mend)
