"""Who made a run: the column by which a precision study tells its laboratories apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import pandas as pd

from pinscar.errors import InputError, UsageError
from pinscar.problems import Problem, Severity

DEFAULT_GROUPS = ("laboratory", "operator", "ring_id")
"""Columns that are tried in this order where none is named."""

_NOUNS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "laboratory": ("laboratory", "laboratories"),
        "ring_id": ("ring", "rings"),
        "run_day": ("day", "days"),
        "rig": ("rig", "rigs"),
        "rig_id": ("rig", "rigs"),
    }
)
# Columns of text that tell the runs apart in another way than by who or what made them.
_NO_GROUPS = frozenset({"run_id", "lubricant", "excluded", "note", "wear_stopped", "smoke", "row"})


@dataclass(frozen=True, slots=True)
class Grouping:
    """The column of the groups, and what a reader calls one and several of them.

    Parameters
    ----------
    column : str
        Column of the runs.
    noun, plural : str
        Such as "laboratory" and "laboratories".
    """

    column: str
    noun: str
    plural: str

    @property
    def between_laboratories(self) -> bool:
        """Whether the spread between groups is reproducibility in the standard's sense."""
        return self.column == "laboratory"


def choose_grouping(runs: pd.DataFrame, wanted: str | None, file: str) -> Grouping:
    """Find the column that tells the groups of a precision study.

    Parameters
    ----------
    runs : DataFrame
        The included runs.
    wanted : str or None
        Name of the column; None takes the first of `DEFAULT_GROUPS` that holds two names or more.
    file : str
        Name of the runs table, for problems.

    Returns
    -------
    Grouping
        Column and words.

    Raises
    ------
    UsageError
        The runs have no such column of text.
    InputError
        The column holds fewer than two names, or none of the default ones holds two.
    """
    if wanted is None:
        found = next((name for name in DEFAULT_GROUPS if name in runs and len(names(runs, name)) > 1), None)
        if found is None:
            raise InputError([_no_groups(file)])
        return grouping(found)
    if wanted not in candidates(runs):
        listed = ", ".join(candidates(runs))
        raise UsageError(f"the runs have no column of names called {wanted!r}; they have {listed}")
    if len(names(runs, wanted)) < 2:
        raise InputError([_one_group(file, wanted, names(runs, wanted))])
    return grouping(wanted)


def candidates(runs: pd.DataFrame) -> list[str]:
    """List the columns that can tell groups apart.

    Parameters
    ----------
    runs : DataFrame
        The runs.

    Returns
    -------
    list of str
        Columns of text, less those that tell something else of a run.
    """
    return [
        name
        for name, values in ((str(key), runs[key]) for key in runs)
        if name not in _NO_GROUPS
        and not name.endswith("_from")
        and values.map(lambda cell: isinstance(cell, str)).any()
    ]


def names(runs: pd.DataFrame, column: str) -> list[str]:
    """List the names in a column, in order.

    Parameters
    ----------
    runs : DataFrame
        The runs.
    column : str
        The column.

    Returns
    -------
    list of str
        Each name once, sorted; blanks are none.
    """
    return sorted({cell for cell in runs[column] if isinstance(cell, str) and cell})


def grouping(column: str) -> Grouping:
    """Give a column the words for its groups.

    Parameters
    ----------
    column : str
        Name of the column.

    Returns
    -------
    Grouping
        Column and words.
    """
    word = column.removesuffix("_id").replace("_", " ")
    return Grouping(column, *_NOUNS.get(column, (word, f"{word}s")))


def _no_groups(file: str) -> Problem:
    return Problem(
        "study-without-groups",
        Severity.ERROR,
        file,
        f"none of the columns {', '.join(DEFAULT_GROUPS)} holds two names, so it is unknown who made a run",
        "fill one of them in, or name another column with -p group=COLUMN",
    )


def _one_group(file: str, column: str, found: list[str]) -> Problem:
    held = f"only {found[0]}" if found else "no name"
    return Problem(
        "study-without-groups",
        Severity.ERROR,
        file,
        f"the column holds {held}, and a precision study compares at least two",
        "name another column with -p group=COLUMN, or fill this one in",
        column=column,
    )
