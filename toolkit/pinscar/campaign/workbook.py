"""The first sheet of an xlsx workbook as a table of text."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from pinscar.campaign.codes import error
from pinscar.campaign.tables import Table, column_letter, shape_table
from pinscar.problems import Problem


def read_xlsx(path: Path, name: str) -> tuple[Table | None, list[Problem]]:
    """Read the first sheet of a workbook, numbers and dates turned to text without loss.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        Its name, for problems.

    Returns
    -------
    tuple of Table or None and list of Problem
        The table, or None with the reasons.

    References
    ----------
    ISO/IEC 29500 (workbooks, as openpyxl reads them).

    Examples
    --------
    >>> read_xlsx(Path("nowhere.xlsx"), "nowhere.xlsx")[1][0].code
    'xlsx-unreadable'
    """
    import openpyxl

    try:
        values = openpyxl.load_workbook(path, data_only=True)
        formulas = openpyxl.load_workbook(path, data_only=False)
    except Exception:  # openpyxl raises many kinds of error on damaged files
        message = "the workbook cannot be opened"
        return None, [
            error(
                "xlsx-unreadable",
                name,
                message,
                "save it again as an xlsx workbook without a password, or as CSV UTF-8",
            )
        ]
    if not values.worksheets:
        return None, [
            error(
                "file-empty", name, "the workbook has no sheet with cells", "put the table on the first sheet"
            )
        ]
    records: list[list[str]] = []
    problems: list[Problem] = []
    for cells, sources in zip(
        values.worksheets[0].iter_rows(), formulas.worksheets[0].iter_rows(), strict=True
    ):
        record = []
        for cell, source in zip(cells, sources, strict=True):
            problems += _cell_problems(name, cell, source)
            record.append(_as_text(cell.value))
        records.append(record)
    table, shape_problems = shape_table(name, records, decimal_comma=False)
    return table, problems + shape_problems


def _cell_problems(name: str, cell: Any, source: Any) -> list[Problem]:
    value = cell.value
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    code, shown = "xlsx-no-value", value
    if value is None and source.data_type == "f":
        what, shown = "holds a formula whose result is not stored in the file", source.value
        mend = "open and save it in a spreadsheet, or paste the values"
    elif cell.data_type == "e":
        what, mend = "holds a formula that failed", "mend the formula, or leave the cell blank"
    elif (is_number and "%" in str(cell.number_format)) or isinstance(value, dt.time | dt.timedelta):
        code = "xlsx-format"
        what = "is formatted as a percentage or a time, and holds another number than it shows"
        mend = "format the column as plain numbers"
    else:
        return []
    place = f"{column_letter(cell.column - 1)}{cell.row}"
    return [error(code, name, f"the cell {place} {what}", mend, row=cell.row, value=str(shown))]


def _as_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, dt.datetime):
        return value.isoformat(sep="T", timespec="auto")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))  # a lubricant or a run called 101 is stored as a number
    return str(value).replace("\u00a0", " ").strip()
