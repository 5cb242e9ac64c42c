"""A linear model of runs of batches: uncensored or left-censored, in one campaign or several."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.batch_means import batch_means, fit_means
from pinscar.stats.censored_blocks import BlockedRuns, fit_in_blocks, likelihood_of_means
from pinscar.stats.completed import completed_runs
from pinscar.stats.mixed_linear import fit_mixed

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int_]


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
        Between campaigns; None for a single one, or where they were taken as fixed shifts.
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

    Uncensored: restricted likelihood, campaigns as a random effect. With censored runs: maximum likelihood
    for the coefficients, campaigns as fixed shifts of mean zero; the spreads are the restricted ones of runs
    that were completed by their expected value and scatter, and the covariance is the inverse of the
    information at those spreads.

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
    Laird and Rubin, J. R. Stat. Soc. B 39 (1977) 1-38, example 4.3.

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
    means = full @ fit.coefficients
    total = float(np.hypot(fit.sigma, fit.block_sigma))
    logs, lost = completed_runs(runs.logs, runs.left_censored, means, total)
    none = np.zeros(logs.size, dtype=np.int64)
    batches = runs.batches if runs.count > x.shape[1] else none
    spread = fit_mixed(logs, full, batches, none)
    count = logs.size - full.shape[1]
    sigma = float(np.sqrt(spread.sigma**2 + float(lost.sum()) / count))
    information = _information(data, means, sigma, spread.batch_sigma)
    inverse = np.linalg.inv(full.T @ information @ full)
    covariance = np.asarray(inverse[: x.shape[1], : x.shape[1]], dtype=np.float64)
    several = bool(runs.campaigns.max() > 0)
    return BatchModel(
        fit.coefficients[: x.shape[1]],
        covariance,
        sigma,
        spread.batch_sigma,
        None,
        fit.log_likelihood,
        "maximum likelihood with left-censored runs and a random effect of batches"
        + (", campaigns as fixed shifts" if several else ""),
    )


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
