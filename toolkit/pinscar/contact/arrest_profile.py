"""Profile-likelihood interval of one of two parameters of a least-squares fit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from scipy.optimize import brentq

from pinscar.contact.arrays import FloatArray

SumOfSquares: TypeAlias = Callable[[FloatArray], FloatArray]
Region: TypeAlias = tuple[FloatArray, FloatArray]

_FIRST_STEP = 0.05
_GRID = 33
_SMALLEST = 1e-7


def profile_sum(sum_of_squares: SumOfSquares, index: int, value: float, region: Region) -> float:
    """Compute the least sum of squares with one of two parameters held at a value.

    A grid over the other parameter, then finer and finer grids round its best point: derivatives vanish
    where a curve has run flat, and a search by slopes would stop there.

    Parameters
    ----------
    sum_of_squares : callable
        Sum of squares of the fit at each of m points, from shape (m, 2) to (m,).
    index : int
        Parameter that is held, 0 or 1.
    value : float
        Value at which it is held [unit of the parameter].
    region : tuple of two ndarray of float
        Lowest and highest values of the two parameters [unit of the parameter].

    Returns
    -------
    float
        Least sum of squares [1].

    References
    ----------
    D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988, section 6.1.

    Examples
    --------
    A straight line through three points with the intercept held at 0:

    >>> x, y = np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 4.0])
    >>> squares = lambda p: np.sum((y - p[:, :1] - p[:, 1:] * x) ** 2, axis=1)
    >>> round(profile_sum(squares, 0, 0.0, (np.full(2, -10.0), np.full(2, 10.0))), 6)
    0.357143
    """
    low, high = (float(edge[1 - index]) for edge in region)
    points = np.full((_GRID, 2), value)
    while True:
        grid = np.linspace(low, high, _GRID)
        points[:, 1 - index] = grid
        sums = sum_of_squares(points)
        best = int(np.argmin(sums))
        if high - low < _SMALLEST:
            return float(sums[best])
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, _GRID - 1)]


def profile_limit(
    sum_of_squares: SumOfSquares, index: int, best: float, side: int, region: Region, ceiling: float
) -> float | None:
    """Find where the profile of one parameter rises to a ceiling, on one side of the best fit.

    Parameters
    ----------
    sum_of_squares : callable
        Sum of squares of the fit at each of m points, from shape (m, 2) to (m,).
    index : int
        Parameter whose limit is sought, 0 or 1.
    best : float
        Its value at the best fit [unit of the parameter].
    side : int
        0 for the lower limit, 1 for the upper.
    region : tuple of two ndarray of float
        Lowest and highest values of the two parameters [unit of the parameter].
    ceiling : float
        Sum of squares that ends the interval [1].

    Returns
    -------
    float or None
        The limit; None where the profile stays below the ceiling to the region's edge, so that the data do
        not bound the parameter.

    References
    ----------
    D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988, section 6.1.

    Examples
    --------
    For a straight line the profile is the classical parabola, here ``0.015 + 2 (slope - 0.95)^2``:

    >>> x, y = np.array([-1.0, 0.0, 1.0]), np.array([-1.0, 0.1, 0.9])
    >>> squares = lambda p: np.sum((y - p[:, :1] - p[:, 1:] * x) ** 2, axis=1)
    >>> round(profile_limit(squares, 1, 0.95, 1, (np.full(2, -10.0), np.full(2, 10.0)), 1.0), 6)
    1.651783
    """
    edge, sign = float(region[side][index]), 1.0 if side else -1.0

    def above(value: float) -> float:
        return profile_sum(sum_of_squares, index, value, region) - ceiling

    inner, step = best, _FIRST_STEP
    while True:
        outer = inner + sign * step
        outer = min(outer, edge) if side else max(outer, edge)
        if above(outer) >= 0:
            return float(brentq(above, inner, outer, xtol=1e-7))
        if outer == edge:
            return None
        inner, step = outer, 2.0 * step
