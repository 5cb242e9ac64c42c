"""Adjusting for the number of comparisons where no joint distribution is at hand."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.checks import check_confidence, finite_vector


def holm(p_values: ArrayLike) -> NDArray[np.float64]:
    r"""Holm's adjusted p-values.

    .. math:: \tilde p_{(i)} = \max_{j \le i} \min\left(1, (m - j + 1) \, p_{(j)}\right)

    Parameters
    ----------
    p_values : array_like, shape (m,)
        Unadjusted p-values of one family [-].

    Returns
    -------
    ndarray, shape (m,)
        Adjusted p-values [-], in the order given.

    Raises
    ------
    ValueError
        If there are none, or one lies outside 0 to 1.

    References
    ----------
    Holm, "A simple sequentially rejective multiple test procedure", Scand. J. Statist. 6 (1979) 65-70.

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03]).round(6)
    array([0.03, 0.06, 0.06])
    """
    p = finite_vector(p_values, "p_values")
    if np.any((p < 0) | (p > 1)):
        raise ValueError(f"p_values must lie between 0 and 1, found {p[(p < 0) | (p > 1)][0]}")
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1))
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted


def bonferroni_confidence(confidence: float, comparisons: int) -> float:
    """Confidence of each single interval that gives a family the confidence asked for.

    Parameters
    ----------
    confidence : float
        Joint confidence [-].
    comparisons : int
        Number of intervals in the family; at least one.

    Returns
    -------
    float
        Confidence of each interval [-].

    Raises
    ------
    ValueError
        If the confidence does not lie between 0 and 1 or there are no comparisons.

    References
    ----------
    Dunn, "Multiple comparisons among means", JASA 56 (1961) 52-64.

    Examples
    --------
    >>> round(bonferroni_confidence(0.95, 5), 12)
    0.99
    """
    if comparisons < 1:
        raise ValueError(f"comparisons must be at least one, found {comparisons}")
    return 1 - (1 - check_confidence(confidence)) / comparisons
