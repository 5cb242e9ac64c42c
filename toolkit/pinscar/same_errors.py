"""The same error in many cells as one line, and a long list cut where a person stops reading."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from pinscar.problems import Problem, Severity

MOST = 2
"""How many cells of a column may have a line each before they are told as one."""
LINES = 20
"""How many lines are shown at most, unless all are wanted."""
SPANS = 4


def grouped(
    problems: Sequence[Problem], letters: Callable[[str], Mapping[str, str]] | None = None
) -> list[Problem]:
    """Join errors of one column that differ only by row and value.

    Examples
    --------
    >>> cells = [
    ...     Problem(
    ...         code="value-decimal-mark",
    ...         severity=Severity.ERROR,
    ...         file="runs.csv",
    ...         message="the number has a comma",
    ...         mend="write a point",
    ...         row=row,
    ...         column="load [N]",
    ...         value=f"4,{row}",
    ...     )
    ...     for row in (2, 3, 4, 9)
    ... ]
    >>> print(grouped(cells, lambda file: {"load [N]": "E"})[0])
    runs.csv, E2:E4 and E9, 4 cells, load [N]: the number has a comma (found '4,2', '4,3' ...); write a point
    """
    groups: dict[tuple[object, ...], list[Problem]] = {}
    for one in problems:
        groups.setdefault(_key(one), []).append(one)
    joined: list[Problem] = []
    for one in problems:
        group = groups[_key(one)]
        if len(group) <= MOST or not _is_cell(one):
            joined.append(one)
        elif one is group[0]:
            joined.append(_join(group, letters(one.file) if letters else {}))
    return joined


def _key(one: Problem) -> tuple[object, ...]:
    if not _is_cell(one):
        return (id(one),)
    return (one.code, one.file, one.column, one.message, one.mend)


def _is_cell(one: Problem) -> bool:
    return one.severity is Severity.ERROR and one.row is not None and one.row > 1


def _join(group: Sequence[Problem], letters: Mapping[str, str]) -> Problem:
    first = group[0]
    letter = letters.get(first.column or "") or (first.cell or "").rstrip("0123456789")
    rows = sorted(one.row for one in group if one.row is not None)
    place = f"{_spans(rows, letter)}, {len(group)} {'cells' if first.column else 'rows'}"
    column = f", {first.column}" if first.column else ""
    values = list(dict.fromkeys(one.value for one in group if one.value is not None))
    found = ", ".join(map(repr, values[:2])) + (" ..." if len(values) > 2 else "")
    message = f"{first.message} (found {found})" if found else first.message
    return replace(first, file=f"{first.file}, {place}{column}", message=message, row=None,
                   column=None, value=None, cell=None)  # fmt: skip


def _spans(rows: Sequence[int], letter: str) -> str:
    spans = []
    for _, run in groupby(enumerate(rows), key=lambda pair: pair[1] - pair[0]):
        span = [row for _, row in run]
        first, last = f"{letter}{span[0]}", f"{letter}{span[-1]}"
        spans.append(first if len(span) == 1 else f"{first}:{last}" if letter else f"{first} to {last}")
    shown = spans if len(spans) <= SPANS else [*spans[: SPANS - 1], f"{len(spans) - SPANS + 1} more places"]
    told = shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
    return told if letter else f"rows {told}"


def shortened(lines: Sequence[str], more: str) -> list[str]:
    """Cut a list of lines.

    Examples
    --------
    >>> shortened(["a"] * 30, "pinscar check DIR --all")[-1]
    '11 more lines: pinscar check DIR --all'
    """
    if len(lines) <= LINES:
        return list(lines)
    return [*lines[: LINES - 1], f"{len(lines) - LINES + 1} more lines: {more}"]
