"""Spread that a few wrong readings hardly change, and that of readings rounded to steps."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

TO_SD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation [1]."""

_FINEST = 1e-6  # steps below that share of the range are no rounding that a recorder does


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
    """Give the standard deviation that rounding alone brings, from the step that all readings share.

    Parameters
    ----------
    readings : array_like
        Readings [any unit].

    Returns
    -------
    float
        The step over the root of 12 [their unit]; 0 where all readings are alike or share no step.

    References
    ----------
    JCGM 100:2008 (GUM), F.2.2.1.

    Examples
    --------
    >>> f"{rounding_sd([20.0, 20.5, 20.0, 21.0]):.4f}"
    '0.1443'
    """
    levels = np.unique(np.asarray(readings, dtype=np.float64))
    finest = _FINEST * float(np.ptp(levels)) if levels.size else 0.0
    step = 0.0
    for one in np.diff(levels).tolist():  # Euclid's algorithm: 20.0, 20.5 and 21.2 are rounded to 0.1
        while one > finest:
            step, one = one, math.fmod(step, one)
        if 0.0 < step <= 2.0 * finest:
            return 0.0
    return step / math.sqrt(12.0)
