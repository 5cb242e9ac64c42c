"""Readings at which a recorder was overdriven: it goes on writing the highest value that it has."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Flags = NDArray[np.bool_]

_FEWEST = 6
AT_THE_END = 4
"""So many readings in a row that are equal, at the highest value of all, show a recorder at its end [1]."""

_MOST_EQUAL = 0.2  # of neighbours elsewhere that are equal: readings that are rounded coarsely tell nothing


def at_its_end(values: ArrayLike) -> Flags:
    """Find readings at which a recorder was overdriven: it writes the highest value that it has.

    Parameters
    ----------
    values : array_like
        Readings in order [any unit]; NaN where missing.

    Returns
    -------
    ndarray of bool
        True where a reading is the highest of all, or the lowest, if four in a row are and elsewhere fewer
        than a fifth of neighbours are equal; the true value lies beyond.

    References
    ----------
    Own convention.

    Examples
    --------
    >>> np.flatnonzero(at_its_end([0.1, 0.0, 50.0, 50.0, 50.0, 50.0, 49.1, 48.3, 46.0, 45.2, 45.5]))
    array([2, 3, 4, 5])
    """
    y = np.asarray(values, dtype=np.float64)
    found = np.zeros(y.shape, dtype=np.bool_)
    there = np.flatnonzero(np.isfinite(y))
    if there.size < _FEWEST:
        return found
    z = y[there]
    for end in (float(np.max(z)), float(np.min(z))):
        at_end = z == end
        edges = np.flatnonzero(np.diff(np.concatenate([[False], at_end, [False]]).astype(int)))
        longest = int(np.max(np.diff(edges)[::2], initial=0))
        others = z[~at_end]
        equal = float(np.mean(np.diff(others) == 0.0)) if others.size > 1 else 1.0
        if longest >= AT_THE_END and equal < _MOST_EQUAL:
            found[there[at_end]] = True
    return found
