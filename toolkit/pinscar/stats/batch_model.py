"""A linear model of runs of batches: uncensored or left-censored, in one campaign or several."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.batch_means import batch_means, fit_means
from pinscar.stats.completed import completed_runs
from pinscar.stats.mixed_linear import fit_mixed
from pinscar.stats.random_blocks import BlockedRuns, fit_in_blocks, information_of_means
from pinscar.stats.random_campaigns import JointFit, Spreads, joint_maximum, likeliest_spreads

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int_]

ROUNDS = 30
"""Most rounds of spreads."""


@dataclass(frozen=True, slots=True)
class _Runs:
    logs: FloatArray
    left_censored: BoolArray
    batches: IntArray
    campaigns: IntArray
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
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
    inverse of the information there. The log-likelihood is the greatest over all spreads, with random
    campaigns: :func:`pinscar.stats.random_campaigns.likeliest_spreads`.

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
        coefficients=fit.coefficients,
        covariance=np.asarray(fit.sigma**2 * np.linalg.inv(inner), dtype=np.float64),
        sigma=fit.sigma,
        batch_sigma=fit.sigma * float(np.sqrt(fit.ratio)),
        campaign_sigma=None,
        log_likelihood=fit_means(data, design, ratio=ratio).log_likelihood,
        method="restricted maximum likelihood with random effects of batches",
    )


def _complete(runs: _Runs, x: FloatArray) -> BatchModel:
    # batches as many as terms lie on the model exactly: nothing tells how far they scatter
    batches = runs.batches if runs.count > x.shape[1] else np.zeros_like(runs.batches)
    fit = fit_mixed(runs.logs, x, batches, runs.campaigns)
    likelihood = fit_mixed(runs.logs, x, batches, runs.campaigns, restricted=False).log_likelihood
    several = bool(runs.campaigns.max() > 0)
    return BatchModel(
        coefficients=fit.coefficients,
        covariance=fit.covariance,
        sigma=fit.sigma,
        batch_sigma=fit.batch_sigma,
        campaign_sigma=fit.campaign_sigma if several else None,
        log_likelihood=likelihood,
        method="restricted maximum likelihood with random effects of batches"
        + (" and campaigns" if several else ""),
    )


def _censored(runs: _Runs, x: FloatArray) -> BatchModel:
    data = BlockedRuns(runs.logs, runs.left_censored, x, runs.batches)
    if runs.campaigns.max() > 0:
        found = restricted_campaigns(data, x, runs.campaigns)
        return BatchModel(
            coefficients=found.coefficients,
            covariance=found.covariance,
            sigma=found.spreads.sigma,
            batch_sigma=found.spreads.batch,
            campaign_sigma=found.spreads.campaign,
            log_likelihood=likeliest_spreads(data, x, runs.campaigns, found).log_likelihood,
            method="maximum likelihood with left-censored runs and random effects of batches and campaigns",
        )
    fit = fit_in_blocks(data)
    means = x @ fit.coefficients
    start = Spreads(float(np.hypot(fit.sigma, fit.block_sigma)), 0.0, 0.0)
    spreads = _restricted(data, x, runs.campaigns, start, means)
    _, _, information = information_of_means(data, means, float(np.log(spreads.sigma)), spreads.batch)
    return BatchModel(
        coefficients=fit.coefficients,
        covariance=np.asarray(np.linalg.inv(x.T @ information @ x), dtype=np.float64),
        sigma=spreads.sigma,
        batch_sigma=spreads.batch,
        campaign_sigma=None,
        log_likelihood=fit.log_likelihood,
        method="maximum likelihood with left-censored runs and a random effect of batches",
    )


def restricted_campaigns(data: BlockedRuns, design: FloatArray, campaigns: IntArray) -> JointFit:
    """Fit left-censored runs of several campaigns at the restricted spreads of the completed runs.

    Parameters
    ----------
    data : BlockedRuns
        The runs with their batches as blocks; their design is not looked at.
    design : ndarray, shape (n, p)
        A row a run, of full column rank [-].
    campaigns : ndarray of int, shape (n,)
        Number of each run's campaign, from 0; more than one.

    Returns
    -------
    JointFit
        The joint maximum, with spreads that no longer change.

    References
    ----------
    As :func:`fit_batch_model`.

    Examples
    --------
    Without censored runs the spreads are those of the restricted likelihood.

    >>> y, two = np.array([0.3, 1.1, 0.2, 0.9, 1.8, 2.4]), np.array([0, 0, 0, 1, 1, 1])
    >>> runs = BlockedRuns(y, np.zeros(6, bool), np.ones((6, 1)), np.arange(6))
    >>> fit = restricted_campaigns(runs, np.ones((6, 1)), two)
    >>> plain = fit_mixed(y, np.ones((6, 1)), np.arange(6), two)
    >>> round(fit.spreads.campaign, 4) == round(plain.campaign_sigma, 4)
    True
    """
    full = np.column_stack([design, campaign_shifts(campaigns)])
    fit = fit_in_blocks(BlockedRuns(data.logs, data.left_censored, full, data.blocks))
    start = Spreads(float(np.hypot(fit.sigma, fit.block_sigma)), 0.0, 0.0)
    means = full @ fit.coefficients
    spreads = _restricted(data, design, campaigns, start, means)
    for _ in range(ROUNDS):
        found = joint_maximum(data, design, campaigns, spreads, means)
        last, means = spreads, found.means
        spreads = _restricted(data, design, campaigns, last, means)
        if abs(spreads.batch - last.batch) + abs(spreads.campaign - last.campaign) < 1e-4 * spreads.sigma:
            break
    return found


def _restricted(
    data: BlockedRuns, x: FloatArray, campaigns: IntArray, last: Spreads, means: FloatArray
) -> Spreads:
    """Find the spreads of the completed runs by the restricted likelihood."""
    logs, lost = completed_runs(data.logs, data.left_censored, means, float(np.hypot(last.sigma, last.batch)))
    none = np.zeros(logs.size, dtype=np.int64)
    # batches as many as terms lie on the model exactly: nothing tells how far they scatter
    room = int(data.blocks.max()) + 1 > x.shape[1]
    more = float(lost.sum()) / (logs.size - x.shape[1] - int(campaigns.max()))
    if campaigns.max() == 0:  # the same as below, and much faster
        first = np.unique(data.blocks, return_index=True)[1]
        fit = fit_means(
            batch_means(logs, data.blocks), x[first], restricted=True, ratio=None if room else 0.0
        )
        batch = fit.sigma * float(np.sqrt(fit.ratio))
        return Spreads(float(np.sqrt(fit.sigma**2 + more)), batch, 0.0)
    spread = fit_mixed(logs, x, data.blocks if room else none, campaigns)
    return Spreads(float(np.sqrt(spread.sigma**2 + more)), spread.batch_sigma, spread.campaign_sigma)


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
