"""A linear model of runs of batches with random effects, uncensored or left-censored."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize, minimize_scalar

from pinscar.stats.censored import completed_runs
from pinscar.stats.random_blocks import (
    BlockedRuns,
    JointFit,
    Spreads,
    fit_in_blocks,
    information_of_means,
    joint_maximum,
    likeliest_spreads,
)

FloatArray = NDArray[np.float64]
LOG_2PI = float(np.log(2.0 * np.pi))
GRID = np.concatenate([[0.0], np.geomspace(1e-3, 0.999, 24)])


@dataclass(frozen=True, slots=True)
class BatchMeans:
    """What runs tell of their batches.

    Parameters
    ----------
    means : ndarray, shape (g,)
        Mean logarithm of each batch [-].
    sizes : ndarray, shape (g,)
        Runs of each batch [-].
    within : float
        Sum of squares of the runs about the mean of their batch [-].

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> data = BatchMeans(np.array([2.0, 5.0]), np.array([2.0, 1.0]), 2.0)
    >>> data.n, data.within_df
    (3, 1)
    """

    means: FloatArray
    sizes: FloatArray
    within: float

    @property
    def n(self) -> int:
        """Runs of all batches."""
        return int(self.sizes.sum())

    @property
    def within_df(self) -> int:
        """Degrees of freedom within batches."""
        return self.n - self.means.size


@dataclass(frozen=True, slots=True, kw_only=True)
class MeansFit:
    """A linear model of batch means with a random effect of each batch.

    Parameters
    ----------
    coefficients : ndarray, shape (p,)
        One a column of the design [-].
    ratio : float
        Variance between batches over variance within [-].
    sigma : float
        Standard deviation within batches [-].
    log_likelihood : float
        Log-likelihood of all runs, restricted where asked for [-].
    weights : ndarray, shape (g,)
        Weight of each batch mean, 1 / (1/m + ratio) [-].
    residual : float
        Weighted sum of squares of the means about the model [-].
    """

    coefficients: FloatArray
    ratio: float
    sigma: float
    log_likelihood: float
    weights: FloatArray
    residual: float


def batch_means(logs: ArrayLike, batches: NDArray[np.int_]) -> BatchMeans:
    """Sum up runs by batch.

    Parameters
    ----------
    logs : array_like, shape (n,)
        Natural logarithms of the runs [-].
    batches : ndarray of int, shape (n,)
        Number of each run's batch, from 0; every number is used.

    Returns
    -------
    BatchMeans
        Means, sizes and the scatter within.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> batch_means([1.0, 3.0, 5.0], np.array([0, 0, 1]))
    BatchMeans(means=array([2., 5.]), sizes=array([2., 1.]), within=2.0)
    """
    y = np.asarray(logs, dtype=np.float64)
    sizes = np.bincount(batches).astype(np.float64)
    means = np.bincount(batches, y) / sizes
    return BatchMeans(means, sizes, float(np.sum((y - means[batches]) ** 2)))


def fit_means(
    data: BatchMeans, design: FloatArray, *, restricted: bool = False, ratio: float | None = None
) -> MeansFit:
    r"""Fit a linear model whose batches scatter about it and whose runs scatter about their batch.

    .. math:: \bar y_b = x_b \beta + u_b + \bar e_b, \quad u_b \sim N(0, \tau^2), \quad
              \bar e_b \sim N(0, \sigma^2 / m_b)

    The design holds one row a batch, so the runs enter by their means and by the sum of squares within. For a
    ratio :math:`\lambda = \tau^2/\sigma^2` everything else has a closed form; the ratio is found on a grid
    and then by Brent's method.

    Parameters
    ----------
    data : BatchMeans
        The runs.
    design : ndarray, shape (g, p)
        A row a batch [-]; p may be 0.
    restricted : bool
        Whether the restricted likelihood is maximised, which allows for the p coefficients in both spreads.
    ratio : float, optional
        Ratio of the variances, where it is not to be found [-].

    Returns
    -------
    MeansFit
        The fit.

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, sections 3.7 and 6.6 (likelihood and restricted
    likelihood of the one-way random model).

    Examples
    --------
    Dyestuff yields (six batches of five; Davies): restricted likelihood gives the analysis of variance.

    >>> y = [1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    ...      1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445]
    >>> fit = fit_means(batch_means(y, np.repeat(np.arange(6), 5)), np.ones((6, 1)), restricted=True)
    >>> round(fit.sigma**2, 1), round(fit.ratio * fit.sigma**2), round((11271.5 - 2451.25) / 5)
    (2451.2, 1764, 1764)
    """

    def cost(share: float) -> float:
        return -_at(data, design, share / (1.0 - share), restricted).log_likelihood

    if ratio is not None:
        return _at(data, design, ratio, restricted)
    if data.within_df < 1 or np.all(data.sizes == 1.0):
        return _at(data, design, 0.0, restricted)
    values = [cost(share) for share in GRID]
    best = int(np.argmin(values))
    if best == 0 and values[1] >= values[0]:
        return _at(data, design, 0.0, restricted)
    low, high = GRID[max(best - 1, 0)], GRID[min(best + 1, GRID.size - 1)]
    found = minimize_scalar(cost, bounds=(low, high), method="bounded", options={"xatol": 1e-9})
    share = float(found.x) if found.fun < values[best] else float(GRID[best])
    return _at(data, design, share / (1.0 - share), restricted)


def _at(data: BatchMeans, design: FloatArray, ratio: float, restricted: bool) -> MeansFit:
    weights = 1.0 / (1.0 / data.sizes + ratio)
    root = np.sqrt(weights)
    scaled = design * root[:, None]
    coefficients: FloatArray = np.zeros(design.shape[1])
    if coefficients.size:
        coefficients = np.asarray(np.linalg.lstsq(scaled, root * data.means, rcond=None)[0], np.float64)
    residual = float(np.sum(weights * (data.means - design @ coefficients) ** 2))
    p = design.shape[1]
    count = data.n - p if restricted else data.n
    variance = max((data.within + residual) / count, 1e-300)
    # |V| = prod sigma^2m (1 + m ratio); the runs of one batch share their effect
    value = -0.5 * (count * (LOG_2PI + np.log(variance) + 1.0) + np.sum(np.log1p(data.sizes * ratio)))
    if restricted and p:
        value -= 0.5 * np.linalg.slogdet(scaled.T @ scaled)[1]
    return MeansFit(
        coefficients=coefficients,
        ratio=ratio,
        sigma=float(np.sqrt(variance)),
        log_likelihood=float(value),
        weights=weights,
        residual=residual,
    )


IntArray = NDArray[np.int_]
STARTS = ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (1.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedFit:
    """A linear model with random effects.

    Parameters
    ----------
    coefficients : ndarray, shape (p,)
        One a column of the design [-].
    covariance : ndarray, shape (p, p)
        Of the coefficients [-].
    sigma, batch_sigma, campaign_sigma : float
        Standard deviations between runs, batches and campaigns [-].
    log_likelihood : float
        At the maximum, restricted where asked for [-].
    """

    coefficients: FloatArray
    covariance: FloatArray
    sigma: float
    batch_sigma: float
    campaign_sigma: float
    log_likelihood: float


def fit_mixed(
    logs: FloatArray, design: FloatArray, batches: IntArray, campaigns: IntArray, *, restricted: bool = True
) -> MixedFit:
    r"""Fit by (restricted) maximum likelihood.

    .. math:: y = X\beta + Zu + Wc + e, \quad V = \sigma^2 (I + \lambda ZZ^T + \kappa WW^T)

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithms [-].
    design : ndarray, shape (n, p)
        Of full column rank [-].
    batches, campaigns : ndarray of int, shape (n,)
        Number of each run's batch and campaign, from 0. An effect of one campaign alone, or of batches of one
        run each, cannot be told and is left out.
    restricted : bool
        Whether the restricted likelihood is maximised.

    Returns
    -------
    MixedFit
        Generalised least squares at the spreads found.

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, section 6.6.

    Examples
    --------
    >>> y = np.array([1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510,
    ...     1560, 1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445.0])
    >>> fit = fit_mixed(y, np.ones((30, 1)), np.repeat(np.arange(6), 5), np.zeros(30, int))
    >>> round(fit.sigma**2), round(fit.batch_sigma**2)
    (2451, 1764)
    """
    parts = [_indicator(batches), _indicator(campaigns)]
    free = [_can_tell(parts[0], logs.size), parts[1].shape[1] > 1]
    grams = [part @ part.T for part in parts]

    def cost(roots: FloatArray) -> float:
        return -_solve(logs, design, grams, _ratios(roots, free), restricted)[2]

    def slope(roots: FloatArray) -> FloatArray:
        along = _slope(logs, design, grams, _ratios(roots, free), restricted)
        return np.asarray(-2.0 * roots * along[np.array(free)], dtype=np.float64)

    count = sum(free)
    best = np.zeros(count)
    if count:
        starts = sorted({start[:count] for start in STARTS})
        found = [
            minimize(
                cost,
                np.array(start) + 0.1,
                jac=slope,
                method="BFGS",
                options={"gtol": 1e-7, "maxiter": 200},
            )
            for start in sorted(starts, key=lambda one: cost(np.array(one) + 0.1))[:2]
        ]
        best = np.asarray(min(found, key=lambda one: float(one.fun)).x, dtype=np.float64)
        for place in range(count):  # nothing lies below zero, so a spread of none may be the maximum
            none = best.copy()
            none[place] = 0.0
            best = none if cost(none) <= cost(best) else best
    ratios = _ratios(best, free)
    coefficients, variance, value, inverse = _solve(logs, design, grams, ratios, restricted)
    sigma = float(np.sqrt(variance))
    return MixedFit(
        coefficients=coefficients,
        covariance=np.asarray(variance * np.linalg.inv(inverse), dtype=np.float64),
        sigma=sigma,
        batch_sigma=sigma * float(np.sqrt(ratios[0])),
        campaign_sigma=sigma * float(np.sqrt(ratios[1])),
        log_likelihood=value,
    )


def _indicator(labels: IntArray) -> FloatArray:
    return np.asarray(labels[:, None] == np.unique(labels), dtype=np.float64)


def _can_tell(batches: FloatArray, n: int) -> bool:
    return bool(1 < batches.shape[1] < n)


def _ratios(roots: FloatArray, free: list[bool]) -> list[float]:
    values = iter(np.square(roots))
    return [float(next(values)) if one else 0.0 for one in free]


def _solve(
    y: FloatArray, x: FloatArray, grams: list[FloatArray], ratios: list[float], restricted: bool
) -> tuple[FloatArray, float, float, FloatArray]:
    n, p = x.shape
    v = np.eye(n) + ratios[0] * grams[0] + ratios[1] * grams[1]
    root = np.linalg.cholesky(v)
    wx, wy = np.linalg.solve(root, x), np.linalg.solve(root, y)
    inner = wx.T @ wx
    coefficients = np.asarray(np.linalg.solve(inner, wx.T @ wy), dtype=np.float64)
    residual = float(np.sum((wy - wx @ coefficients) ** 2))
    count = n - p if restricted else n
    variance = max(residual / count, 1e-300)
    value = -0.5 * (count * (LOG_2PI + np.log(variance) + 1.0)) - float(np.sum(np.log(np.diag(root))))
    if restricted:
        value -= 0.5 * float(np.linalg.slogdet(inner)[1])
    return coefficients, variance, float(value), inner


def _slope(
    y: FloatArray, x: FloatArray, grams: list[FloatArray], ratios: list[float], restricted: bool
) -> FloatArray:
    """Differentiate the likelihood in the ratios (Searle, Casella and McCulloch, 1992, chapter 6)."""
    n, p = x.shape
    inverse = np.linalg.inv(np.eye(n) + ratios[0] * grams[0] + ratios[1] * grams[1])
    vx = inverse @ x
    projected = inverse - vx @ np.linalg.solve(x.T @ vx, vx.T)
    py = projected @ y
    variance = max(float(y @ py) / (n - p if restricted else n), 1e-300)
    of_trace = projected if restricted else inverse
    return np.array([-0.5 * (np.sum(of_trace * one) - float(py @ one @ py) / variance) for one in grams])


BoolArray = NDArray[np.bool_]

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
    campaigns: :func:`pinscar.stats.random_blocks.likeliest_spreads`.

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
