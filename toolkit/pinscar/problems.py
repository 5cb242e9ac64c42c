"""One record for everything that can be wrong with an input, and the one text made from it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum

from pinscar.visible import visible

NO_FORMULA = "start it with a letter or a figure"
"""What to do about a name that starts as a formula does."""


class Severity(StrEnum):
    """How much a problem weighs: an error stops the report, a warning is printed in it."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What is wrong, where, what was found there and how to mend it.

    Attributes
    ----------
    code : str
        Stable identifier in kebab-case, such as ``"unit-missing"``.
    severity : Severity
        Whether it stops the report.
    file : str
        Name of the file, relative to the campaign folder.
    message : str
        What is wrong, in one plain clause without a full stop.
    mend : str
        What to do about it, in one plain clause without a full stop.
    row : int, optional
        Row as a spreadsheet counts it (the header is row 1).
    column : str, optional
        Header of the column, or the dotted key in a TOML file.
    value : str, optional
        The value found, as it stands in the file.
    cell : str, optional
        The cell of a workbook, such as ``"D7"``.

    Examples
    --------
    >>> print(
    ...     Problem(
    ...         code="unit-missing",
    ...         severity=Severity.ERROR,
    ...         file="runs.csv",
    ...         message="the column needs a unit",
    ...         mend="write it as load [N]",
    ...         row=1,
    ...         column="load",
    ...     )
    ... )
    runs.csv, row 1, column load: the column needs a unit; write it as load [N]
    """

    code: str
    severity: Severity
    file: str
    message: str
    mend: str
    row: int | None = None
    column: str | None = None
    value: str | None = None
    cell: str | None = None

    def __post_init__(self) -> None:
        # What a stranger's file says may not steer a terminal or a page.
        for name in ("file", "message", "mend", "column", "value", "cell"):
            said = getattr(self, name)
            if isinstance(said, str):
                object.__setattr__(self, name, visible(said))

    def __str__(self) -> str:
        place = [self.file]
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column is not None:
            place.append(f"column {self.column}" if self.file.endswith((".csv", ".xlsx")) else self.column)
        if self.cell is not None:
            place.append(f"cell {self.cell}")
        found = "" if self.value is None else f" (found {_shortened(self.value)!r})"
        return f"{', '.join(place)}: {self.message}{found}; {self.mend}"

    def as_dict(self) -> dict[str, str | int | None]:
        """Return the record as plain JSON types, for ``--json`` and for results.

        Examples
        --------
        >>> Problem(code="x", severity=Severity.WARNING, file="runs.csv", message="m", mend="n").as_dict()[
        ...     "severity"
        ... ]
        'warning'
        """
        return asdict(self) | {"severity": str(self.severity)}


LONGEST = 200
"""Most letters of a value that a line repeats."""


def _shortened(value: str) -> str:
    return value if len(value) <= LONGEST else f"{value[:LONGEST]}…"


_WIDEST = (8, 16, 5, 20, 20, 44, 44)


def text_table(problems: Sequence[Problem]) -> list[str]:
    r"""Lay problems out as a table of plain text, for where a page can't be shown.

    Examples
    --------
    >>> one = Problem(
    ...     code="x",
    ...     severity=Severity.ERROR,
    ...     file="runs.csv",
    ...     message="no unit",
    ...     mend="write load [N]",
    ...     row=1,
    ...     column="load",
    ... )
    >>> print("\n".join(line.rstrip() for line in text_table([one])))
    weight  file      row  column  found  what is wrong  how to mend it
    error   runs.csv  1    load    -      no unit        write load [N]
    """
    head = ("weight", "file", "row", "column", "found", "what is wrong", "how to mend it")
    rows = [head, *(_cells(problem) for problem in problems)]
    broken = [
        [textwrap.wrap(cell, width) or ["-"] for cell, width in zip(row, _WIDEST, strict=True)]
        for row in rows
    ]
    widths = [max(len(line) for row in broken for line in row[place]) for place in range(len(head))]
    return [
        "  ".join(
            (cell[line] if line < len(cell) else "").ljust(width)
            for cell, width in zip(row, widths, strict=True)
        )
        for row in broken
        for line in range(max(map(len, row)))
    ]


def _cells(problem: Problem) -> tuple[str, ...]:
    row = "-" if problem.row is None else str(problem.row)
    place = (str(problem.severity), problem.file, row, problem.column or "-", problem.value or "-")
    return (*place, problem.message, problem.mend)


def starts_formula(name: str) -> bool:
    """Tell whether a spreadsheet that opens a table with this name in it would run something.

    Examples
    --------
    >>> starts_formula('=HYPERLINK("x")'), starts_formula("-5"), starts_formula("=7"), starts_formula("R-10")
    (True, False, False, False)
    """
    return name[:1] in ("=", "+", "-", "@") and any(mark in name for mark in "(|!")


def either(words: Sequence[str]) -> str:
    """Offer words to choose from.

    Examples
    --------
    >>> either(["yes"]), either(["none", "light", "heavy"])
    ('yes', 'none, light or heavy')
    """
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]
