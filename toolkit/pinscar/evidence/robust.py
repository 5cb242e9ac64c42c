"""Spread that a few wrong readings hardly change, and that of readings rounded to steps."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

TO_SD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation [1]."""


def robust_sd(deviations: ArrayLike) -> float:
    """Estimate a standard deviation from the median size of deviations.

    Parameters
    ----------
    deviations : array_like
        Deviations from the middle, of either sign [any unit]; at least one.

    Returns
    -------
    float
        Standard deviation [their unit].

    References
    ----------
    F. R. Hampel, The influence curve and its role in robust estimation, J. Am. Stat. Assoc. 69, 1974.

    Examples
    --------
    >>> robust_sd([-1.0, 1.0, 1.0, -1.0, 900.0])
    1.4826
    """
    return TO_SD * float(np.median(np.abs(deviations)))


def rounding_sd(readings: ArrayLike) -> float:
    """Give the standard deviation that rounding alone brings, from the finest step between readings.

    Parameters
    ----------
    readings : array_like
        Readings [any unit].

    Returns
    -------
    float
        The step over the root of 12 [their unit]; 0 where all readings are alike.

    References
    ----------
    JCGM 100:2008 (GUM), F.2.2.1.

    Examples
    --------
    >>> f"{rounding_sd([20.0, 20.5, 20.0, 21.0]):.4f}"
    '0.1443'
    """
    steps = np.diff(np.unique(np.asarray(readings, dtype=np.float64)))
    return float(steps.min()) / float(np.sqrt(12.0)) if steps.size else 0.0
