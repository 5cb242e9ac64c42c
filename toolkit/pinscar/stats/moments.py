"""Mean, sum of squares and standard deviation without loss of digits."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray


def stable_mean(values: ArrayLike) -> float:
    r"""Compute the arithmetic mean, summed exactly around the first value.

    .. math:: \bar x = x_1 + \frac{1}{n} \sum_i (x_i - x_1)

    Taking out the first value keeps the digits in which the values differ where they share many leading ones.

    Parameters
    ----------
    values : array_like
        Values [any unit], shape (n,), n at least 1, finite.

    Returns
    -------
    float
        Mean [the unit of the values].

    Raises
    ------
    ValueError
        Where there is no value or one is not finite.

    References
    ----------
    T. F. Chan, G. H. Golub and R. J. LeVeque, Algorithms for computing the sample variance, 1983, section 3
    (shifted data).

    Examples
    --------
    >>> stable_mean([10000001, 10000003, 10000002])
    10000002.0
    """
    x = _vector(values)
    return float(x[0] + math.fsum(x - x[0]) / x.size)


def sum_of_squares(values: ArrayLike) -> float:
    r"""Compute the sum of squared deviations from the mean, by the corrected two-pass algorithm.

    .. math:: \sum_i d_i^2 - \frac{1}{n} \left(\sum_i d_i\right)^2, \quad d_i = x_i - \bar x

    The second term is zero in exact arithmetic and takes out the rounding of the mean.

    Parameters
    ----------
    values : array_like
        Values [any unit], shape (n,), n at least 1, finite.

    Returns
    -------
    float
        Sum of squared deviations [the unit of the values, squared].

    Raises
    ------
    ValueError
        Where there is no value or one is not finite.

    References
    ----------
    T. F. Chan, G. H. Golub and R. J. LeVeque, Algorithms for computing the sample variance, 1983,
    equation (1.7).

    Examples
    --------
    >>> sum_of_squares([10000001, 10000003, 10000002])
    2.0
    """
    x = _vector(values)
    shifted = x - x[0]
    deviations = shifted - math.fsum(shifted) / x.size
    return max(math.fsum(deviations**2) - math.fsum(deviations) ** 2 / x.size, 0.0)


def standard_deviation(values: ArrayLike) -> float:
    r"""Compute the sample standard deviation, with n - 1 in its denominator.

    Parameters
    ----------
    values : array_like
        Values [any unit], shape (n,), n at least 2, finite.

    Returns
    -------
    float
        Standard deviation [the unit of the values].

    Raises
    ------
    ValueError
        Where there are fewer than two values or one is not finite.

    References
    ----------
    ISO 3534-1:2006, 1.17.

    Examples
    --------
    >>> standard_deviation([10000001, 10000003, 10000002])
    1.0
    """
    x = _vector(values)
    if x.size < 2:
        raise ValueError("values holds one number, a standard deviation needs at least two")
    return math.sqrt(sum_of_squares(x) / (x.size - 1))


def _vector(values: ArrayLike) -> NDArray[np.float64]:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.size == 0:
        raise ValueError(f"values has shape {x.shape}, it must be a row of one or more numbers")
    if not bool(np.all(np.isfinite(x))):
        raise ValueError("values must be finite numbers")
    return x
