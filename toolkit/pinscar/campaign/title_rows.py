"""Lines above a table: a title that a person typed over the header is no header."""

from __future__ import annotations

from collections.abc import Sequence

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
