"""Likelihood ratios of left-censored normal groups, for many simulated campaigns at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr

STEPS = 60
HALVINGS = 12
TOLERANCE = 1e-10
_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BatchRatio:
    """Likelihood ratio statistics of many campaigns.

    Parameters
    ----------
    statistics : ndarray
        Twice the log likelihood ratio of two means against one, shape (campaigns,); zero where undecidable.
    undecidable : ndarray of bool
        Where the uncensored values leave no spread to judge by.
    """

    statistics: NDArray[np.float64]
    undecidable: NDArray[np.bool_]


def likelihood_ratios(values: ArrayLike, left_censored: ArrayLike, in_second_group: ArrayLike) -> BatchRatio:
    r"""Compute the likelihood ratio statistic for two groups of one spread, campaign by campaign.

    A left-censored value v says that the true value is below v. With the parameters
    :math:`\theta = 1/\sigma` and :math:`\gamma = \mu/\sigma` the log likelihood

    .. math:: \sum_{seen} \left(\ln\theta - \tfrac12 (\theta v - \gamma)^2\right)
              + \sum_{censored} \ln\Phi(\theta v - \gamma)

    is concave, and Newton's method with step halving finds its maximum for all campaigns together. A group
    that is all censored has its mean at minus infinity and adds nothing to the larger likelihood.

    Parameters
    ----------
    values : array_like
        Values or bounds on the scale of analysis [any unit], shape (campaigns, runs).
    left_censored : array_like of bool
        Which values are bounds, the same shape.
    in_second_group : array_like of bool
        Which runs are of the second group, shape (runs,).

    Returns
    -------
    BatchRatio
        Statistics and where they are undecidable: there the values seen, less one for each group with any,
        are none.

    Raises
    ------
    ValueError
        Where the shapes disagree.

    References
    ----------
    R. J. Olsen, Note on the uniqueness of the maximum likelihood estimator for the Tobit model, 1978 (the
    parameters and the concavity).

    Examples
    --------
    Without censoring it is N ln(1 + t^2/(N - 2)), with t that of the pooled t test.

    >>> import math
    >>> result = likelihood_ratios([[1.0, 2.0, 3.0, 3.0, 4.0, 5.0]], [[False] * 6], [False] * 3 + [True] * 3)
    >>> result.statistics.round(6), round(6 * math.log(1 + 6 / 4), 6)
    (array([5.497744]), 5.497744)
    """
    v, bound = np.asarray(values, dtype=np.float64), np.asarray(left_censored, dtype=bool)
    second = np.asarray(in_second_group, dtype=bool)
    if v.ndim != 2 or bound.shape != v.shape or second.shape != v.shape[1:]:
        raise ValueError(f"values {v.shape}, left_censored {bound.shape}, groups {second.shape} do not fit")
    seen = np.stack([np.sum(~bound & ~second, axis=1), np.sum(~bound & second, axis=1)], axis=1)
    undecidable = np.sum(np.maximum(seen - 1, 0), axis=1) < 1
    scaled = (v - v.mean(axis=1, keepdims=True)) / v.std(axis=1, keepdims=True)
    groups = np.stack([~second, second], axis=1).astype(np.float64)
    # A group without a value seen stands aside: its weight is zero and its own mean fits it perfectly.
    weights = np.where(seen[:, None, :] > 0, groups[None], 0.0).sum(axis=2)
    apart = _maximum(_Batch(scaled, bound, weights, groups), undecidable)[0]
    one_group = _Batch(scaled, bound, np.ones_like(v), np.ones((v.shape[1], 1)))
    together = _maximum(one_group, undecidable)[0]
    return BatchRatio(np.where(undecidable, 0.0, np.maximum(2.0 * (apart - together), 0.0)), undecidable)


def median_roots(values: ArrayLike, left_censored: ArrayLike) -> NDArray[np.float64]:
    r"""Compute the signed root of the deviance of the median zero, campaign by campaign.

    .. math:: r = \mathrm{sign}(\hat\mu) \sqrt{2 [\ell(\hat\mu, \hat\sigma) - \max_\sigma \ell(0, \sigma)]}

    Parameters
    ----------
    values : array_like
        Logarithms of the values or bounds, less that of the median tested [-], shape (campaigns, runs).
    left_censored : array_like of bool
        Which values are bounds, the same shape; each campaign has two distinct values seen.

    Returns
    -------
    ndarray
        The roots [-], shape (campaigns,).

    References
    ----------
    Barndorff-Nielsen, Biometrika 73 (1986) 307-322, for the signed root; the likelihood as in
    `likelihood_ratios`.

    Examples
    --------
    >>> median_roots([[1.0, 2.0, 3.0]], [[False] * 3]).round(4) == round((3 * np.log(7.0)) ** 0.5, 4)
    array([ True])
    """
    v, bound = np.asarray(values, dtype=np.float64), np.asarray(left_censored, dtype=bool)
    scaled = v / np.sqrt(np.mean(v**2, axis=1, keepdims=True))
    free, held = np.ones((v.shape[1], 1)), np.zeros((v.shape[1], 0))
    return _signed_roots(scaled, bound, np.ones_like(scaled), free, held)


def ratio_roots(values: ArrayLike, left_censored: ArrayLike, groups: ArrayLike) -> NDArray[np.float64]:
    """Compute the signed root of the deviance of equal medians of two of some groups of one spread.

    Parameters
    ----------
    values : array_like
        Logarithms of the values or bounds [-], shape (campaigns, runs).
    left_censored : array_like of bool
        Which values are bounds, the same shape; in each campaign groups 0 and 1 have a value seen, and one
        of the groups two distinct ones. Other groups that are all censored stand aside.
    groups : array_like of int
        The group of each run [-], 0 for the reference, 1 for the subject, more for others, shape (runs,).

    Returns
    -------
    ndarray
        The roots [-], positive where the subject's median is estimated higher, shape (campaigns,).

    References
    ----------
    As `median_roots`.

    Examples
    --------
    >>> roots = ratio_roots([[1.0, 2.0, 3.0, 3.0, 4.0, 5.0]], [[False] * 6], [0, 0, 0, 1, 1, 1])
    >>> (roots**2).round(6)
    array([5.497744])
    """
    v, bound = np.asarray(values, dtype=np.float64), np.asarray(left_censored, dtype=bool)
    numbers = np.asarray(groups, dtype=np.int64)
    members = numbers[:, None] == np.arange(max(int(numbers.max()), 1) + 1)
    seen = (~bound).astype(np.float64) @ members.astype(np.float64)
    weights = (seen > 0)[:, numbers].astype(np.float64)
    scaled = (v - v.mean(axis=1, keepdims=True)) / v.std(axis=1, keepdims=True)
    both = members[:, 0] | members[:, 1]
    held = np.column_stack([both, members[:, 2:]]).astype(np.float64)
    free = np.column_stack([members[:, 1], held]).astype(np.float64)
    return _signed_roots(scaled, bound, weights, free, held)


def _signed_roots(v: _Array, bound: NDArray[np.bool_], weights: _Array, free: _Array, held: _Array) -> _Array:
    """Signed root of the likelihood ratio of two designs that differ in the first column of `free`."""
    keep = np.zeros(v.shape[0], dtype=bool)
    top, points = _maximum(_Batch(v, bound, weights, free), keep)
    lower, _ = _maximum(_Batch(v, bound, weights, held), keep)
    return np.sign(points[:, 0]) * np.sqrt(np.maximum(2.0 * (top - lower), 0.0))


@dataclass(frozen=True, slots=True)
class _Batch:
    """Values, bounds and weights of some campaigns, and the design they share."""

    v: _Array
    bound: NDArray[np.bool_]
    weights: _Array
    design: _Array

    def rows(self, which: NDArray[np.intp]) -> _Batch:
        return _Batch(self.v[which], self.bound[which], self.weights[which], self.design)


def _maximum(batch: _Batch, skip: NDArray[np.bool_]) -> tuple[_Array, _Array]:
    """Maximise the log likelihood of each campaign: heights and points, zero for those to be skipped."""
    heights = np.zeros(batch.v.shape[0])
    active = np.flatnonzero(~skip)
    points = np.zeros((batch.v.shape[0], batch.design.shape[1] + 1))
    points[:, -1] = 1.0
    heights[active] = _log_likelihood(points[active], batch.rows(active))
    for _ in range(STEPS):
        if active.size == 0:
            return heights, points
        here = batch.rows(active)
        step, gain = _newton_step(points[active], here)
        points[active], heights[active] = _climb(points[active], step, heights[active], here)
        active = active[gain > TOLERANCE]
    raise ArithmeticError("the censored likelihood did not settle: values differ by too little to be fitted")


def _log_likelihood(point: _Array, batch: _Batch) -> _Array:
    theta = point[:, -1:]
    u = theta * batch.v - point[:, :-1] @ batch.design.T
    terms = np.where(batch.bound, log_ndtr(u), np.log(theta) - u**2 / 2.0)
    return np.asarray(np.sum(batch.weights * terms, axis=1), dtype=np.float64)


def _newton_step(point: _Array, batch: _Batch) -> tuple[_Array, _Array]:
    """Step to the top of the local parabola, and the height it promises."""
    theta = point[:, -1:]
    u = theta * batch.v - point[:, :-1] @ batch.design.T
    # Derivative of the logarithm of the normal distribution, and minus its own derivative.
    mills = np.exp(-(u**2) / 2.0 - log_ndtr(u)) / np.sqrt(2.0 * np.pi)
    slope = batch.weights * np.where(batch.bound, mills, -u)
    curve = batch.weights * np.where(batch.bound, mills * (mills + u), 1.0)
    means = np.broadcast_to(-batch.design, (*batch.v.shape, batch.design.shape[1]))
    columns = np.concatenate([means, batch.v[:, :, None]], axis=2)
    gradient = np.einsum("cr,crp->cp", slope, columns)
    information = np.einsum("cr,crp,crq->cpq", curve, columns, columns)
    n_seen = np.sum(batch.weights * ~batch.bound, axis=1)
    gradient[:, -1] += n_seen / theta[:, 0]
    information[:, -1, -1] += n_seen / theta[:, 0] ** 2
    idle = np.einsum("cpp->cp", information) == 0.0
    information += np.einsum("cp,pq->cpq", idle.astype(np.float64), np.eye(information.shape[1]))
    step = np.linalg.solve(information, gradient[:, :, None])[:, :, 0]
    return step, np.sum(gradient * step, axis=1) / 2.0


def _climb(point: _Array, step: _Array, height: _Array, batch: _Batch) -> tuple[_Array, _Array]:
    """Take the whole step where it climbs, and where it does not, a half, a quarter, and so on."""
    best, reached = point.copy(), height.copy()
    left = np.arange(len(point))
    for halving in range(HALVINGS):
        trial = point[left] + step[left] / 2.0**halving
        allowed = trial[:, -1] > 0.0
        climbed = np.full(left.size, -np.inf)
        climbed[allowed] = _log_likelihood(trial[allowed], batch.rows(left[allowed]))
        better = climbed > height[left]
        best[left[better]], reached[left[better]] = trial[better], climbed[better]
        left = left[~better]
        if left.size == 0:
            break
    return best, reached
