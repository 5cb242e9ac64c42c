"""Akaike's criterion where runs of one batch are not independent of each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def effective_runs(sizes: ArrayLike, ratio: float) -> float:
    r"""Count how many independent runs tell a mean as well as these batches do.

    .. math:: n_e = (1 + \lambda) \sum_b \frac{1}{1/m_b + \lambda}, \quad \lambda = \tau^2 / \sigma^2

    Parameters
    ----------
    sizes : array_like, shape (g,)
        m, runs of each batch [-].
    ratio : float
        Variance between batches over variance within [-].

    Returns
    -------
    float
        All runs where batches do not scatter; the batches where runs scatter little about them [-].

    References
    ----------
    Kish, Survey Sampling, 1965, section 5.4 (design effect), for batches of any size: variance of one run
    over that of the mean by generalised least squares.

    Examples
    --------
    >>> [round(effective_runs([4, 4, 4], ratio), 6) for ratio in (0.0, 1.0, 1e9)]
    [12.0, 4.8, 3.0]
    """
    m = np.asarray(sizes, dtype=np.float64)
    return float((1.0 + ratio) * np.sum(1.0 / (1.0 / m + ratio)))


def aicc_of_batches(
    log_likelihood: float, terms: int, sizes: ArrayLike, ratio: float, *, campaigns: bool = False
) -> float:
    r"""Score a linear model of batches, with repeats on one batch counted for what they tell.

    .. math:: \mathrm{AICc} = -2\ell + \frac{2 (p + 1)\, n_e}{n_e - p - 2} + 2\,[n > g] + 2\,[k > 1]

    with the p terms of the mean, :func:`effective_runs` and one more variance each where batches were run
    more than once and where campaigns are random. Where batches do not scatter this is the usual AICc of n
    runs; where they alone scatter, it is that of g batch means. Models that are compared are given one
    ratio, that of the richest.

    Parameters
    ----------
    log_likelihood : float
        At the maximum [-].
    terms : int
        p, coefficients of the mean, fixed shifts of campaigns among them [-].
    sizes : array_like, shape (g,)
        Runs of each batch [-].
    ratio : float
        Variance between batches over variance within [-].
    campaigns : bool
        Whether the likelihood has a random effect of campaigns.

    Returns
    -------
    float
        The score [-]; infinite where the correction does not exist.

    References
    ----------
    Hurvich and Tsai, "Regression and time series model selection in small samples", Biometrika 76 (1989)
    297-307; with the effective number of runs in place of n as Jones, "Bayesian information criterion for
    longitudinal and clustered data", Statistics in Medicine 30 (2011) 3050-3056, does for Schwarz's.

    Examples
    --------
    Without repeats, 2 k + 2 k (k + 1) / (n - k - 1) with k = 3 parameters and 8 runs:

    >>> aicc_of_batches(0.0, 2, [1] * 8, 0.0), 2 * 3 + 2 * 3 * 4 / (8 - 3 - 1)
    (12.0, 12.0)
    >>> aicc_of_batches(0.0, 3, [4] * 5, 1e6)
    inf
    """
    m = np.asarray(sizes, dtype=np.float64)
    n = effective_runs(m, ratio)
    if n - terms - 2 < 0.5 or m.size < terms:
        return float("inf")
    more = 2.0 * (float(m.max() > 1) + float(campaigns))
    return -2.0 * log_likelihood + 2.0 * (terms + 1) * n / (n - terms - 2) + more
