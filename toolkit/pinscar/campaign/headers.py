"""Headers: each to the column it names and its unit, near misses to a problem that says what to write."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from pinscar.campaign.codes import error, warning
from pinscar.campaign.columns import RESERVED, Column, find_column
from pinscar.campaign.spreadsheets import TextTable
from pinscar.errors import Problem
from pinscar.units import UnitError, check_dimension, check_unit


@dataclass(frozen=True, slots=True)
class Head:
    """A header that was understood.

    Attributes
    ----------
    position : int
        Place in the row, from 0 on.
    written : str
        The header as it stands in the file.
    name : str
        Name without unit.
    unit : str
        Unit text; empty where there is none.
    column : Column or None
        The known column it names, or None for one of the user's own.
    """

    position: int
    written: str
    name: str
    unit: str
    column: Column | None

    @property
    def is_number(self) -> bool:
        """Whether its cells are read as numbers."""
        return self.column.kind == "number" if self.column else bool(self.unit)


def read_headers(table: TextTable, columns: tuple[Column, ...]) -> tuple[list[Head], list[Problem]]:
    """Understand a table's headers.

    Examples
    --------
    >>> from pinscar.campaign.columns import LOAD_STEPS
    >>> table = TextTable(file="load_steps.csv", header=("run_id", "start [s]", "load [kgf]"), rows=())
    >>> [(head.name, head.unit) for head in read_headers(table, LOAD_STEPS)[0]]
    [('run_id', ''), ('start', 's'), ('load', 'kgf')]
    """
    heads: list[Head] = []
    problems: list[Problem] = []
    spelled = {split_header(written)[0] for written in table.header}
    mistaken: set[str] = set()
    for position, written in enumerate(table.header):
        if not written:
            continue
        head = Head(position, written, *split_header(written), find_column(columns, split_header(written)[0]))
        near = None if head.column else _near(written, columns, spelled)
        found = _problems(table.file, head, near, {one.name for one in heads})
        problems += found
        if near:
            mistaken.add(near[0].name)
        if all(one.severity == "warning" for one in found):
            unit = "" if any(one.code == "unit-logarithmic" for one in found) else head.unit
            heads.append(Head(position, written, head.name, unit, head.column))
    problems += [
        error(
            "column-missing",
            table.file,
            f"the column {column.name} is missing",
            f"add a column {column.header}",
            row=1,
        )
        for column in columns
        if column.required and column.name not in spelled | mistaken
    ]
    return heads, problems


def split_header(written: str) -> tuple[str, str]:
    """Take a header apart.

    Examples
    --------
    >>> split_header("load [N]")
    ('load', 'N')
    """
    name, bracket, rest = written.partition("[")
    # cut by hand: a pattern with a blank before the bracket takes time with the square of the blanks
    if not bracket or not rest.endswith("]") or "\n" in name.rstrip() or "\n" in rest:
        return written, ""
    return name.rstrip(), rest[:-1].strip()


def _near(written: str, columns: tuple[Column, ...], spelled: set[str]) -> tuple[Column, bool] | None:
    """Find the known column a header was probably meant for, and whether that is beyond doubt."""
    name = re.sub(r"[\s\-]+", "_", re.split(r"[\[(,]", written)[0].strip().casefold()).strip("_")
    for column in columns:
        if name == column.name:
            return column, True
        rest = re.fullmatch(rf"{column.name}_(.+)", name)
        if rest and column.needs_unit and column.name not in spelled and _fits(rest.group(1), column):
            return column, True
    absent = {column.name: column for column in columns if column.name not in spelled}
    close = difflib.get_close_matches(name, absent, n=1, cutoff=0.8)
    if not close:
        return None
    column, typing_error = absent[close[0]], bool(difflib.get_close_matches(name, close, n=1, cutoff=0.9))
    # a mistyped wear_stopped or quiet_time would silently change the results; a mistyped note would not
    return column, column.required or (typing_error and column.kind in {"number", "choice"})


def _fits(unit_text: str, column: Column) -> bool:
    try:
        check_dimension(unit_text, column.dimension)
    except UnitError:
        return False
    return True


def _problems(file: str, head: Head, near: tuple[Column, bool] | None, taken: set[str]) -> list[Problem]:
    if near:
        column, sure = near
        message, mend = f"the header is almost {column.name}", f"write it as {column.header}"
        if sure:
            return [_error(file, head, "column-near-miss", message, mend)]
        mend += f", if {column.name} is meant"
        almost = warning("column-near-miss", file, message, mend, row=1, column=head.written)
        return [almost, *_own_column(file, head, taken)]
    return _known_column(file, head, head.column, taken) if head.column else _own_column(file, head, taken)


def _error(file: str, head: Head, code: str, message: str, mend: str) -> Problem:
    return error(code, file, message, mend, row=1, column=head.written)


def _twice(file: str, head: Head) -> Problem:
    mend = "keep one of the two, or give one another name"
    return _error(file, head, "column-twice", f"a second column is called {head.name}", mend)


def _known_column(file: str, head: Head, column: Column, taken: set[str]) -> list[Problem]:
    if head.name in taken:
        return [_twice(file, head)]
    if head.unit and column.kind != "number":
        return [
            _error(file, head, "unit-unwanted", "this column takes no unit", f"write it as {column.name}")
        ]
    if column.needs_unit and not head.unit:
        mend = f"write it as {column.header}, with the unit the values are in"
        return [_error(file, head, "unit-missing", "the column needs a unit", mend)]
    if not head.unit:
        return []
    try:
        check_dimension(head.unit, column.dimension)
    except UnitError as failure:
        mend = failure.mend + (", or name the column weights [kg]" if "kgf" in failure.mend else "")
        return [_error(file, head, failure.code, failure.message, mend)]
    return []


def _own_column(file: str, head: Head, taken: set[str]) -> list[Problem]:
    if head.name in taken:
        return [_twice(file, head)]
    if head.name in RESERVED:
        mend = f"rename it, for example {head.name}_measured"
        return [_error(file, head, "column-reserved", f"pinscar computes {head.name} itself", mend)]
    if not head.name:
        mend = "write a name before the bracket"
        return [_error(file, head, "column-unnamed", "the header has a unit and no name", mend)]
    try:
        check_unit(head.unit or "1")
    except UnitError as failure:
        if failure.code != "unit-logarithmic":
            return [_error(file, head, failure.code, failure.message, failure.mend)]
        mend = "the column is kept as text; with a unit that has an SI value it can be a response"
        return [warning(failure.code, file, failure.message, mend, row=1, column=head.written)]
    return []
