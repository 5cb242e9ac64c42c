"""A linear model of runs of batches: uncensored or left-censored, in one campaign or several."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.batch_means import batch_means, fit_means
from pinscar.stats.censored_blocks import BlockedRuns, fit_in_blocks, likelihood_of_means
from pinscar.stats.completed import completed_runs
from pinscar.stats.mixed_linear import fit_mixed

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int_]

ROUNDS = 30
"""Most rounds of spreads, and of Newton steps within one."""


@dataclass(frozen=True, slots=True)
class _Runs:
    logs: FloatArray
    left_censored: BoolArray
    batches: IntArray
    campaigns: IntArray
    count: int


@dataclass(frozen=True, slots=True)
class BatchModel:
    """A linear model of the logarithms of runs of batches.

    Parameters
    ----------
    coefficients : ndarray, shape (p,)
        One a column [-].
    covariance : ndarray, shape (p, p)
        Of the coefficients [-].
    sigma, batch_sigma : float
        Standard deviations between runs and between batches about the model [-].
    campaign_sigma : float or None
        Between campaigns; None for a single one.
    log_likelihood : float
        At the maximum of the full likelihood [-].
    method : str
        How it was fitted.
    """

    coefficients: FloatArray
    covariance: FloatArray
    sigma: float
    batch_sigma: float
    campaign_sigma: float | None
    log_likelihood: float
    method: str


def fit_batch_model(
    logs: FloatArray, left_censored: BoolArray, batches: IntArray, campaigns: IntArray, design: FloatArray
) -> BatchModel:
    r"""Fit a linear model of batches to their runs.

    .. math:: \ln y = x_b \beta + u_b + c_k + e, \quad u \sim N(0, \tau^2), \quad e \sim N(0, \sigma^2)

    Uncensored: restricted likelihood, batches and campaigns as random effects. With censored runs: the
    spreads are the restricted ones of runs that were completed by their expected value and scatter. In one
    campaign the coefficients are those of maximum likelihood; in several they and the campaigns' heights are
    at the joint maximum of the likelihood times the heights' density at those spreads. The covariance is the
    inverse of the information there. The log-likelihood is that with a free shift of each campaign.

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithms; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded; not all.
    batches, campaigns : ndarray of int, shape (n,)
        Number of each run's batch and campaign, from 0.
    design : ndarray, shape (g, p)
        A row a batch, of full column rank [-].

    Returns
    -------
    BatchModel
        The fit.

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, section 6.6; for the completed runs Dempster,
    Laird and Rubin, J. R. Stat. Soc. B 39 (1977) 1-38, example 4.3; for the joint maximum Henderson, "Best
    linear unbiased estimation and prediction under a selection model", Biometrics 31 (1975) 423-447.

    Examples
    --------
    >>> y = np.array([1.0, 1.2, 2.0, 2.2, 3.1, 3.3])
    >>> design = np.column_stack([np.ones(3), [0.0, 1.0, 2.0]])
    >>> numbers = np.repeat(np.arange(3), 2)
    >>> fit = fit_batch_model(y, np.zeros(6, bool), numbers, np.zeros(6, int), design)
    >>> fit.coefficients.round(3).tolist()
    [1.083, 1.05]
    """
    runs = _Runs(logs, left_censored, batches, campaigns, design.shape[0])
    x = design[batches]
    if left_censored.any():
        return _censored(runs, x)
    return _complete(runs, x) if campaigns.max() > 0 else _one_campaign(runs, design)


def _one_campaign(runs: _Runs, design: FloatArray) -> BatchModel:
    """Fit to the means of the batches: the same as `_complete` for one campaign, and much faster."""
    data = batch_means(runs.logs, runs.batches)
    # batches as many as terms lie on the model exactly: nothing tells how far they scatter
    ratio = None if runs.count > design.shape[1] else 0.0
    fit = fit_means(data, design, restricted=True, ratio=ratio)
    inner = design.T @ (fit.weights[:, None] * design)
    return BatchModel(
        fit.coefficients,
        np.asarray(fit.sigma**2 * np.linalg.inv(inner), dtype=np.float64),
        fit.sigma,
        fit.sigma * float(np.sqrt(fit.ratio)),
        None,
        fit_means(data, design, ratio=ratio).log_likelihood,
        "restricted maximum likelihood with random effects of batches",
    )


def _complete(runs: _Runs, x: FloatArray) -> BatchModel:
    # batches as many as terms lie on the model exactly: nothing tells how far they scatter
    batches = runs.batches if runs.count > x.shape[1] else np.zeros_like(runs.batches)
    fit = fit_mixed(runs.logs, x, batches, runs.campaigns)
    likelihood = fit_mixed(runs.logs, x, batches, runs.campaigns, restricted=False).log_likelihood
    several = bool(runs.campaigns.max() > 0)
    return BatchModel(
        fit.coefficients,
        fit.covariance,
        fit.sigma,
        fit.batch_sigma,
        fit.campaign_sigma if several else None,
        likelihood,
        "restricted maximum likelihood with random effects of batches"
        + (" and campaigns" if several else ""),
    )


def _censored(runs: _Runs, x: FloatArray) -> BatchModel:
    shifts = campaign_shifts(runs.campaigns)
    full = np.column_stack([x, shifts])
    data = BlockedRuns(runs.logs, runs.left_censored, full, runs.batches)
    fit = fit_in_blocks(data)
    start = _Spreads(float(np.hypot(fit.sigma, fit.block_sigma)), 0.0, 0.0, full @ fit.coefficients)
    several = bool(runs.campaigns.max() > 0)
    heights = (runs.campaigns[:, None] == np.arange(runs.campaigns.max() + 1)).astype(np.float64)
    found = _restricted(runs, x, start)
    coefficients, means = fit.coefficients[: x.shape[1]], start.means
    covariance: FloatArray | None = None
    for _ in range(ROUNDS if several else 1):
        if several:
            coefficients, means, covariance = _with_campaigns(data, x, heights, found, means)
            last, found = found, _restricted(runs, x, replace(found, means=means))
            if abs(found.batch - last.batch) + abs(found.campaign - last.campaign) < 1e-4 * found.sigma:
                break
    if covariance is None:
        information = _information(data, means, found.sigma, found.batch)
        covariance = np.asarray(np.linalg.inv(x.T @ information @ x), dtype=np.float64)
    return BatchModel(
        coefficients,
        covariance,
        found.sigma,
        found.batch,
        found.campaign if several else None,
        fit.log_likelihood,
        "maximum likelihood with left-censored runs and "
        + ("random effects of batches and campaigns" if several else "a random effect of batches"),
    )


@dataclass(frozen=True, slots=True)
class _Spreads:
    """Standard deviations of runs, batches and campaigns, and the means of the runs they belong to."""

    sigma: float
    batch: float
    campaign: float
    means: FloatArray


def _restricted(runs: _Runs, x: FloatArray, last: _Spreads) -> _Spreads:
    """Find the spreads of the completed runs by the restricted likelihood."""
    logs, lost = completed_runs(
        runs.logs, runs.left_censored, last.means, float(np.hypot(last.sigma, last.batch))
    )
    none = np.zeros(logs.size, dtype=np.int64)
    batches = runs.batches if runs.count > x.shape[1] else none
    spread = fit_mixed(logs, x, batches, runs.campaigns)
    count = logs.size - x.shape[1] - int(runs.campaigns.max())
    sigma = float(np.sqrt(spread.sigma**2 + float(lost.sum()) / count))
    return _Spreads(sigma, spread.batch_sigma, spread.campaign_sigma, last.means)


def _with_campaigns(
    data: BlockedRuns, x: FloatArray, heights: FloatArray, spreads: _Spreads, means: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fit coefficients and the campaigns' heights together, each height held near zero by its own density.

    These are Henderson's equations with the information of the censored runs in place of the inverse of their
    covariance: without censored runs, generalised least squares exactly.
    """
    p = x.shape[1]
    free = spreads.campaign > 1e-6 * spreads.sigma
    design = np.column_stack([x, heights]) if free else x
    penalty = np.zeros(design.shape[1])
    penalty[p:] = 1.0 / spreads.campaign**2 if free else 0.0
    theta = np.asarray(np.linalg.lstsq(design, means, rcond=None)[0], dtype=np.float64)
    log_sigma = float(np.log(spreads.sigma))

    def at(point: FloatArray) -> tuple[float, FloatArray]:
        value, slope = likelihood_of_means(data, design @ point, log_sigma, spreads.batch)
        return value - 0.5 * float(penalty @ point**2), design.T @ slope[: means.size] - penalty * point

    value, slope = at(theta)
    bend = np.eye(design.shape[1])
    for _ in range(ROUNDS):
        information = _information(data, design @ theta, spreads.sigma, spreads.batch)
        bend = design.T @ information @ design + np.diag(penalty)
        step = np.asarray(np.linalg.solve(bend, slope), dtype=np.float64)
        tried = at(theta + step)
        while tried[0] < value - 1e-9 and float(np.abs(step).max()) > 1e-9:
            step = 0.5 * step
            tried = at(theta + step)
        theta = np.asarray(theta + step, dtype=np.float64)
        value, slope = tried
        if float(np.abs(step).max()) < 1e-7 * spreads.sigma:
            break
    covariance = np.asarray(np.linalg.inv(bend)[:p, :p], dtype=np.float64)
    return np.asarray(theta[:p], dtype=np.float64), np.asarray(design @ theta, np.float64), covariance


def campaign_shifts(campaigns: IntArray) -> FloatArray:
    """Write campaigns as columns of shifts that add up to zero over campaigns.

    Parameters
    ----------
    campaigns : ndarray of int, shape (n,)
        Number of each run's campaign, from 0.

    Returns
    -------
    ndarray, shape (n, k - 1)
        The columns; none for a single campaign.

    References
    ----------
    Own derivation: sum-to-zero coding.

    Examples
    --------
    >>> campaign_shifts(np.array([0, 1])).tolist(), campaign_shifts(np.array([0, 0])).shape
    ([[1.0], [-1.0]], (2, 0))
    """
    count = int(campaigns.max()) + 1
    code = np.vstack([np.eye(count - 1), -np.ones(count - 1)]) if count > 1 else np.zeros((1, 0))
    return np.asarray(code[campaigns], dtype=np.float64)


def _information(data: BlockedRuns, means: FloatArray, sigma: float, tau: float) -> FloatArray:
    """Minus the second derivatives of the log-likelihood in the runs' means, by central differences.

    Runs of two batches do not touch each other, so the first run of every batch is moved at once, then the
    second, and so on.
    """
    step, n = 1e-4 * sigma, means.size
    same = data.blocks[:, None] == data.blocks[None, :]
    order = np.cumsum(same & np.tri(n, dtype=bool), axis=1).diagonal() - 1
    rows = np.zeros((n, n))
    for place in range(int(order.max()) + 1):
        moved = order == place
        up, down = (likelihood_of_means(data, means + way * step * moved, float(np.log(sigma)), tau)[1][:n]
                    for way in (1.0, -1.0))  # fmt: skip
        of_batch = np.full(int(data.blocks.max()) + 1, -1)
        of_batch[data.blocks[moved]] = np.flatnonzero(moved)
        row = of_batch[data.blocks]
        known = row >= 0
        rows[row[known], np.flatnonzero(known)] = -((up - down) / (2.0 * step))[known]
    return np.asarray(0.5 * (rows + rows.T), dtype=np.float64)
