"""The look of a run sheet's cells, and text that a spreadsheet leaves as it is."""

from __future__ import annotations

from typing import Any

FACE = "Arial"
DARK, LIGHT, PREPARED, LINE = "33414E", "DDE3E8", "F1F3F5", "B8C0C8"
"""Grounds of the heads that must be filled, of other heads and of prepared cells; lines between cells."""


def put_text(cell: Any, text: str, number_format: str = "@") -> None:
    """Put text into a cell; an oil called =7 is no formula there.

    Parameters
    ----------
    cell : openpyxl cell
        The cell.
    text : str
        The text.
    number_format : str
        Format of the cell; ``"@"`` keeps what is typed over it as text too.
    """
    cell.value, cell.data_type, cell.number_format = text, "s", number_format
