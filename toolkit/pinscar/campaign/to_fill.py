"""What is left to fill in: the blank cells of the runs, a line per column.

Example rows of the starter are found again in a table of runs: invented numbers must not pass as data.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from types import MappingProxyType

import numpy as np
import pandas as pd

from pinscar.campaign.codes import warning
from pinscar.errors import Problem, Severity
from pinscar.shown import from_shown
from pinscar.wording import listing

MOST = 3
"""How many rows may have a line each before they are told as one."""
UNFILLED = frozenset({"value-missing", "block-missing"})
NOUNS = MappingProxyType({"scar_length": "scar", "run_day": "date"})


def gathered(problems: Sequence[Problem]) -> list[Problem]:
    """Join the blank cells of each column of the runs, where they are more than three.

    Examples
    --------
    >>> blank = [
    ...     Problem(
    ...         code="value-missing",
    ...         severity=Severity.ERROR,
    ...         file="runs.csv",
    ...         message="it is blank",
    ...         mend="fill it in",
    ...         row=row,
    ...         column="scar_length [mm]",
    ...     )
    ...     for row in (2, 3, 4, 5, 9)
    ... ]
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
    """Tell whether a problem is a blank cell of the runs."""
    return (
        problem.code in UNFILLED
        and problem.severity is Severity.ERROR
        and problem.file in ("runs.csv", "runs.xlsx")
        and problem.row is not None
    )


def label(problem: Problem) -> str:
    """Give the word that stands before a problem.

    Examples
    --------
    >>> label(Problem(code="value-missing", severity=Severity.ERROR, file="runs.csv", message="m", mend="n"))
    'to fill in'
    """
    return "to fill in" if problem.code in UNFILLED else str(problem.severity)


def only_unfilled(problems: Sequence[Problem]) -> int:
    """Count the runs that wait to be filled in, where that is all that is wrong."""
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


CODE = "example-rows"
NOTE = "example row"
"""How the note of the starter's first row begins."""
ENOUGH = 4
"""How many cells of a row must be the starter's before it counts as an example; fewer if it has fewer."""

EXAMPLES: Mapping[str, tuple[float | str, ...]] = MappingProxyType(
    {
        "run_at": (
            *("2026-03-02T09:10", "2026-03-02T09:22", "2026-03-02T09:34", "2026-03-02T09:46"),
            *("2026-03-03T09:10", "2026-03-03T09:22", "2026-03-03T09:34", "2026-03-03T09:46"),
        ),
        "peak_temperature": (46.0, 46.0, 46.0, 47.0, 49.0, 48.0, 46.0, 47.0),
        "quiet_time": (45.0, 29.0, 28.0, 39.0, 29.0, 39.0, 42.0, 31.0),
        "fling_mass": (22.0, 21.0, 21.0, 25.0, 15.0, 25.0, 26.0, 30.0),
        "fling_area": (240.0, 230.0, 230.0, 275.0, 165.0, 275.0, 285.0, 325.0),
        "scar_length": (3.34, 2.86, 2.90, 3.33, 2.82, 3.31, 3.33, 2.91),
        "scar_width": (1.85, 1.59, 1.57, 1.77, 1.54, np.nan, 1.84, 1.57),
    }
)
"""What a run fills in, as the starter's eight rows have it and in their units (degC, s, mg, mm^2, mm). A test
compares it with the starter's own file."""

_UNITS = MappingProxyType(
    {
        **{"peak_temperature": "°C", "quiet_time": "s", "fling_mass": "mg"},
        **{"fling_area": "mm²", "scar_length": "mm", "scar_width": "mm"},
    }
)


def example_rows(runs: pd.DataFrame) -> list[bool]:
    """Tell which runs still are example rows: by their measured cells in any unit, or by the starter's note.

    Examples
    --------
    >>> runs = pd.DataFrame({"scar_length": [3.34e-3, 3.30e-3], "scar_width": [1.85e-3, 1.85e-3]})
    >>> example_rows(runs)
    [True, False]
    """
    filled = np.zeros((len(runs), len(EXAMPLES["run_at"])), dtype=int)
    same = np.zeros_like(filled)
    for name, values in EXAMPLES.items():
        if name not in runs:
            continue
        own, starters = _numbers(name, runs[name]), _starter(name, values)
        there = ~np.isnan(own)[:, None] & ~np.isnan(starters)[None, :]
        filled += there
        same += there & np.isclose(own[:, None], starters[None, :], rtol=1e-9, atol=0.0)
    by_cells = np.any((same >= np.minimum(ENOUGH, filled)) & (same >= 2), axis=1).tolist()
    notes = runs["note"] if "note" in runs else [""] * len(runs)
    by_note = [str(note).strip().casefold().startswith(NOTE) for note in notes]
    return [bool(cells or note) for cells, note in zip(by_cells, by_note, strict=True)]


def check_examples(runs: pd.DataFrame, file: str) -> list[Problem]:
    """Warn of every example row that was not replaced.

    Examples
    --------
    >>> runs = pd.DataFrame({"row": [2], "scar_length": [3.34e-3], "scar_width": [1.85e-3]})
    >>> print(check_examples(runs, "runs.csv")[0])
    runs.csv, row 2: this is an example row of the starter, not a run; put a run of your own in its place
    """
    message = "this is an example row of the starter, not a run"
    return [
        warning(CODE, file, message, "put a run of your own in its place", row=int(row))
        for row, example in zip(runs["row"], example_rows(runs), strict=True)
        if example
    ]


def _numbers(name: str, column: pd.Series) -> np.ndarray:
    if name == "run_at":
        moments = pd.to_datetime(column, errors="coerce")
        return np.array(
            [np.nan if pd.isna(one) else one.replace(tzinfo=None).timestamp() for one in moments], dtype=float
        )
    return pd.to_numeric(column, errors="coerce").to_numpy(dtype=float)


def _starter(name: str, values: tuple[float | str, ...]) -> np.ndarray:
    if name == "run_at":
        return np.array([pd.Timestamp(one).timestamp() for one in values], dtype=float)
    return from_shown(np.asarray(values, dtype=float), _UNITS[name])
