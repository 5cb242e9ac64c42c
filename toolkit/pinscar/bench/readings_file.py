"""A reading saved in readings.csv: added at the end, the file replaced in one step, or left as it was."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pinscar.campaign.codes import error
from pinscar.campaign.columns import READINGS, RUNS
from pinscar.campaign.folder import is_outside, root_of, runs_file
from pinscar.campaign.frames import empty_frame, read_frame
from pinscar.campaign.scar_readings import (
    FILE,
    Reading,
    next_number,
    number_readings,
    unknown_runs,
    with_reading,
)
from pinscar.campaign.spreadsheets import TextTable
from pinscar.campaign.tables import parse_csv, read_csv, read_text
from pinscar.errors import InputError, Problem, RunError, Severity, UsageError
from pinscar.press.files import locked, put_file

PATIENCE = 5.0
"""How long a reading waits for another writer [s]: long enough for a second reader, not for a report."""
MARK = b"\xef\xbb\xbf"


def saved_readings(folder: Path, run_ids: Collection[str]) -> pd.DataFrame:
    """Read the readings that a campaign has."""
    if not _place(folder).exists():
        return empty_frame(READINGS)
    table, problems = read_csv(folder / FILE, FILE)
    return _checked(table, problems, run_ids)


@dataclass(frozen=True, slots=True)
class Saved:
    """A reading that was saved, and what it takes to take it back.

    Attributes
    ----------
    number : str
        Number of the reading.
    before : bytes or None
        What the file held before; None where there was none.
    after : bytes
        What it holds since.
    """

    number: str
    before: bytes | None
    after: bytes


def save_reading(folder: Path, reading: Reading, run_ids: Collection[str]) -> str:
    """Add a reading to readings.csv, or begin the file."""
    return save_with_undo(folder, reading, run_ids).number


def take_back(folder: Path, saved: Saved) -> None:
    """Put readings.csv back to what it was before a reading, if nobody has changed it since."""
    path = _place(folder)
    with locked(folder / "report", PATIENCE):
        if not path.exists() or path.read_bytes() != saved.after:
            raise RunError(f"{FILE} was changed since; take the row out by hand")
        if saved.before is None:
            path.unlink()
        else:
            _replace(path, saved.before)


def save_with_undo(folder: Path, reading: Reading, run_ids: Collection[str]) -> Saved:
    """Add a reading to readings.csv, or begin the file, and remember what it held.

    The lock is the report's, so that no report is made of a folder that changes meanwhile.
    """
    if not reading.reader.strip() or not reading.reader.isprintable():
        raise UsageError("the reader needs a name, in one line")
    if not (reading.length > 0 and reading.width > 0):
        raise UsageError("length and width of a scar must be more than zero")
    path = _place(folder)
    with locked(folder / "report", PATIENCE):
        readings = saved_readings(folder, run_ids)
        held = path.read_bytes() if path.exists() else None
        raw = held or b""
        mark = MARK if raw.startswith(MARK) else b""
        number = next_number(readings, reading.run_id, reading.reader)
        before = _as_utf8(raw.removeprefix(mark))
        after = with_reading(before, reading, number, semicolons=_runs_have_semicolons(folder))
        _checked(*parse_csv(after, FILE), run_ids)
        _compare(before, after)
        written = mark + after.encode("utf-8")
        _replace(path, written)
    return Saved(number, held, written)


def _as_utf8(raw: bytes) -> str:
    """Give the text of the file; to one in an older encoding no row of ours can be added."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as failure:
        row = raw[: failure.start].count(b"\n") + 1
        message = "the file is not UTF-8 text, so no reading can be added to it"
        raise InputError(
            [error("file-encoding", FILE, message, "save it again as CSV UTF-8", row=row)]
        ) from None


def _place(folder: Path) -> Path:
    if is_outside(folder / FILE, root_of(folder)):
        raise RunError(f"{folder / FILE} is a link that leads out of the campaign folder; put a file there")
    return (folder / FILE).resolve()


def _checked(table: TextTable | None, problems: list[Problem], run_ids: Collection[str]) -> pd.DataFrame:
    if table is None:
        raise InputError(problems)
    read = read_frame(table, READINGS)
    frame, twice = number_readings(read.frame)
    found = [one for one in problems if one.code != "table-no-rows"] + read.problems + twice
    found += unknown_runs(run_ids, frame)
    if wrong := [one for one in found if one.severity is Severity.ERROR]:
        raise InputError(wrong)
    return frame


def _compare(before: str, after: str) -> None:
    """Stop before anything is written, should the new text not hold the old rows and one more."""
    old, new = parse_csv(before, FILE)[0], parse_csv(after, FILE)[0]
    if old is None:
        return
    width = len(old.header)
    if (
        new is None
        or new.header[:width] != old.header
        or tuple((row, cells[:width]) for row, cells in new.rows[:-1]) != old.rows
    ):
        raise RunError(f"{FILE} can't be added to as it stands; save it anew from a spreadsheet as CSV UTF-8")


def _runs_have_semicolons(folder: Path) -> bool:
    """Tell how a new file is separated: as the runs table beside it."""
    name, _ = runs_file(folder)
    if name != "runs.csv":
        return False
    text, _ = read_text(folder / name, name)
    table = parse_csv(text, name)[0] if text else None
    return table is not None and table.decimal_comma and bool(read_frame(table, RUNS).headers)


def _replace(path: Path, data: bytes) -> None:
    try:
        put_file(path, data)
    except OSError as failure:
        reason = (failure.strerror or str(failure)).lower()
        mend = "close it in other programs, and see that the folder may be written"
        raise RunError(f"cannot write {path}: {reason}; {mend}") from failure
