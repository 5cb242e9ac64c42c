"""How the tables of a campaign were read, column by column, whatever else is wrong with the folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pinscar.campaign.columns import LOAD_STEPS, READINGS, RUNS
from pinscar.campaign.folder import is_outside, root_of, runs_file
from pinscar.campaign.old_encoding import NAME
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.campaign.title_rows import TextTable
from pinscar.campaign.typed_table import ColumnRead, settle_table


@dataclass(frozen=True, slots=True)
class TableRead:
    """How a table was read.

    Attributes
    ----------
    file : str
        Its name.
    said : str
        How the file was read as a whole.
    columns : tuple of ColumnRead
        How each column was read.
    """

    file: str
    said: str
    columns: tuple[ColumnRead, ...]


def how_read(folder: Path, dates: str | None = None) -> list[TableRead]:
    """Tell how each table of a campaign folder was read.

    Examples
    --------
    >>> how_read(Path("nowhere"))
    []
    """
    name, _ = runs_file(folder) if folder.is_dir() else (None, [])
    known = [(name, RUNS), ("load_steps.csv", LOAD_STEPS), ("readings.csv", READINGS)]
    found = []
    for file, columns in known:
        if file is None or not (folder / file).is_file() or is_outside(folder / file, root_of(folder)):
            continue
        table, _ = (read_xlsx if file.endswith(".xlsx") else read_csv)(folder / file, file)
        if table is not None:
            found.append(
                TableRead(file, _said(folder / file, table), settle_table(table, columns, dates).columns)
            )
    return found


def _said(path: Path, table: TextTable) -> str:
    rows = f"{len(table.rows)} row{'' if len(table.rows) == 1 else 's'}"
    if path.suffix == ".xlsx":
        return f"spreadsheet, {rows}"
    try:
        path.read_bytes().decode("utf-8")
        encoding = "UTF-8"
    except UnicodeDecodeError:
        encoding = NAME
    marks = "semicolons, decimal commas allowed" if table.decimal_comma else "commas"
    return f"{encoding} text separated by {marks}, {rows}"


def column_letters(folder: Path, file: str) -> dict[str, str]:
    """Give the letter above each column of a table, by its header."""
    path = folder / file
    if not path.is_file() or path.suffix not in (".csv", ".xlsx"):
        return {}
    columns = {"load_steps.csv": LOAD_STEPS, "readings.csv": READINGS}.get(file, RUNS)
    table, _ = (read_xlsx if path.suffix == ".xlsx" else read_csv)(path, file)
    if table is None:
        return {}
    settled = settle_table(table, columns)
    letters = {one.header: one.letter for one in settled.columns}
    named = [head for head in settled.table.header if head]
    return letters | {head: one.letter for head, one in zip(named, settled.columns, strict=True)}
