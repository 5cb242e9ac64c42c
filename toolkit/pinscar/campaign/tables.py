"""A table on disk as rows of text: separated by commas or semicolons, a workbook's sheet, or parquet.

Every kind becomes text first, so that cells are read and checked in one way.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import chain, pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pinscar.campaign.codes import (
    CELLS,
    COLUMNS,
    MIB,
    SHEET_CELLS,
    TAGS,
    UNPACKED,
    error,
    too_large,
    too_many,
    warning,
)
from pinscar.campaign.spreadsheets import (
    FARTHEST,
    KEY,
    TextTable,
    column_letter,
    fill_merged,
    from_windows_1252,
    header_place,
    is_filled,
)
from pinscar.errors import Problem, visible

if TYPE_CHECKING:
    pass


def read_text(path: Path, name: str) -> tuple[str | None, list[Problem]]:
    """Read a text file as UTF-8, with or without byte order mark; a table also in its older encoding.

    Examples
    --------
    >>> read_text(Path("nowhere.csv"), "nowhere.csv")[1][0].code
    'file-unreadable'
    """
    large = too_large(path, name)
    if large:
        return None, large
    if path.exists() and not (path.is_file() or path.is_dir()):
        message = "this is a pipe or a device and no file, and is not read"
        return None, [error("file-not-plain", name, message, "put a plain file in its place")]
    try:
        raw = path.read_bytes()
    except OSError as failure:
        reason = failure.strerror or "unknown reason"
        return None, [
            error(
                "file-unreadable",
                name,
                f"the file cannot be opened ({reason.lower()})",
                "check that it is a file and may be read",
            )
        ]
    mend = "save it again as CSV UTF-8" if name.endswith(".csv") else "save it again as UTF-8"
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in raw:
        message = "the file is not UTF-8 text (it holds zero bytes, as UTF-16 text and damaged files do)"
        return None, [error("file-encoding", name, message, mend)]
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError as failure:
        older = from_windows_1252(raw) if name.endswith(".csv") else None
        if older is not None:
            return older, []
        row = raw[: failure.start].count(b"\n") + 1
        message = (
            "the file is not UTF-8 text (a letter such as µ, ° or an accent was saved in an older encoding)"
        )
        return None, [error("file-encoding", name, message, mend, row=row)]


def read_csv(path: Path, name: str) -> tuple[TextTable | None, list[Problem]]:
    """Read a table separated by commas or semicolons.

    The header decides which of the two separates: the one that stands in it more often outside quotes.

    Examples
    --------
    >>> read_csv(Path("nowhere.csv"), "nowhere.csv")[1][0].code
    'file-unreadable'
    """
    text, problems = read_text(path, name)
    return (None, problems) if text is None else parse_csv(text, name)


def parse_csv(text: str, name: str) -> tuple[TextTable | None, list[Problem]]:
    r"""Split the text of a table into its cells.

    Examples
    --------
    >>> table, _ = parse_csv("run_id;load [N]\n1;450,5\n", "runs.csv")
    >>> table.rows, table.decimal_comma
    (((2, ('1', '450,5')),), True)
    """
    declared = re.match(r'"?sep=(.)"?\r?\n', text)
    if declared:  # some spreadsheets write this line and do not show it as a row
        text = text[declared.end() :]
    first = re.sub(r'"[^"]*"', "", _header_line(text))
    separator = ";" if first.count(";") > first.count(",") else ","
    if "\t" in first and "," not in first and ";" not in first:
        mend = "save it separated by commas or semicolons"
        return None, [error("table-separator", name, "the columns are separated by tabs", mend, row=1)]
    records: list[list[str]] = []
    count = 0
    clean = _clean if any(space in text for space in _SPACES) else str.strip
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            records.append([clean(cell) for cell in record])
            count += len(record)
            if count > CELLS or len(record) > COLUMNS:
                return None, [_too_much(name, len(record))]
    except csv.Error as failure:
        if "field larger than" in str(failure):
            mend = "close the quotes around the cells, or shorten the text"
            return None, [too_many("characters in one cell", csv.field_size_limit(), name, mend)]
        message, mend = "the quotes around a cell do not match", "close the quotes, or take them out"
        return None, [error("table-quotes", name, message, mend, row=len(records) + 1)]
    return shape_table(name, records, decimal_comma=separator == ";")


def _too_much(name: str, width: int) -> Problem:
    if width > COLUMNS:
        return too_many("columns", COLUMNS, name, "check what separates the cells")
    mend = "leave columns out that pinscar does not read, or every second reading of a trace"
    return too_many("cells", CELLS, name, mend)


def _header_line(text: str) -> str:
    """Give the line that tells the separator: the one that names the runs' column, else the first."""
    lines = text.lstrip("\r\n").split("\n", FARTHEST)[:FARTHEST]
    return next((line for line in lines if KEY in line), lines[0])


_SPACES = ("\u00a0", "\u202f")
"""Spaces that don't break, which spreadsheets write."""


def _clean(cell: str) -> str:
    return cell.translate(dict.fromkeys(map(ord, _SPACES), " ")).strip()


def shape_table(
    name: str, records: list[list[str]], *, decimal_comma: bool
) -> tuple[TextTable | None, list[Problem]]:
    """Make a table of records: find the header, drop blank rows, refuse rows that are too long.

    Examples
    --------
    >>> table, _ = shape_table("runs.csv", [["run_id"], [""], ["1"]], decimal_comma=False)
    >>> table.rows
    ((3, ('1',)),)
    """
    hidden: list[Problem | None] = []
    whole = " ".join(chain.from_iterable(records))
    if visible(whole) != whole:
        hidden = [_hidden(name, row, record) for row, record in enumerate(records, start=1)]
        records = [[visible(cell) for cell in record] for record in records]
    filled = [(row, record) for row, record in enumerate(records, start=1) if any(record)]
    if not filled:
        mend = "write a header and one row per run, a step or a reading"
        return None, [error("file-empty", name, "there is nothing in the table", mend)]
    filled = filled[header_place([record for _, record in filled]) :]
    header = tuple(filled[0][1])
    while header and not header[-1]:
        header = header[:-1]
    no_rows = "there is a header and no row under it"
    problems = [error("table-no-rows", name, no_rows, "write one row per run")] if len(filled) == 1 else []
    problems += [one for one in hidden if one]
    problems += _too_long(name, filled, len(header), decimal_comma)
    unnamed = [_unnamed(name, position, filled) for position, cell in enumerate(header) if not cell]
    problems += [one for one in unnamed if one]
    width, shifted = len(header), {one.row for one in problems if one.code == "table-too-many-cells"}
    rows = tuple(
        (row, tuple((record + [""] * width)[:width])) for row, record in filled[1:] if row not in shifted
    )
    # in a row that is too long, cells may be under the wrong header: do not read them
    table = TextTable(
        file=name, header=header, rows=rows, decimal_comma=decimal_comma, header_row=filled[0][0]
    )
    return (None if shifted and not rows else table), problems


def _hidden(name: str, row: int, record: list[str]) -> Problem | None:
    """Warn of a row with marks that cannot be seen: two oils could differ by one."""
    found = next((cell for cell in record if visible(cell) != cell), None)
    if found is None:
        return None
    message, mend = "a cell has marks that cannot be seen, which are shown as codes", "write the cell again"
    return warning("hidden-marks", name, message, mend, row=row, value=found)


def _too_long(
    name: str, filled: list[tuple[int, list[str]]], width: int, decimal_comma: bool
) -> list[Problem]:
    """Find rows with more cells than the header; one empty cell more in every row is a closing separator."""
    header = filled[0][1]
    closed = all(len(record) == len(header) + 1 and not record[-1] for _, record in filled[1:])
    found = []
    for row, record in filled[1:]:
        extra = [cell for cell in record[width:] if cell]
        if not extra and (closed or len(record) <= len(header)):
            continue
        message = "the row has more cells than the header"
        mend = "take out the extra cells, put text that holds the separator in quotes, or name the column"
        if not decimal_comma and any(_is_whole(one) and other.isdecimal() for one, other in pairwise(record)):
            message += ", as a decimal comma makes it in a file separated by commas"
            mend = "write decimals with a point, or separate the cells with semicolons"
        value = extra[0] if extra else None
        found.append(error("table-too-many-cells", name, message, mend, row=row, value=value))
    return found


def _is_whole(cell: str) -> bool:
    return re.fullmatch(r"[+-]?\d+", cell) is not None


def _unnamed(name: str, position: int, filled: list[tuple[int, list[str]]]) -> Problem | None:
    row = next((row for row, record in filled[1:] if position < len(record) and record[position]), None)
    if row is None:
        return None
    mend = "give the column a name in row 1, or empty it"
    return error(
        "column-unnamed",
        name,
        "a column holds values but has no name",
        mend,
        row=row,
        column=column_letter(position),
    )


def read_xlsx(path: Path, name: str) -> tuple[TextTable | None, list[Problem]]:
    """Read the table of a workbook, numbers and dates turned to text without loss.

    It stands on the sheet called runs, or else on the first one that isn't hidden.

    Examples
    --------
    >>> read_xlsx(Path("nowhere.xlsx"), "nowhere.xlsx")[1][0].code
    'xlsx-unreadable'
    """
    import openpyxl

    large = too_large(path, name) or _bomb(path, name)
    if large:
        return None, large
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
    if sheet.max_row * sheet.max_column > SHEET_CELLS:
        mend = "delete the blank rows and columns under and beside the table, or save it as CSV UTF-8"
        return None, [too_many("cells in the sheet", SHEET_CELLS, name, mend)]
    records: list[list[str]] = []
    problems: list[Problem] = []
    for cells, written in zip(sheet.iter_rows(), sources.iter_rows(), strict=True):
        record = []
        for cell, source in zip(cells, written, strict=True):
            problems += _cell_problems(name, cell, source)
            record.append(_as_text(cell.value))
        records.append(record)
    fill_merged(sheet, records)
    table, shape_problems = shape_table(name, records, decimal_comma=False)
    merged = _merged(name, sheet, table.header, table.header_row) if table else []
    if table is not None:
        text: set[tuple[int, int]] = {
            (row, place)
            for row, cells in enumerate(sheet.iter_rows(), 1)
            for place, cell in enumerate(cells)
            if cell.data_type == "s"
        }
        table = replace(table, typed=frozenset(text))
    return table, problems + merged + shape_problems


_CELL = re.compile(rb"<(?:\w+:)?c[ />]")
_SPREAD = re.compile(rb"""<(?:\w+:)?(?:mergeCell|hyperlink)\b[^>]*?\bref\s*=\s*["']([^"']*)["']""")
_AREA = re.compile(r"([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})", re.IGNORECASE)


def _bomb(path: Path, name: str) -> list[Problem]:
    """Refuse a workbook that holds far more than its size says, or whose parts define entities."""
    unpacked = 0
    mend = "save the table alone in a new workbook, or as CSV UTF-8"
    try:
        with zipfile.ZipFile(path) as archive:
            for member in archive.infolist():
                with archive.open(member) as stream:
                    part = stream.read(UNPACKED - unpacked + 1)
                unpacked += len(part)
                if unpacked > UNPACKED:
                    return [too_many("MiB when unpacked", UNPACKED // MIB, name, mend)]
                if part[:2] in (b"\xff\xfe", b"\xfe\xff") or re.search(rb"<!(DOCTYPE|ENTITY)", part):
                    return [
                        error("xlsx-unreadable", name, "the workbook defines entities, or is no UTF-8", mend)
                    ]
                if part.count(b"<") > TAGS or len(_CELL.findall(part)) > SHEET_CELLS or _spread(part):
                    return [too_many("cells in a sheet", SHEET_CELLS, name, mend)]
    except (OSError, zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, ValueError):
        return []  # opening it says that it is none
    return []


def _spread(part: bytes) -> bool:
    """Tell whether merged cells or links cover more cells than are read: each of them would be made."""
    count = 0
    for ref in _SPREAD.findall(part):
        area = _AREA.fullmatch(ref.decode("utf-8", "replace").replace("$", ""))
        if area:
            left, top, right, bottom = area.groups()
            wide = abs(_column(right) - _column(left)) + 1
            count += wide * (abs(int(bottom) - int(top)) + 1)
    return count > SHEET_CELLS


def _column(letters: str) -> int:
    number = 0
    for one in letters.upper():
        number = 26 * number + ord(one) - ord("A") + 1
    return number


def name_cells(problems: Sequence[Problem], file: str, letters: Mapping[str, str]) -> list[Problem]:
    """Add the cell to the problems of a workbook's table, as the spreadsheet calls it.

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


def _merged(name: str, sheet: Any, header: Sequence[str], top: int) -> list[Problem]:
    """Find merged cells with a value: the spreadsheet shows it for all of them and keeps it in the first."""
    found = []
    for area in sorted(sheet.merged_cells.ranges, key=lambda one: (one.min_row, one.min_col)):
        value = sheet.cell(area.min_row, area.min_col).value
        wide = min(area.max_col, len(header)) > area.min_col
        if value is None or area.min_col > len(header) or not (wide or area.max_row > area.min_row):
            continue
        if area.max_row < top or is_filled(area, header[area.min_col - 1]):
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
