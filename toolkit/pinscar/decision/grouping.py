"""Runs taken apart by load level and lubricant, always in the same order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd


def by_level(runs: pd.DataFrame) -> Iterator[tuple[float, pd.DataFrame]]:
    """Take runs apart by load level.

    Parameters
    ----------
    runs : DataFrame
        Evaluated runs; those without a level are left out.

    Yields
    ------
    tuple of float and DataFrame
        Load level [N], ascending, and its runs.
    """
    key: Any
    for key, group in runs.groupby("load_level"):
        yield float(key), group


def by_lubricant(runs: pd.DataFrame) -> Iterator[tuple[str, pd.DataFrame]]:
    """Take runs apart by lubricant.

    Parameters
    ----------
    runs : DataFrame
        Evaluated runs.

    Yields
    ------
    tuple of str and DataFrame
        Lubricant, in order of first appearance, and its runs.
    """
    for name, group in runs.groupby("lubricant", sort=False):
        yield str(name), group


def by_cell(runs: pd.DataFrame) -> Iterator[tuple[float, str, pd.DataFrame]]:
    """Take runs apart by load level and lubricant.

    Parameters
    ----------
    runs : DataFrame
        Evaluated runs; those without a level are left out.

    Yields
    ------
    tuple of float, str and DataFrame
        Load level [N], ascending; lubricant, in order of first appearance in all of the runs; and their runs.
    """
    order = list(dict.fromkeys(runs["lubricant"]))
    for level, at_level in by_level(runs):
        groups = dict(by_lubricant(at_level))
        for name in order:
            if name in groups:
                yield level, name, groups[name]
