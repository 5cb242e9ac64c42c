"""Judge many simulated campaigns by the limits that the report gives to ratios with censored runs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.censored_batch import median_roots, ratio_roots
from pinscar.stats.censored_groups import sign_test_error
from pinscar.stats.deviance_cut import censoring_shift, deviance_cut

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def separated(values: FloatArray, left_censored: BoolArray, confidence: float) -> tuple[BoolArray, BoolArray]:
    """Tell in which campaigns the limits of the ratio of group 1 to group 0 leave equality out.

    Each campaign is judged as :func:`pinscar.stats.choose.compare_with_reference` judges it: groups with a
    value seen are fitted together, with calibrated limits; a group that is all censored gives a bound, if it
    has runs enough; the error is shared by Bonferroni over the comparisons that yield something.

    Parameters
    ----------
    values : ndarray
        Logarithms of the values or bounds [-], shape (campaigns, groups, runs); group 0 is the reference.
    left_censored : ndarray of bool
        Which values are bounds, the same shape.
    confidence : float
        Joint confidence [-].

    Returns
    -------
    shown, judged : ndarray of bool
        Where the limits leave equality out, and where there are limits at all, shape (campaigns,).

    References
    ----------
    Own derivation: the rules of :mod:`pinscar.stats.censored_plan`.

    Examples
    --------
    >>> logs = np.array([[[0.0, 0.1, 0.2], [1.0, 1.1, 1.2]], [[0.0, 0.1, 0.2], [0.0, 0.1, 0.2]]])
    >>> [side.tolist() for side in separated(logs, np.zeros(logs.shape, dtype=bool), 0.95)]
    [[True, False], [True, True]]
    """
    runs = values.shape[2]
    seen = runs - left_censored.sum(axis=2)
    fit, family = _plan(seen, runs, 1.0 - confidence)
    shown, judged = np.zeros(len(values), dtype=bool), np.zeros(len(values), dtype=bool)
    for each in np.unique(family[family > 0]):
        alpha = (1.0 - confidence) / float(each)
        here = family == each
        regressed = np.flatnonzero(here & fit[:, 0])
        shown[regressed] = _regressed(values[regressed], left_censored[regressed], 1.0 - alpha)
        judged[regressed] = True
        left = alpha - sign_test_error(runs)
        if left <= 0.0:
            continue
        for hidden, other in ((1, 0), (0, 1)):
            bound = np.flatnonzero(here & (seen[:, hidden] == 0) & (seen[:, other] > 1))
            shown[bound] = _bounded(values[bound], left_censored[bound], hidden, other, 1.0 - 2.0 * left)
            judged[bound] = True
    return shown, judged


def _plan(seen: NDArray[np.int_], runs: int, alpha: float) -> tuple[BoolArray, NDArray[np.int_]]:
    """Which subjects can be fitted with the reference, and how many comparisons share the error."""
    reference, subjects = seen[:, :1], seen[:, 1:]
    fit = (reference > 0) & (subjects > 0)
    spread = (reference[:, 0] > 1) | np.any(fit & (subjects > 1), axis=1)
    fit &= spread[:, None]
    bound = ((subjects == 0) & (reference > 1)) | ((reference == 0) & (subjects > 1))
    family = fit.sum(axis=1) + bound.sum(axis=1)
    hopeless = sign_test_error(runs) >= alpha / np.maximum(family, 1)
    return fit, np.where(hopeless, fit.sum(axis=1), family)


def _regressed(values: FloatArray, left_censored: BoolArray, confidence: float) -> BoolArray:
    campaigns, groups, runs = values.shape
    if campaigns == 0:
        return np.zeros(0, dtype=bool)
    hidden = left_censored.sum(axis=2)
    numbers = np.repeat(np.arange(groups), runs)
    flat = values.reshape(campaigns, -1), left_censored.reshape(campaigns, -1)
    roots = ratio_roots(*flat, numbers)
    locations = np.sum(hidden < runs, axis=1)
    cuts = np.array(
        [np.sqrt(deviance_cut(confidence, max(k * runs, 2), max(k, 1), "student")) for k in range(groups + 1)]
    )[locations]
    shifts = np.array([censoring_shift(runs, count) for count in range(runs + 1)])
    found: BoolArray = (roots > cuts + shifts[hidden[:, 1]]) | (roots < -cuts - shifts[hidden[:, 0]])
    return found


def _bounded(
    values: FloatArray, left_censored: BoolArray, hidden: int, other: int, confidence: float
) -> BoolArray:
    if len(values) == 0:
        return np.zeros(0, dtype=bool)
    runs = values.shape[2]
    top = values[:, hidden].max(axis=1, keepdims=True)
    roots = median_roots(values[:, other] - top, left_censored[:, other])
    shifts = np.array([censoring_shift(runs, count) for count in range(runs + 1)])
    shift = shifts[left_censored[:, other].sum(axis=1)]
    found: BoolArray = roots > np.sqrt(deviance_cut(confidence, runs, 1, "student")) + shift
    return found
