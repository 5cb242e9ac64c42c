"""A table on disk as rows of text: comma or semicolon separated files."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from pinscar.campaign.codes import error
from pinscar.problems import Problem


@dataclass(frozen=True, slots=True)
class Table:
    """A table as it stands in its file: text only, blank rows left out.

    Parameters
    ----------
    file : str
        The file's name.
    header : tuple of str
        Header cells.
    rows : tuple of (int, tuple of str)
        Row number as a spreadsheet shows it (the header is row 1), and its cells, as many as the header has.
    decimal_comma : bool
        Whether the file may write decimals with a comma.
    """

    file: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    decimal_comma: bool = False


def read_text(path: Path, name: str) -> tuple[str | None, list[Problem]]:
    """Read a text file as UTF-8, with or without byte order mark.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        Its name, for problems.

    Returns
    -------
    tuple of str or None and list of Problem
        The text, or None with the reason.

    References
    ----------
    RFC 3629 (UTF-8).

    Examples
    --------
    >>> read_text(Path("nowhere.csv"), "nowhere.csv")[1][0].code
    'file-unreadable'
    """
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
        row = raw[: failure.start].count(b"\n") + 1
        message = (
            "the file is not UTF-8 text (a letter such as µ, ° or an accent was saved in an older encoding)"
        )
        return None, [error("file-encoding", name, message, mend, row=row)]


def read_csv(path: Path, name: str) -> tuple[Table | None, list[Problem]]:
    """Read a table separated by commas or semicolons.

    The header decides which of the two separates: the one that stands in it more often outside quotes.

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
    RFC 4180 (quoting); the semicolon and decimal comma are common practice of spreadsheets in many countries.

    Examples
    --------
    >>> read_csv(Path("nowhere.csv"), "nowhere.csv")[1][0].code
    'file-unreadable'
    """
    text, problems = read_text(path, name)
    return (None, problems) if text is None else parse_csv(text, name)


def parse_csv(text: str, name: str) -> tuple[Table | None, list[Problem]]:
    r"""Split the text of a table into its cells.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for problems.

    Returns
    -------
    tuple of Table or None and list of Problem
        The table, or None with the reasons.

    References
    ----------
    RFC 4180 (quoting); the semicolon and decimal comma are common practice of spreadsheets in many countries.

    Examples
    --------
    >>> table, _ = parse_csv("run_id;load [N]\n1;450,5\n", "runs.csv")
    >>> table.rows, table.decimal_comma
    (((2, ('1', '450,5')),), True)
    """
    declared = re.match(r'"?sep=(.)"?\r?\n', text)
    if declared:  # a line that some spreadsheets write, and don't show as a row
        text = text[declared.end() :]
    first = re.sub(r'"[^"]*"', "", text.lstrip("\r\n").split("\n", 1)[0])
    separator = ";" if first.count(";") > first.count(",") else ","
    if "\t" in first and "," not in first and ";" not in first:
        mend = "save it separated by commas or semicolons"
        return None, [error("table-separator", name, "the columns are separated by tabs", mend, row=1)]
    records: list[list[str]] = []
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            records.append([_clean(cell) for cell in record])  # noqa: PERF401 - the row of an error is needed
    except csv.Error:
        message, mend = "the quotes around a cell do not match", "close the quotes, or take them out"
        return None, [error("table-quotes", name, message, mend, row=len(records) + 1)]
    return shape_table(name, records, decimal_comma=separator == ";")


def _clean(cell: str) -> str:
    return cell.replace("\u00a0", " ").replace("\u202f", " ").strip()


def shape_table(
    name: str, records: list[list[str]], *, decimal_comma: bool
) -> tuple[Table | None, list[Problem]]:
    """Make a table of records: find the header, drop blank rows, refuse rows that are too long.

    Parameters
    ----------
    name : str
        The file's name.
    records : list of list of str
        All rows of the file, the blank ones too.
    decimal_comma : bool
        Whether the file may write decimals with a comma.

    Returns
    -------
    tuple of Table or None and list of Problem
        The table, or None with the reasons.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> table, _ = shape_table("runs.csv", [["run_id"], [""], ["1"]], decimal_comma=False)
    >>> table.rows
    ((3, ('1',)),)
    """
    filled = [(row, record) for row, record in enumerate(records, start=1) if any(record)]
    if not filled:
        mend = "write a header and one row per run, a step or a reading"
        return None, [error("file-empty", name, "there is nothing in the table", mend)]
    header = tuple(filled[0][1])
    while header and not header[-1]:
        header = header[:-1]
    no_rows = "there is a header and no row under it"
    problems = [error("table-no-rows", name, no_rows, "write one row per run")] if len(filled) == 1 else []
    problems += _too_long(name, filled, len(header), decimal_comma)
    unnamed = [_unnamed(name, position, filled) for position, cell in enumerate(header) if not cell]
    problems += [one for one in unnamed if one]
    width, shifted = len(header), {one.row for one in problems if one.code == "table-too-many-cells"}
    rows = tuple(
        (row, tuple((record + [""] * width)[:width])) for row, record in filled[1:] if row not in shifted
    )
    # the cells of a row that is too long may stand under the wrong headers: they are not read
    return (None if shifted and not rows else Table(name, header, rows, decimal_comma)), problems


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


def column_letter(position: int) -> str:
    """Give the letter a spreadsheet shows above a column.

    Parameters
    ----------
    position : int
        Position of the column, from 0 on [1].

    Returns
    -------
    str
        Its letter.

    References
    ----------
    Common practice of spreadsheets.

    Examples
    --------
    >>> column_letter(0), column_letter(26)
    ('A', 'AA')
    """
    letters = ""
    position += 1
    while position:
        position, rest = divmod(position - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
