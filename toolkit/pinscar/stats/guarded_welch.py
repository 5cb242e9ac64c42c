"""A critical value for two means with unlike spreads whose error never passes what is asked."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import roots_jacobi, stdtr, stdtrit

FloatArray = NDArray[np.float64]
NODES = 48
STEP, MOST = 0.02, 3.0
"""Step in which the outward factor is looked for, and the largest one."""
LARGE = 200.0
"""Degrees of freedom of both groups from which on Welch's own are good to the third digit of the error."""
LOGITS = np.linspace(-7.0, 7.0, 57)


def guarded_critical(
    share: ArrayLike, dfs: tuple[float, float], alpha: float, outward: float | None, link: float = 0.0
) -> FloatArray:
    r"""Give the two-sided critical value of Welch's statistic, guarded against a share found by chance.

    With :math:`W = v_1/(v_1 + v_2)`, the share of the first group in the variance of the difference, Welch's
    degrees of freedom are :math:`1/\nu(W) = W^2/f_1 + (1 - W)^2/f_2`, largest at
    :math:`W_* = f_1/(f_1 + f_2)`. The W found scatters, and where the true one lies further from
    :math:`W_*` the degrees of freedom come out too large. So W is first taken outward,

    .. math:: W' = W_* + (1 + \kappa)(W - W_*) \text{, between 0 and 1}, \qquad c = t(\nu(W'))

    with :math:`\kappa` from :func:`outward_factor`. Where no :math:`\kappa` will do,
    :math:`c^2 = W t^2(f_1) + (1 - W) t^2(f_2)`, which is proven to hold.

    Within blocks both variances come from the same residuals, which adds :math:`2 W (1 - W)\, l` to
    :math:`1/\nu` and moves :math:`W_*`.

    Parameters
    ----------
    share : array_like
        W [-].
    dfs : tuple of float
        Degrees of freedom of both variances [-].
    alpha : float
        Error of both sides together [-].
    outward : float or None
        The factor :math:`\kappa` [-]; None takes the proven bound.
    link : float
        l, from :func:`pinscar.stats.within_blocks.within_blocks` [-]; 0 for independent variances.

    Returns
    -------
    ndarray
        The critical value [-].

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; the bound: Banerjee, "Approximate confidence interval for linear
    functions of means of k populations when the population variances are not equal", Sankhya 22 (1960)
    357-358. The outward factor is an own derivation.

    Examples
    --------
    At balance the degrees of freedom are all four, at the edge two.

    >>> guarded_critical([0.5, 0.99], (2.0, 2.0), 0.05, 0.32).round(3)
    array([2.776, 4.303])
    """
    w = np.asarray(share, dtype=np.float64)
    first, second = dfs
    if outward is None:
        t1, t2 = (np.minimum(-stdtrit(df, alpha / 2.0), 1e150) for df in dfs)
        return np.asarray(np.sqrt(w * t1**2 + (1.0 - w) * t2**2), dtype=np.float64)
    bend = 1.0 / first + 1.0 / second - 2.0 * link
    # Paired runs have one number of degrees of freedom whatever W is: then no place is best.
    best = float(np.clip((1.0 / second - link) / bend, 0.0, 1.0)) if bend > 1e-9 / first else 0.5
    taken = np.clip(best + (1.0 + outward) * (w - best), 0.0, 1.0)
    inverse = taken**2 / first + 2.0 * taken * (1.0 - taken) * link + (1.0 - taken) ** 2 / second
    return np.asarray(-stdtrit(1.0 / inverse, alpha / 2.0), dtype=np.float64)


@lru_cache(maxsize=1024)
def outward_factor(dfs: tuple[float, float], alpha: float) -> float | None:
    r"""Find the smallest outward factor with which the error holds for every ratio of the true spreads.

    The error at a true share :math:`\theta` needs one integral: with :math:`B` of the Beta distribution with
    parameters :math:`f_1/2, f_2/2` the statistic's square is that of t with :math:`f_1 + f_2` degrees of
    freedom over :math:`(f_1 + f_2)(\theta B/f_1 + (1 - \theta)(1 - B)/f_2)`, and W is a function of B.

    Parameters
    ----------
    dfs : tuple of float
        Degrees of freedom of both variances [-], positive.
    alpha : float
        Error of both sides together [-].

    Returns
    -------
    float or None
        The factor [-], a multiple of 0.02; None where none up to 3 will do.

    References
    ----------
    Own derivation: the ratio of two independent chi-squares is independent of their sum (Johnson, Kotz and
    Balakrishnan, Continuous Univariate Distributions, vol. 2, chapter 25); Gauss-Jacobi quadrature.

    Examples
    --------
    >>> outward_factor((2.0, 2.0), 0.05), outward_factor((7.0, 7.0), 0.05), outward_factor((1.0, 7.0), 0.05)
    (0.32, 0.08, None)
    """
    if min(dfs) >= LARGE:
        return 0.0
    low, high = 0, round(MOST / STEP)
    if largest_error(dfs, alpha, high * STEP) > alpha:
        return None
    if largest_error(dfs, alpha, 0.0) <= alpha:
        return 0.0
    while high - low > 1:
        middle = (low + high) // 2
        if largest_error(dfs, alpha, middle * STEP) > alpha:
            low = middle
        else:
            high = middle
    return round(high * STEP, 2)


def largest_error(dfs: tuple[float, float], alpha: float, outward: float | None) -> float:
    """Give the largest error of the guarded limits over all ratios of the true spreads.

    Parameters
    ----------
    dfs : tuple of float
        Degrees of freedom of both variances [-], positive.
    alpha : float
        Error that is asked for, both sides together [-].
    outward : float or None
        The factor as in :func:`guarded_critical` [-].

    Returns
    -------
    float
        Error of both sides together [-].

    References
    ----------
    As :func:`outward_factor`.

    Examples
    --------
    Welch's own degrees of freedom give 5.9 % for two groups of three runs.

    >>> round(largest_error((2.0, 2.0), 0.05, 0.0), 3), largest_error((2.0, 2.0), 0.05, 0.32) <= 0.05
    (0.059, True)
    """
    first, second = dfs
    total = first + second
    nodes, weights = roots_jacobi(NODES, second / 2.0 - 1.0, first / 2.0 - 1.0)
    beta = (nodes + 1.0) / 2.0
    true_share = 1.0 / (1.0 + np.exp(-LOGITS))[:, None]
    parts = true_share * beta / first, (1.0 - true_share) * (1.0 - beta) / second
    variance = parts[0] + parts[1]
    critical = guarded_critical(parts[0] / variance, dfs, alpha, outward)
    outside = 2.0 * stdtr(total, -critical * np.sqrt(total * variance))
    return float((outside @ weights).max() / weights.sum())
