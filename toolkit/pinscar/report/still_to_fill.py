"""Blank cells of the runs, a line a column: a table just begun reads as a list of things to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from types import MappingProxyType

from pinscar.decision.wording import listing
from pinscar.problems import Problem, Severity

MOST = 3
"""How many rows may have a line each before they are told as one."""
UNFILLED = frozenset({"value-missing", "block-missing"})
NOUNS = MappingProxyType({"scar_length": "scar", "run_day": "date"})


def gathered(problems: Sequence[Problem]) -> list[Problem]:
    """Join the blank cells of each column of the runs, where they are more than three.

    Parameters
    ----------
    problems : sequence of Problem
        Problems in any order.

    Returns
    -------
    list of Problem
        The same with one problem in place of each such column's, at the place of its first.

    Examples
    --------
    >>> blank = [Problem("value-missing", Severity.ERROR, "runs.csv", "it is blank", "fill it in", row,
    ...                  "scar_length [mm]") for row in (2, 3, 4, 5, 9)]
    >>> print(gathered(blank)[0])
    runs.csv, column scar_length [mm]: 5 runs have no scar yet (rows 2 to 5 and 9); fill it in
    """
    columns: dict[tuple[str, str], list[Problem]] = {}
    for one in problems:
        if is_gathered(one):
            columns.setdefault((one.file, one.column or ""), []).append(one)
    joined: list[Problem] = []
    for one in problems:
        group = columns.get((one.file, one.column or ""), []) if is_gathered(one) else []
        if len(group) <= MOST:
            joined.append(one)
        elif one is group[0]:
            joined.append(_join(group))
    return joined


def is_gathered(problem: Problem) -> bool:
    """Tell whether a problem is a blank cell of the runs.

    Parameters
    ----------
    problem : Problem
        Any.

    Returns
    -------
    bool
        Whether it is one, in a row of its own.
    """
    return (
        problem.code in UNFILLED
        and problem.severity is Severity.ERROR
        and problem.file in ("runs.csv", "runs.xlsx")
        and problem.row is not None
    )


def label(problem: Problem) -> str:
    """Give the word that stands before a problem.

    Parameters
    ----------
    problem : Problem
        Any.

    Returns
    -------
    str
        ``"to fill in"`` for what was not wrong but isn't there yet, else its severity.

    Examples
    --------
    >>> label(Problem("value-missing", Severity.ERROR, "runs.csv", "m", "n"))
    'to fill in'
    """
    return "to fill in" if problem.code in UNFILLED else str(problem.severity)


def only_unfilled(problems: Sequence[Problem]) -> int:
    """Count the runs that wait to be filled in, where that is all that is wrong.

    Parameters
    ----------
    problems : sequence of Problem
        All problems.

    Returns
    -------
    int
        How many runs; 0 where anything else is wrong, or nothing.
    """
    grave = [one for one in problems if one.severity is Severity.ERROR]
    if any(one.code not in UNFILLED for one in grave):
        return 0
    return len({one.row for one in grave if is_gathered(one)})


def _join(group: Sequence[Problem]) -> Problem:
    first = group[0]
    name = (first.column or "").partition(" [")[0]
    rows = [one.row for one in group if one.row is not None]
    message = f"{len(rows)} runs have no {NOUNS.get(name, name)} yet ({_rows(rows)})"
    mend = first.mend.replace("the reason in the column", "why a run is excluded in the column")
    return replace(first, message=message, mend=mend, row=None, cell=None)


def _rows(rows: Sequence[int]) -> str:
    spans = []
    for _, run in groupby(enumerate(sorted(rows)), key=lambda pair: pair[1] - pair[0]):
        span = [row for _, row in run]
        spans.append(str(span[0]) if len(span) == 1 else f"{span[0]} to {span[-1]}")
    shown = spans if len(spans) <= 4 else [*spans[:3], f"{len(spans) - 3} more places"]
    return f"rows {listing(shown)}"
