"""Ranks, and the correlation of two rows of numbers by their ranks."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr


def ranked(values: ArrayLike) -> NDArray[np.float64]:
    """Rank numbers from 1 on; equal ones share the mean of their ranks.

    Parameters
    ----------
    values : array-like, shape (n,)
        The numbers, in any unit.

    Returns
    -------
    array, shape (n,)
        Their ranks [1].

    References
    ----------
    M. G. Kendall, Rank Correlation Methods, 1948, chapter 3 (mid-ranks of ties).

    Examples
    --------
    >>> ranked([7.0, 3.0, 7.0, 9.0])
    array([2.5, 1. , 2.5, 4. ])
    """
    _, place, count = np.unique(np.asarray(values), return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(count) - 0.5 * (count - 1))[place], dtype=np.float64)


def rank_correlation(x: ArrayLike, y: ArrayLike) -> tuple[float, float]:
    """Correlate two rows of numbers by their ranks (Spearman), and give the two-sided p value.

    Under independence t = r sqrt((n - 2) / (1 - r²)) nearly follows Student's distribution, n - 2 degrees of
    freedom.

    Parameters
    ----------
    x, y : array-like, shape (n,)
        Pairs of numbers, three at least, neither all equal, in any unit.

    Returns
    -------
    tuple of float
        Correlation [1] and p value [1].

    References
    ----------
    C. Spearman, The proof and measurement of association between two things, Am. J. Psychol. 15, 1904, 72;
    M. G. Kendall, Rank Correlation Methods, 1948, chapter 4 (the t approximation).

    Examples
    --------
    >>> r, p = rank_correlation([1, 2, 3, 4, 5], [5, 6, 7, 8, 7])
    >>> round(r, 4), round(p, 4)
    (0.8208, 0.0886)
    """
    r = float(np.clip(np.corrcoef(ranked(x), ranked(y))[0, 1], -1.0, 1.0))
    free = np.size(x) - 2
    if abs(r) == 1.0:
        return r, 0.0
    return r, float(2.0 * stdtr(free, -abs(r) * math.sqrt(free / (1.0 - r * r))))
