"""A campaign folder to begin with."""

from __future__ import annotations

import shutil
from pathlib import Path

from pinscar.errors import UsageError
from pinscar.report.scratch import cannot_write
from pinscar.report.shipped import nearest, shipped_folder

STARTER = "new_campaign"


def demo_names() -> list[str]:
    """Return the names of the demo campaigns.

    Returns
    -------
    list of str
        Folders of ``data_demo`` that hold a campaign.

    """
    return sorted(path.parent.name for path in shipped_folder("data_demo").glob("*/campaign.toml"))


def refuse_folder(folder: Path) -> None:
    """Refuse a folder that a campaign cannot be made in.

    Parameters
    ----------
    folder : pathlib.Path
        The folder.

    Raises
    ------
    UsageError
        If something lies there already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(f"{folder} already exists and is not empty; choose another name")


def new_campaign(folder: Path, demo: str | None = None) -> list[str]:
    """Make a campaign folder.

    Parameters
    ----------
    folder : pathlib.Path
        The folder: not there yet, or empty.
    demo : str, optional
        Name of a demo campaign to copy; without it a starter with every column and a few example runs.

    Returns
    -------
    list of str
        Names of the files made.

    Raises
    ------
    UsageError
        If something lies there already, or there is no such demo.
    RunError
        If the folder cannot be written.
    """
    refuse_folder(folder)
    if demo is not None and demo not in demo_names():
        raise UsageError(f"no demo campaign called {demo!r}{nearest(demo, demo_names())}")
    source = shipped_folder("templates") / STARTER if demo is None else shipped_folder("data_demo") / demo
    leave_out = shutil.ignore_patterns("report", "report-failed.ipynb", ".*")
    try:
        shutil.copytree(source, folder, ignore=leave_out, dirs_exist_ok=True)
    except (OSError, shutil.Error) as error:
        raise cannot_write(
            folder.parent, error if isinstance(error, OSError) else OSError(str(error))
        ) from error
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
