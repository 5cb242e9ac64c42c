"""A table of text to a frame of SI numbers and words, cell by cell, with every misfit noted."""

from __future__ import annotations

import datetime as dt
import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.codes import PROBLEMS, error, warning
from pinscar.campaign.columns import Column
from pinscar.campaign.headers import Head, read_headers
from pinscar.campaign.quantities import beyond
from pinscar.campaign.spreadsheets import TextTable, column_letter
from pinscar.errors import Problem, either
from pinscar.units import to_si, to_unit


class CellTextError(ValueError):
    """A cell that cannot be read.

    Attributes
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


_POINT = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(\d+,\d*|,\d+)([eE][+-]?\d+)?")
_MONTH = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mrz|mär|mai|okt|dez"
_DATE = re.compile(rf"\d{{4}}-\d\d-\d\d|\d{{1,2}}[.-] ?({_MONTH})|({_MONTH})[.-]? ?\d{{1,2}}$", re.IGNORECASE)
_GROUPED = re.compile(r"[+-]?\d{1,3}([.,'’ ]\d{3})+([.,]\d+)?")
_TWO_MEANINGS = re.compile(r"[+-]?[1-9]\d{0,2}\.\d{3}")


def read_number(cell: str, *, decimal_comma: bool = False, commas_used: bool = False) -> float:
    """Read a number.

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
        raise CellTextError(
            "value-decimal-mark", message, "write decimals with a comma and thousands without a mark"
        )
    if _POINT.fullmatch(text):
        return _finite(float(text))
    if _COMMA.fullmatch(text):
        if decimal_comma:
            return _finite(float(text.replace(",", ".")))
        raise CellTextError(
            "value-decimal-mark",
            "the number has a comma",
            "write decimals with a point and thousands without a mark",
        )
    if _GROUPED.fullmatch(text):
        raise CellTextError(
            "value-decimal-mark",
            "the number has marks between its thousands",
            "write it without them, such as 1200",
        )
    raise CellTextError("value-not-a-number", "this is not a number", _mend_for(text))


def _finite(number: float) -> float:
    if abs(number) == float("inf"):
        raise CellTextError("value-not-a-number", "the number is too large", "correct it")
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
        raise CellTextError("value-not-a-date", message, "write it like 2026-03-04T08:30") from None


def read_choice(cell: str, options: tuple[str, ...]) -> str:
    """Read one of a few words, in small or capital letters.

    Examples
    --------
    >>> read_choice("Yes", ("yes", "no"))
    'yes'
    """
    if cell.casefold() not in options:
        mend = f"write {either(options)}, or leave the cell blank"
        raise CellTextError("value-not-a-choice", "this is not one of the words expected", mend)
    return cell.casefold()


NOT_A_REASON = frozenset(
    {"no", "n", "none", "false", "0", "-", "ok", "included", "nein", "yes", "y", "x", "true", "1", "ja"}
)


@dataclass(frozen=True, slots=True)
class Read:
    """A table that was read.

    Attributes
    ----------
    frame : DataFrame
        One row per table row: every known column, the user's own ones, and ``row``; SI numbers.
    units : dict of str to str
        Unit of each numeric column there is, as its header has it.
    headers : dict of str to str
        Header of each column there is, as the file has it.
    problems : list of Problem
        What was wrong.
    letters : dict of str to str
        Letter that a spreadsheet shows above each column there is, by its header.
    """

    frame: pd.DataFrame
    units: dict[str, str]
    headers: dict[str, str]
    problems: list[Problem]
    letters: dict[str, str] = field(default_factory=dict)


def read_frame(table: TextTable, columns: tuple[Column, ...]) -> Read:
    """Read every cell of a table.

    Numbers are converted to SI, blanks become NaN, NaT, None or empty text by the kind of their column.
    In rows that are excluded, cells may be blank, and their numbers aren't held to a range.

    Examples
    --------
    >>> from pinscar.campaign.columns import LOAD_STEPS
    >>> table = TextTable(
    ...     file="load_steps.csv",
    ...     header=("run_id", "start [s]", "load [kN]"),
    ...     rows=((2, ("1", "0", "0.45")),),
    ... )
    >>> read_frame(table, LOAD_STEPS).frame["load"].tolist()
    [450.0]
    """
    heads, problems = read_headers(table, columns)
    commas_used = table.decimal_comma and any(
        re.fullmatch(r"[+-]?\d+,\d+", cell) for _, cells in table.rows for cell in cells
    )
    excluded_at = next((head.position for head in heads if head.name == "excluded"), None)
    counts = [excluded_at is None or not cells[excluded_at] for _, cells in table.rows]
    data: dict[str, Any] = {}
    for head in heads:
        cells = [
            (row, one[head.position], counted) for (row, one), counted in zip(table.rows, counts, strict=True)
        ]
        data[head.name], found = _read_column(table, head, cells, commas_used)
        problems += found
    for column in columns:
        data.setdefault(column.name, _blank(column.kind, len(table.rows)))
    data["row"] = [row for row, _ in table.rows]
    order = [column.name for column in columns]
    order += [name for name in data if name not in order]
    units = {head.name: head.unit or "1" for head in heads if head.is_number}
    headers = {head.name: head.written for head in heads}
    letters = {head: column_letter(place) for place, head in enumerate(table.header) if head}
    return Read(pd.DataFrame(data)[order], units, headers, problems, letters)


def empty_frame(columns: tuple[Column, ...]) -> pd.DataFrame:
    """Make the frame of a table that isn't there.

    Examples
    --------
    >>> from pinscar.campaign.columns import LOAD_STEPS
    >>> list(empty_frame(LOAD_STEPS).columns)
    ['run_id', 'start', 'load', 'weights', 'row']
    """
    data = {column.name: _blank(column.kind, 0) for column in columns}
    return pd.DataFrame({**data, "row": pd.Series(dtype="int64")})


def rows_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Give a frame's rows, for checks that look at one row at a time.

    Examples
    --------
    >>> rows_of(pd.DataFrame({"run_id": ["1"], "load": [450.0]}))
    [{'run_id': '1', 'load': 450.0}]
    """
    return [{str(name): value for name, value in one.items()} for one in frame.to_dict("records")]


def _blank(kind: str, rows: int) -> pd.Series[Any]:
    if kind == "number":
        return pd.Series(np.full(rows, np.nan))
    if kind == "moment":
        return pd.Series([pd.NaT] * rows, dtype="datetime64[us]")
    return pd.Series([""] * rows, dtype=object)


def _read_column(
    table: TextTable, head: Head, cells: Sequence[tuple[int, str, bool]], commas_used: bool
) -> tuple[pd.Series[Any], list[Problem]]:
    read, blank = _reader(table, head, commas_used)
    values: list[Any] = [] if commas_used or not head.is_number else _plain_numbers(cells)
    problems: list[Problem] = []
    if values:
        series, problems = _numbers(table.file, head, cells, values)
        return series, problems
    for row, cell, counted in cells:
        value, wrong = _read_cell(table.file, head, row, cell, counted, read)
        values.append(blank if value is None else value)
        if len(problems) < PROBLEMS:
            problems += wrong
    if len(problems) >= PROBLEMS:
        problems.append(_and_more(table.file, head))
    if head.name == "excluded":
        problems += _reasons(table.file, head, cells)
    if not head.is_number:
        problems += _looks_numeric(table, head, cells)
        return _as_series(values, head), problems
    series, out_of_range = _numbers(table.file, head, cells, values)
    return series, problems + out_of_range


_PLAIN = re.compile(r"(?:-?[0-9]{1,15}(?:\.[0-9]{1,15})?\n)++")


def _plain_numbers(cells: Sequence[tuple[int, str, bool]]) -> list[float]:
    """Read a column of nothing but digits, points and signs at once; none where any cell is another."""
    texts = [cell for _, cell, _ in cells]
    return [float(text) for text in texts] if _PLAIN.fullmatch("\n".join([*texts, ""])) else []


def _and_more(file: str, head: Head) -> Problem:
    message = f"more than {PROBLEMS} cells of this column are wrong, and the rest of them is not told"
    mend = "check the whole column; another separator, unit or column may be meant"
    return error("value-not-a-number", file, message, mend, row=1, column=head.written)


def _read_cell(
    file: str, head: Head, row: int, cell: str, counted: bool, read: Callable[[str], Any]
) -> tuple[Any, list[Problem]]:
    if not cell:
        needed = counted and head.column is not None and head.column.filled
        mend = "fill it in"
        if file.startswith("runs"):
            mend = "fill it in, or write the reason in the column excluded"
        blank = error("value-missing", file, "the cell is blank", mend, row=row, column=head.written)
        return None, [blank] if needed else []
    try:
        return read(cell), []
    except CellTextError as wrong:
        return None, [
            error(wrong.code, file, wrong.message, wrong.mend, row=row, column=head.written, value=cell)
        ]


def _reader(table: TextTable, head: Head, commas_used: bool) -> tuple[Callable[[str], Any], Any]:
    if head.is_number:
        return lambda cell: read_number(
            cell, decimal_comma=table.decimal_comma, commas_used=commas_used
        ), np.nan
    if head.column and head.column.kind == "moment":
        return read_moment, None
    if head.column and head.column.kind == "choice":
        options = head.column.options
        return lambda cell: read_choice(cell, options), ""
    return lambda cell: cell, ""


def _as_series(values: list[Any], head: Head) -> pd.Series[Any]:
    if head.column and head.column.kind == "moment":
        return pd.Series(values, dtype="datetime64[us]")
    return pd.Series(values, dtype=object)


def _numbers(
    file: str, head: Head, cells: Sequence[tuple[int, str, bool]], values: list[float]
) -> tuple[pd.Series[Any], list[Problem]]:
    with np.errstate(over="ignore", under="ignore"):  # overflow is reported below
        in_si = np.asarray(to_si(values, head.unit or "1"), dtype=float)
    column = head.column
    wrong = _beyond(column, in_si) if column is None else _beyond(column, in_si) | _forbidden(column, in_si)
    problems = [
        _range_problem(file, head, cell, value)
        for cell, value in itertools.islice(
            zip(itertools.compress(cells, wrong), itertools.compress(in_si, wrong), strict=True), PROBLEMS
        )
    ]
    # a value out of range becomes missing, so that later checks do not report it again
    in_si = np.where(wrong, np.nan, in_si)
    if column is None:
        return pd.Series(in_si, dtype=float), problems
    if column.usual is not None:
        low, high = column.usual
        problems += [
            _unusual_problem(file, head, column, cell)
            for cell, value in zip(cells, in_si, strict=True)
            if cell[2] and (value < low or value > high)
        ]
    return pd.Series(in_si, dtype=float), problems


def _beyond(column: Column | None, values: NDArray[np.float64]) -> NDArray[np.bool_]:
    if column is not None and np.isfinite(column.low):
        return beyond(values, column.dimension)
    # a signal may be near zero, and so may a column that pinscar does not know
    return beyond(np.where(np.abs(values) < 1.0, 0.0, values), "" if column is None else column.dimension)


def _forbidden(column: Column, values: NDArray[np.float64]) -> NDArray[np.bool_]:
    low = column.low if column.dimension != "temperature" else 1e-9
    within = (values > low) | ((values == low) & column.low_allowed)
    if column.whole:
        within &= values == np.rint(values)
    return np.asarray(~within & ~np.isnan(values))


def _range_problem(file: str, head: Head, cell: tuple[int, str, bool], value: float) -> Problem:
    row, text, counted = cell
    message, mend = _range_words(head, value)
    column = head.written
    if counted:
        return error("value-out-of-range", file, message, mend, row=row, column=column, value=text)
    # the run may be excluded because of this value: leave the value out and say so
    message += ", and in this excluded run it is left out"
    return warning("value-out-of-range", file, message, mend, row=row, column=column, value=text)


def _range_words(head: Head, value: float) -> tuple[str, str]:
    column = head.column
    if column is None or _beyond(column, np.array([value]))[0]:
        return "no measurement gives a number of this size", "correct the value or the unit in the header"
    if column.dimension == "temperature":
        message = "this is below absolute zero"
        return message, "correct the value or the unit in the header"
    if column.whole and value >= column.low:
        return "this must be a whole number", "write the count"
    message = f"this must be {'zero or more' if column.low_allowed else 'more than zero'}"
    if column.low > 0:
        unit = head.unit or "1"
        message = f"this must be more than {float(to_unit([column.low], unit)[0]):.4g} {unit}"
    return message, "correct it, or leave the cell blank where nothing was measured"


def _unusual_problem(file: str, head: Head, column: Column, cell: tuple[int, str, bool]) -> Problem:
    assert column.usual is not None
    unit = head.unit or "1"
    low, high = (f"{float(one):.4g}" for one in to_unit(column.usual, unit))
    message = f"this would be unusual: {column.name} mostly lies between {low} and {high} {unit}"
    mend = f"check that the values are in {unit}"
    return warning("value-unusual", file, message, mend, row=cell[0], column=head.written, value=cell[1])


def _reasons(file: str, head: Head, cells: Sequence[tuple[int, str, bool]]) -> list[Problem]:
    message = "any text here excludes the run; give a real reason"
    mend = "leave the cell blank to include the run, or write why it is excluded"
    return [
        error("excluded-not-a-reason", file, message, mend, row=row, column=head.written, value=cell)
        for row, cell, _ in cells
        if cell.casefold() in NOT_A_REASON
    ]


def _looks_numeric(table: TextTable, head: Head, cells: Sequence[tuple[int, str, bool]]) -> list[Problem]:
    filled = [cell for _, cell, _ in cells if cell]
    if head.column or not filled or "[" in head.written:
        return []
    try:
        for cell in filled:
            read_number(cell, decimal_comma=table.decimal_comma)
    except CellTextError:
        return []
    message = "the column holds numbers and has no unit, so it is kept as text and cannot be a response"
    mend = f"write a unit in brackets, such as {head.name} [mm], or {head.name} [1] for a pure number"
    return [warning("column-not-a-response", table.file, message, mend, row=1, column=head.written)]
