"""A table as rows of text, and what a spreadsheet leaves in it: a title, merged cells, an old encoding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pinscar.campaign.columns import RUNS, SETTINGS, find_column


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A table as it stands in its file: text only, blank rows left out.

    Attributes
    ----------
    file : str
        The file's name.
    header : tuple of str
        Header cells.
    rows : tuple of (int, tuple of str)
        Row number as a spreadsheet shows it, and its cells, as many as the header has.
    decimal_comma : bool
        Whether the file may write decimals with a comma.
    typed : frozenset of (int, int)
        Cells of a workbook that hold text, by row number and place: a number among them was typed as text.
    header_row : int
        Row of the header: 1 where nothing stands above it.
    """

    file: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    decimal_comma: bool = False
    typed: frozenset[tuple[int, int]] = frozenset()
    header_row: int = 1


FARTHEST = 10
"""How many filled rows are looked at for the header."""
KEY = "run_id"
"""The column that every table of a campaign has."""


def header_place(rows: Sequence[Sequence[str]]) -> int:
    """Find the header among the filled rows of a table.

    It is the first row, unless that holds no more than two cells and a row below it names the runs' column.

    Examples
    --------
    >>> header_place([["Oils, spring", ""], ["run_id", "load [N]"]]), header_place([["a", "b"], ["1", "2"]])
    (1, 0)
    """
    for place, row in enumerate(rows[:FARTHEST]):
        if KEY in row:
            return place
        if sum(map(bool, row)) > 2:
            break
    return 0


def column_letter(position: int) -> str:
    """Give the letter a spreadsheet shows above a column.

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


def fill_merged(sheet: Any, records: list[list[str]]) -> None:
    """Fill the blank cells of each merge down a column that holds a setting or words."""
    filled = [row for row, record in enumerate(records) if any(record)]
    if not filled:
        return
    top = filled[header_place([records[row] for row in filled])]
    for area in sheet.merged_cells.ranges:
        column = area.min_col - 1
        if area.min_row - 1 <= top or not is_filled(area, records[top][column]):
            continue
        value = records[area.min_row - 1][column]
        for row in range(area.min_row - 1, min(area.max_row, len(records))):
            records[row][column] = value


def is_filled(area: Any, header: str) -> bool:
    """Tell whether a merge is one down a column whose value can hold for several runs.

    A name of a run and a number that was measured belong to one run only.
    """
    name, _, unit = header.partition("[")
    column = find_column(RUNS, name.strip())
    if area.min_col != area.max_col or name.strip() == "run_id":
        return False
    if column is None:
        return not unit
    return column.kind != "number" or column.name in SETTINGS


NAME = "Windows-1252"
LETTERS = "ÄÖÜäöüßÀÂÇÈÉÊËÎÏÔÙÛàâçèéêëîïôùûÁÍÓÚÑáíóúñÅØÆåøæÃÕãõìòÌÒŒœ"
MARKS = "°µ²³·±×÷½¼¾€§–—…‘’‚“”„«»•‰®©¹¿¡ªº£ "
EXPECTED = frozenset(LETTERS + MARKS + "\u00a0")
"""What a person in western Europe or America types into such a table, beside ASCII."""


def from_windows_1252(raw: bytes) -> str | None:
    r"""Read bytes that are not UTF-8 as Windows-1252, where nothing speaks against it.

    The older encodings of the command line and of other systems put letters where Windows-1252 has control
    characters or rare signs. A text with one of those is not read: it could mean something else.

    Examples
    --------
    >>> from_windows_1252(b"run_id;scar_length [\xb5m]")
    'run_id;scar_length [µm]'
    >>> from_windows_1252("Öl".encode("cp850")) is None
    True
    """
    try:
        text = raw.decode("cp1252")
    except UnicodeDecodeError:
        return None
    return text if all(sign.isascii() or sign in EXPECTED for sign in text) else None
