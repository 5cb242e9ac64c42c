"""Intervals for variance components: linear combinations of independent mean squares."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri, fdtri

METHOD = "modified large sample interval (Graybill and Wang 1980; Ting and others 1990)"


@dataclass(frozen=True, slots=True)
class VarianceComponent:
    """A variance, or a sum of variances, with its interval.

    Parameters
    ----------
    estimate : float
        The combination of mean squares, which chance can make negative.
    low, high : float
        Confidence limits, neither under zero.
    """

    estimate: float
    low: float
    high: float


def variance_component(
    coefficients: ArrayLike, mean_squares: ArrayLike, degrees_of_freedom: ArrayLike, confidence: float = 0.95
) -> VarianceComponent:
    r"""Estimate a linear combination of mean squares, with a modified large sample interval.

    .. math:: \hat\gamma = \sum_i c_i S_i^2, \quad L = \hat\gamma - \sqrt{V_L}, \quad U = \hat\gamma +
    \sqrt{V_U}

    .. math:: V_L = \sum_{c_q > 0} G_q^2 c_q^2 S_q^4 + \sum_{c_r < 0} H_r^2 c_r^2 S_r^4
              + \sum_{q, r} G_{qr}\, c_q |c_r|\, S_q^2 S_r^2

    with :math:`G = 1 - 1/F_{\alpha;n,\infty}`, :math:`H = 1/F_{1-\alpha;n,\infty} - 1` and
    :math:`G_{qr} = ((F - 1)^2 - G_q^2 F^2 - H_r^2)/F`, F the upper quantile for n_q and n_r degrees of
    freedom; the upper limit exchanges G and H and takes the lower quantile. For one mean square it is the
    exact chi-square interval. Independent mean squares of normal errors are assumed.

    Parameters
    ----------
    coefficients : array_like
        Coefficients c_i [-], shape (n,).
    mean_squares : array_like
        Mean squares S_i^2 [response squared], shape (n,), zero or more.
    degrees_of_freedom : array_like
        Their degrees of freedom [-], shape (n,), at least 1.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    VarianceComponent
        Estimate and limits [response squared].

    Raises
    ------
    ValueError
        Where shapes differ or an argument is outside its range.

    References
    ----------
    F. A. Graybill and C.-M. Wang, Confidence intervals on nonnegative linear combinations of variances, 1980;
    N. Ting, R. K. Burdick, F. A. Graybill, S. Jeyaratnam and T.-F. C. Lu, Confidence intervals on linear
    combinations of variance components that are unrestricted in sign, 1990.

    Examples
    --------
    One mean square of 10 degrees of freedom: 10/20.483 and 10/3.247.

    >>> result = variance_component([1.0], [1.0], [10])
    >>> round(result.low, 3), round(result.high, 3)
    (0.488, 3.08)
    """
    c, squares, n = (np.asarray(v, np.float64) for v in (coefficients, mean_squares, degrees_of_freedom))
    if not c.shape == squares.shape == n.shape or c.ndim != 1:
        raise ValueError("coefficients, mean_squares and degrees_of_freedom must be rows of equal length")
    if bool(np.any(squares < 0.0)) or bool(np.any(n < 1.0)) or not 0.0 < confidence < 1.0:
        raise ValueError("mean squares must be 0 or more, degrees 1 or more, confidence between 0 and 1")
    alpha = (1.0 - confidence) / 2.0
    terms = c * squares
    estimate = float(np.sum(terms))
    low = estimate - math.sqrt(_half_width_squared(terms, n, alpha))
    high = estimate + math.sqrt(_half_width_squared(-terms, n, alpha))
    return VarianceComponent(estimate, max(low, 0.0), max(high, 0.0))


def _half_width_squared(terms: NDArray[np.float64], n: NDArray[np.float64], alpha: float) -> float:
    """Squared distance to the lower limit; for the upper one the signs of the terms are exchanged."""
    g = 1.0 - n / chdtri(n, alpha)
    h = n / chdtri(n, 1.0 - alpha) - 1.0
    total = float(np.sum(np.where(terms > 0.0, g, h) ** 2 * terms**2))
    for q in np.flatnonzero(terms > 0.0):
        for r in np.flatnonzero(terms < 0.0):
            f = float(fdtri(n[q], n[r], 1.0 - alpha))
            cross = ((f - 1.0) ** 2 - g[q] ** 2 * f**2 - h[r] ** 2) / f
            total += float(cross * terms[q] * -terms[r])
    return max(total, 0.0)
