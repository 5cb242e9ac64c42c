"""Profile-likelihood interval of one of two parameters of a least-squares fit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from scipy.optimize import brentq, least_squares

from pinscar.contact.arrays import FloatArray

Residuals: TypeAlias = Callable[[FloatArray], FloatArray]

_FIRST_STEP = 0.05


def profile_sum(residuals: Residuals, index: int, value: float, start: float) -> tuple[float, float]:
    """Compute the least sum of squares with one of two parameters held at a value.

    Parameters
    ----------
    residuals : callable
        Residuals of the fit as a function of the two parameters, shape (2,).
    index : int
        Parameter that is held, 0 or 1 [-].
    value : float
        Value at which it is held [unit of the parameter].
    start : float
        Starting value of the other parameter [unit of the parameter].

    Returns
    -------
    tuple of two float
        Least sum of squares [-], and the other parameter there.

    References
    ----------
    D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988, section 6.1.

    Examples
    --------
    A straight line through three points with the intercept held at 0:

    >>> x, y = np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 4.0])
    >>> total, slope = profile_sum(lambda p: y - p[0] - p[1] * x, 0, 0.0, 1.0)
    >>> round(total, 6), round(slope, 6)
    (0.357143, 1.214286)
    """

    def held(other: FloatArray) -> FloatArray:
        point = np.empty(2)
        point[index], point[1 - index] = value, other[0]
        return residuals(point)

    found = least_squares(held, [start], method="lm", xtol=1e-10, ftol=1e-12)
    return float(2.0 * found.cost), float(found.x[0])


def profile_limit(
    residuals: Residuals, index: int, best: FloatArray, limit: float, ceiling: float
) -> float | None:
    """Find where the profile of one parameter rises to a ceiling, on one side of the best fit.

    Parameters
    ----------
    residuals : callable
        Residuals of the fit as a function of the two parameters, shape (2,).
    index : int
        Parameter whose limit is sought, 0 or 1 [-].
    best : ndarray of float
        The two parameters at the best fit, shape (2,) [unit of the parameter].
    limit : float
        Farthest value to look at; it also tells the side [unit of the parameter].
    ceiling : float
        Sum of squares that ends the interval [-].

    Returns
    -------
    float or None
        The limit; None where the profile stays below the ceiling, so that the data do not bound the
        parameter.

    References
    ----------
    D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988, section 6.1.

    Examples
    --------
    For a straight line the profile gives the classical interval; here the slope's upper end at a sum of 1:

    >>> x, y = np.array([-1.0, 0.0, 1.0]), np.array([-1.0, 0.1, 0.9])
    >>> best = np.array([0.0, 0.95])
    >>> round(profile_limit(lambda p: y - p[0] - p[1] * x, 1, best, 10.0, 1.0), 6)
    1.651783
    """
    side = 1.0 if limit > best[index] else -1.0
    state = {"other": float(best[1 - index])}

    def above(value: float) -> float:
        total, state["other"] = profile_sum(residuals, index, value, state["other"])
        return total - ceiling

    inner, step = float(best[index]), _FIRST_STEP
    while True:
        outer = inner + side * step
        if (outer - limit) * side > 0:
            outer = limit
        if above(outer) >= 0:
            return float(brentq(above, inner, outer, xtol=1e-8))
        if outer == limit:
            return None
        inner, step = outer, 2.0 * step
