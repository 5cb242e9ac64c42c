"""Load levels: runs whose loads agree are compared at one load."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

TOLERANCE = 0.005
"""Relative spread of the loads that still count as one level (0.5 %)."""


def load_levels(load: ArrayLike, included: ArrayLike) -> NDArray[np.float64]:
    """Give each run the load level that it belongs to.

    Sorted loads start a new level where they exceed the level's smallest load by more than 0.5 %; a level is
    shown as the median load of its included runs.

    Parameters
    ----------
    load : array_like, shape (n,)
        Load of each run [N].
    included : array_like of bool, shape (n,)
        Whether the run counts; an excluded run gets no level.

    Returns
    -------
    ndarray, shape (n,)
        Load level of each run [N]; NaN for an excluded run or a missing load.

    Examples
    --------
    >>> load_levels([450.0, 451.0, 600.0, 449.5], [True, True, True, False])
    array([450.5, 450.5, 600. ,   nan])
    """
    loads = np.asarray(load, dtype=float)
    counted = np.asarray(included, dtype=bool) & np.isfinite(loads)
    levels = np.full(loads.shape, np.nan)
    remaining = np.sort(loads[counted])
    while remaining.size:
        members = remaining[remaining <= remaining[0] * (1.0 + TOLERANCE)]
        inside = counted & (loads >= members[0]) & (loads <= members[-1])
        levels[inside] = np.median(members)
        remaining = remaining[members.size :]
    return levels


def same_level(load: float, level: float) -> bool:
    """Tell whether a load given by a person means a level.

    Parameters
    ----------
    load : float
        Load as given [N].
    level : float
        Load level [N].

    Returns
    -------
    bool
        True within 0.5 %.

    Examples
    --------
    >>> same_level(450.0, 451.0), same_level(450.0, 460.0)
    (True, False)
    """
    return abs(load - level) <= TOLERANCE * max(load, level)
