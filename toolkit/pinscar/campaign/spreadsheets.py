"""Lines above a table: a title that a person typed over the header is no header."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


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
