"""Derivatives of functions given as callables, for sensitivity coefficients."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

# A step of a thousandth leaves a fourth-power error near 1e-12 and lifts rounding noise only a thousandfold.
RELATIVE_STEP = 1e-3


def derivative(
    function: Callable[[NDArray[np.float64]], ArrayLike], at: ArrayLike, step: ArrayLike | None = None
) -> NDArray[np.float64]:
    r"""Differentiate an elementwise function by the five-point central difference.

    .. math:: f'(x) \approx \frac{f(x-2h) - 8 f(x-h) + 8 f(x+h) - f(x+2h)}{12 h}

    Parameters
    ----------
    function : callable
        Takes an array and returns an array of its shape, element by element.
    at : array_like
        Where to differentiate [x], any shape.
    step : array_like, optional
        Step h [x], positive, broadcast to `at`; a thousandth of each value's magnitude where left out.

    Returns
    -------
    ndarray
        Derivative [f/x], the shape of `at`.

    Raises
    ------
    ValueError
        Where a value is zero and no step is given.

    References
    ----------
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, equation 25.3.6.

    Examples
    --------
    >>> derivative(lambda x: x**4, [2.0]).round(9)
    array([32.])
    """
    x = np.asarray(at, dtype=np.float64)
    h = np.abs(x) * RELATIVE_STEP if step is None else np.broadcast_to(np.asarray(step, np.float64), x.shape)
    if not bool(np.all(h > 0.0)):
        raise ValueError("step must be positive; give one where a value is zero")
    far = np.asarray(function(x - 2.0 * h), np.float64) - np.asarray(function(x + 2.0 * h), np.float64)
    near = np.asarray(function(x + h), np.float64) - np.asarray(function(x - h), np.float64)
    return np.asarray((far + 8.0 * near) / (12.0 * h), dtype=np.float64)


def gradient(
    function: Callable[[NDArray[np.float64]], float], at: ArrayLike, steps: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Gradient of a scalar function of several inputs, by the five-point central difference.

    Parameters
    ----------
    function : callable
        Takes the array of inputs, shape (n,), and returns one number.
    at : array_like
        Input values [each its own], shape (n,).
    steps : array_like, optional
        Step for each input [each its own], shape (n,); a thousandth of each value's magnitude where left out.

    Returns
    -------
    ndarray
        Partial derivatives, shape (n,).

    Raises
    ------
    ValueError
        Where a step is not positive: a value is zero and no step is given for it.

    References
    ----------
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, equation 25.3.6.

    Examples
    --------
    >>> gradient(lambda x: x[0] * x[1] ** 2, [3.0, 2.0]).round(9)
    array([ 4., 12.])
    """
    x = np.asarray(at, dtype=np.float64)
    h = np.abs(x) * RELATIVE_STEP if steps is None else np.asarray(steps, dtype=np.float64)
    return np.array([_partial(function, x, index, float(h[index])) for index in range(x.size)])


def _partial(
    function: Callable[[NDArray[np.float64]], float], x: NDArray[np.float64], index: int, step: float
) -> float:
    def along(values: NDArray[np.float64]) -> float:
        moved = x.copy()
        moved[index] = float(values)
        return float(function(moved))

    return float(derivative(along, x[index], step))
