"""The sheet of the runs in an xlsx workbook as a table of text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pinscar.campaign.codes import error
from pinscar.campaign.tables import Table, column_letter, shape_table
from pinscar.problems import Problem


def read_xlsx(path: Path, name: str) -> tuple[Table | None, list[Problem]]:
    """Read the table of a workbook, numbers and dates turned to text without loss.

    It stands on the sheet called runs, or else on the first one that isn't hidden.

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
    place = _place_of_table([(sheet.title, sheet.sheet_state) for sheet in values.worksheets])
    sheet, sources = values.worksheets[place], formulas.worksheets[place]
    records: list[list[str]] = []
    problems: list[Problem] = []
    for cells, written in zip(sheet.iter_rows(), sources.iter_rows(), strict=True):
        record = []
        for cell, source in zip(cells, written, strict=True):
            problems += _cell_problems(name, cell, source)
            record.append(_as_text(cell.value))
        records.append(record)
    table, shape_problems = shape_table(name, records, decimal_comma=False)
    merged = _merged(name, sheet, len(table.header)) if table else []
    return table, problems + merged + shape_problems


def name_cells(problems: Sequence[Problem], file: str, letters: Mapping[str, str]) -> list[Problem]:
    """Add the cell to the problems of a workbook's table, as the spreadsheet calls it.

    Parameters
    ----------
    problems : sequence of Problem
        Problems of any file.
    file : str
        Name of the table.
    letters : mapping of str to str
        Letter above each column, by its header.

    Returns
    -------
    list of Problem
        The same; those with a row and a column of the workbook name the cell.

    References
    ----------
    Common practice of spreadsheets.

    Examples
    --------
    >>> blank = error("value-missing", "runs.xlsx", "it is blank", "fill it in", row=7, column="load [N]")
    >>> print(name_cells([blank], "runs.xlsx", {"load [N]": "D"})[0])
    runs.xlsx, row 7, column load [N], cell D7: it is blank; fill it in
    """
    if not file.endswith(".xlsx"):
        return list(problems)
    found = []
    for one in problems:
        letter = letters.get(one.column or "") if one.file == file and one.cell is None else None
        found.append(replace(one, cell=f"{letter}{one.row}") if letter and one.row is not None else one)
    return found


def _place_of_table(sheets: Sequence[tuple[str, str]]) -> int:
    shown = [place for place, (_, state) in enumerate(sheets) if state == "visible"]
    called = [place for place in shown if sheets[place][0].strip().casefold() == "runs"]
    return (called or shown or [0])[0]


def _merged(name: str, sheet: Any, width: int) -> list[Problem]:
    """Find merged cells with a value: the spreadsheet shows it for all of them and keeps it in the first."""
    found = []
    for area in sorted(sheet.merged_cells.ranges, key=lambda one: (one.min_row, one.min_col)):
        value = sheet.cell(area.min_row, area.min_col).value
        wide = min(area.max_col, width) > area.min_col
        if value is None or area.min_col > width or not (wide or area.max_row > area.min_row):
            continue
        message = f"the cells {area.coord} are merged, so all but the first are blank"
        mend = "take the merge apart and fill in each cell"
        one = error("xlsx-merged", name, message, mend, row=area.min_row, value=str(value))
        found.append(replace(one, cell=area.coord.split(":")[0]))
    return found


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
    return [replace(error(code, name, f"the cell {what}", mend, row=cell.row, value=str(shown)), cell=place)]


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
