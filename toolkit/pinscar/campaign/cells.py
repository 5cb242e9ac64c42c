"""One cell to one value."""

from __future__ import annotations

import datetime as dt
import re

from pinscar.campaign.names import either


class CellError(ValueError):
    """A cell that cannot be read.

    Parameters
    ----------
    code : str
        Stable identifier of the problem.
    message : str
        What is wrong, in one plain clause.
    mend : str
        What to do, in one plain clause.
    """

    def __init__(self, code: str, message: str, mend: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.mend = mend


_POINT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(\d+,\d*|,\d+)([eE][+-]?\d+)?")
_MONTH = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mrz|mär|mai|okt|dez"
_DATE = re.compile(rf"\d{{4}}-\d\d-\d\d|\d{{1,2}}[.-] ?({_MONTH})|({_MONTH})[.-]? ?\d{{1,2}}$", re.IGNORECASE)
_GROUPED = re.compile(r"[+-]?\d{1,3}([.,'’ ]\d{3})+([.,]\d+)?")
_TWO_MEANINGS = re.compile(r"[+-]?[1-9]\d{0,2}\.\d{3}")


def read_number(cell: str, *, decimal_comma: bool = False, commas_used: bool = False) -> float:
    """Read a number.

    Parameters
    ----------
    cell : str
        The cell, not blank.
    decimal_comma : bool
        Whether the file may write decimals with a comma.
    commas_used : bool
        Whether the file does so elsewhere; then 1.200 could be 1200 and is refused.

    Returns
    -------
    float
        The number, in the unit of its column.

    Raises
    ------
    CellError
        When it is no number, or one that can be read in two ways.

    References
    ----------
    Own definition; the decimal marks are those of ISO 80000-1, clause 7.3.2.

    Examples
    --------
    >>> read_number("2.31")
    2.31
    >>> read_number("2,31", decimal_comma=True)
    2.31
    """
    text = cell.replace("−", "-")
    if commas_used and _TWO_MEANINGS.fullmatch(text):
        message = "the point can mean decimals or thousands in a file that also has decimal commas"
        raise CellError(
            "value-decimal-mark", message, "write decimals with a comma and thousands without a mark"
        )
    if _POINT.fullmatch(text):
        return _finite(float(text))
    if _COMMA.fullmatch(text):
        if decimal_comma:
            return _finite(float(text.replace(",", ".")))
        raise CellError(
            "value-decimal-mark",
            "the number has a comma",
            "write decimals with a point and thousands without a mark",
        )
    if _GROUPED.fullmatch(text):
        raise CellError(
            "value-decimal-mark",
            "the number has marks between its thousands",
            "write it without them, such as 1200",
        )
    raise CellError("value-not-a-number", "this is not a number", _mend_for(text))


def _finite(number: float) -> float:
    if abs(number) == float("inf"):
        raise CellError("value-not-a-number", "the number is too large", "correct it")
    return number


def _mend_for(text: str) -> str:
    if _DATE.match(text):
        return "a spreadsheet took the number for a date: format the column as numbers and write it again"
    if re.match(r"[+-]?[\d.,]+\s*[a-zA-Zµ°%]", text):
        return "write the number alone, as its unit stands in the header"
    if text[0] in "<>~≈":
        return "write the number alone and the rest in the column note"
    if text[0] == "#" or text.lower() in {"nan", "n/a", "na", "-", "–", "—", "?", "none", "inf"}:
        return "leave the cell blank where nothing was measured"
    return "write a number, or leave the cell blank where nothing was measured"


def read_moment(cell: str) -> dt.datetime:
    """Read a date with or without time of day; a time zone is taken off, the clock time kept as written.

    Parameters
    ----------
    cell : str
        The cell, not blank.

    Returns
    -------
    datetime.datetime
        The moment, by the clock of the bench.

    Raises
    ------
    CellError
        When it is not in ISO 8601 form.

    References
    ----------
    ISO 8601-1:2019.

    Examples
    --------
    >>> read_moment("2026-03-04T08:30").isoformat()
    '2026-03-04T08:30:00'
    """
    try:
        if not re.match(r"\d{4}-\d{2}-\d{2}", cell):
            raise ValueError
        return dt.datetime.fromisoformat(cell).replace(tzinfo=None)
    except ValueError:
        message = "this is not a date and time in ISO 8601 form"
        raise CellError("value-not-a-date", message, "write it like 2026-03-04T08:30") from None


def read_choice(cell: str, options: tuple[str, ...]) -> str:
    """Read one of a few words, in small or capital letters.

    Parameters
    ----------
    cell : str
        The cell, not blank.
    options : tuple of str
        The words.

    Returns
    -------
    str
        The word in small letters.

    Raises
    ------
    CellError
        When it is none of them.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> read_choice("Yes", ("yes", "no"))
    'yes'
    """
    if cell.casefold() not in options:
        mend = f"write {either(options)}, or leave the cell blank"
        raise CellError("value-not-a-choice", "this is not one of the words expected", mend)
    return cell.casefold()
