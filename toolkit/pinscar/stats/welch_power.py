"""Exact power of the guarded Welch's t test for two groups, of equal or unlike size and spread."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import roots_jacobi

from pinscar.stats.guarded_welch import guarded_critical, outward_factor
from pinscar.stats.noncentral_t import noncentral_t_tail

NODES = 24


def welch_power(repeats: ArrayLike, noncentrality: ArrayLike, alpha: float = 0.05) -> NDArray[np.float64]:
    r"""Compute the power of Welch's two-sided t test for two groups of n runs whose true spreads are equal.

    With :math:`R = s_1^2/(s_1^2 + s_2^2)` the critical value c(R) is that of
    :func:`pinscar.stats.guarded_welch.guarded_critical`. R has the Beta distribution with both parameters
    :math:`(n - 1)/2` and is independent of the statistic, which is noncentral t with 2(n - 1) degrees of
    freedom, so

    .. math:: \mathrm{E}_R\left[ P\left(|T_{2(n-1)}(\delta)| > c(R)\right) \right]

    by Gauss-Jacobi quadrature with 24 nodes. Nothing random is drawn.

    Parameters
    ----------
    repeats : array_like
        Runs n of each group [-], over 1, broadcast.
    noncentrality : array_like
        True difference over its standard error, :math:`\delta`, broadcast [-].
    alpha : float
        Level of the test, two-sided [-].

    Returns
    -------
    ndarray
        Power [-].

    Raises
    ------
    ValueError
        If a group has no two runs, or alpha does not lie between 0 and 1.

    References
    ----------
    Own derivation: the ratio of two independent chi-squares is independent of their sum (Johnson, Kotz and
    Balakrishnan, Continuous Univariate Distributions, vol. 2, chapter 25). Test: Welch, Biometrika 34 (1947)
    28-35.

    Examples
    --------
    Without a difference it is the true level, below the nominal one for few runs.

    >>> [round(float(welch_power(n, 0.0)), 4) for n in (3, 5, 20)]
    [0.0297, 0.0427, 0.0496]
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"alpha must lie between 0 and 1, found {alpha}")
    n, delta = np.broadcast_arrays(np.asarray(repeats, dtype=np.float64), np.asarray(noncentrality, float))
    if not bool(np.all(n > 1.0)):
        raise ValueError("repeats must be over 1")
    power = np.array([_one(float(a), float(d), alpha) for a, d in zip(n.flat, delta.flat, strict=True)])
    return power.reshape(n.shape)


def unlike_welch_power(
    variances: tuple[float, float],
    dfs: tuple[float, float],
    difference: float,
    alpha: float = 0.05,
    critical: float | None = None,
) -> float:
    r"""Compute the chance that Welch's limits clear a value on one side, for two groups of any spreads.

    With the true variances of the means :math:`v_1, v_2`, :math:`\theta = v_1/(v_1 + v_2)`, and B of the Beta
    distribution with parameters :math:`f_1/2, f_2/2`, the variance found over the true one is
    :math:`S\,[\theta B/f_1 + (1 - \theta)(1 - B)/f_2]` with S an independent chi-square of
    :math:`f = f_1 + f_2` degrees of freedom, so

    .. math:: \mathrm{E}_B\left[ P\left(T_f(\delta) > c(W)\sqrt{f\,[\theta B/f_1 +
        (1 - \theta)(1 - B)/f_2]}\right) \right], \quad \delta = \frac{|\Delta|}{\sqrt{v_1 + v_2}}

    by Gauss-Jacobi quadrature, with W the share of the first variance found and c that of
    :func:`pinscar.stats.guarded_welch.guarded_critical`. Nothing random is drawn.

    Parameters
    ----------
    variances : tuple of float
        True variances of both means [any one unit squared], one at least positive.
    dfs : tuple of float
        Degrees of freedom of the variances found [-], positive.
    difference : float
        True difference from the value to be cleared [that unit].
    alpha : float
        Error of both sides of the limits together [-].
    critical : float, optional
        A critical value that takes the place of the guarded one [-].

    Returns
    -------
    float
        The chance [-].

    Raises
    ------
    ValueError
        If alpha does not lie between 0 and 1, or there is no variance.

    References
    ----------
    Own derivation, as :func:`welch_power`.

    Examples
    --------
    Equal groups: but for the other tail it is :func:`welch_power`.

    >>> round(unlike_welch_power((0.2, 0.2), (4.0, 4.0), 2.0), 5), round(float(welch_power(5, 10**0.5)), 5)
    (0.75898, 0.75898)
    """
    total = variances[0] + variances[1]
    if not 0.0 < alpha < 1.0 or not total > 0.0:
        raise ValueError(
            f"alpha must lie between 0 and 1 and variances be over 0, found {alpha}, {variances}"
        )
    share, (first, second) = variances[0] / total, dfs
    df = first + second
    nodes, weights = roots_jacobi(NODES, second / 2.0 - 1.0, first / 2.0 - 1.0)
    beta = (nodes + 1.0) / 2.0
    parts = share * beta / first, (1.0 - share) * (1.0 - beta) / second
    found = parts[0] + parts[1]
    if critical is None:
        whole = (float(max(int(first + 1e-9), 1)), float(max(int(second + 1e-9), 1)))
        guard = outward_factor(whole, round(alpha, 12))
        limit = guarded_critical(parts[0] / found, dfs, alpha, guard)
    else:
        limit = np.full(beta.shape, critical)
    tails = noncentral_t_tail(limit * np.sqrt(df * found), df, abs(difference) / float(np.sqrt(total)))
    return float(min(np.sum(weights * tails) / np.sum(weights), 1.0))


def _one(n: float, delta: float, alpha: float) -> float:
    shape = (n - 1.0) / 2.0 - 1.0
    nodes, weights = roots_jacobi(NODES, shape, shape)
    share = (nodes + 1.0) / 2.0
    dfs = (n - 1.0, n - 1.0)
    critical = guarded_critical(share, dfs, alpha, outward_factor(dfs, round(alpha, 12)))
    tails = noncentral_t_tail(critical, 2.0 * (n - 1.0), delta) + noncentral_t_tail(
        critical, 2.0 * (n - 1.0), -delta
    )
    return float(min(np.sum(weights * tails) / np.sum(weights), 1.0))
