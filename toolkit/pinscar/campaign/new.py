"""Starting a campaign: a folder to fill in, or a copy of a demo."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Iterable
from importlib.resources import files
from pathlib import Path

from pinscar.campaign.columns import LOAD_STEPS, READINGS, RUNS, Column
from pinscar.campaign.folder import FILES
from pinscar.errors import RunError, UsageError


def new_campaign(folder: Path | str) -> list[Path]:
    """Write a starter campaign folder: campaign.toml with comments, and tables with every column.

    runs.csv holds two example rows that are marked excluded, so that no report is made of invented values.

    Parameters
    ----------
    folder : Path or str
        The folder; made where it isn't there. Its name becomes the campaign's id.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    UsageError
        When it is a file, or holds a campaign already; then nothing is written.
    RunError
        When it cannot be written.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as parent:
    ...     [path.name for path in new_campaign(Path(parent) / "hoist-01")]
    ['campaign.toml', 'runs.csv', 'load_steps.csv', 'readings.csv']
    """
    folder = Path(folder)
    _refuse_taken(folder)
    settings = (files("pinscar.campaign") / "starter" / "campaign.toml").read_text(encoding="utf-8")
    # a JSON string is a TOML string too
    settings = settings.replace("@ID@", json.dumps(folder.resolve().name, ensure_ascii=False))
    texts = {
        "campaign.toml": settings,
        "runs.csv": _table(
            [column for column in RUNS if column.name not in {"weights", "run_day"}], _example_rows()
        ),
        "load_steps.csv": _table([column for column in LOAD_STEPS if column.name != "weights"]),
        "readings.csv": _table(READINGS),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            with (folder / name).open("x", encoding="utf-8", newline="") as stream:
                stream.write(text)
    except OSError as failure:
        raise RunError(
            f"{folder} cannot be written: {(failure.strerror or 'unknown reason').lower()}"
        ) from failure
    return [folder / name for name in texts]


def _refuse_taken(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder} is a file; name a folder")
    taken = [name for name in FILES if (folder / name).exists()]
    if taken:
        raise UsageError(
            f"{folder} already holds {', '.join(taken)}; nothing was written; name another folder"
        )


def _table(columns: Iterable[Column], rows: Iterable[dict[str, str]] = ()) -> str:
    columns = list(columns)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.header for column in columns])
    writer.writerows([[row.get(column.name, "") for column in columns] for row in rows])
    return text.getvalue()


def _example_rows() -> list[dict[str, str]]:
    shared = {
        "load": "450", "duration": "60", "wear_stopped": "yes", "smoke": "none",
        "ambient_temperature": "20.5", "operator": "op1", "ring_id": "G-31", "pin_lot": "P-114",
        "pin_state": "new", "dose": "2.0", "excluded": "example row, to be deleted",
    }  # fmt: skip
    reference = {
        "run_id": "h01", "lubricant": "R-10", "scar_length": "4.10", "scar_width": "2.20", "quiet_time": "41",
        "peak_temperature": "58", "fling_mass": "21", "drips": "2", "run_at": "2026-03-02T08:10",
    }  # fmt: skip
    candidate = {
        "run_id": "h02", "lubricant": "C-21", "scar_length": "3.40", "scar_width": "1.82", "quiet_time": "33",
        "peak_temperature": "54", "fling_mass": "14", "drips": "0", "run_at": "2026-03-02T08:30",
    }  # fmt: skip
    return [{**shared, **reference}, {**shared, **candidate}]


def copy_demo(source: Path, folder: Path | str) -> list[Path]:
    """Copy a demo campaign, without reports made of it.

    Parameters
    ----------
    source : Path
        The demo campaign's folder.
    folder : Path or str
        Where to copy it.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    UsageError
        When there is no such demo, or the folder is a file or holds a campaign already.
    RunError
        When it cannot be written.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> copy_demo(Path("nowhere"), "copy")
    Traceback (most recent call last):
        ...
    pinscar.errors.UsageError: there is no demo campaign nowhere
    """
    folder = Path(folder)
    if not (source / "campaign.toml").is_file():
        raise UsageError(f"there is no demo campaign {source.name}")
    _refuse_taken(folder)
    try:
        shutil.copytree(
            source, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("report*", ".*", "__pycache__")
        )
    except (OSError, shutil.Error) as failure:
        raise RunError(f"{folder} cannot be written") from failure
    return sorted(
        folder / path.relative_to(source)
        for path in source.rglob("*")
        if (folder / path.relative_to(source)).is_file()
    )
