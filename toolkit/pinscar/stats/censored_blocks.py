"""Left-censored runs in random blocks (days, rings): the likelihood and its maximum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import log_ndtr

from pinscar.stats.censored_likelihood import HALF_LOG_2PI, fit_left_censored

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
NODES = 21  # tests compare with brute-force integration
MODE_STEPS = 50
FARTHEST = 12.0  # of the logarithm of sigma, in units of the fit without blocks


@dataclass(frozen=True, slots=True)
class BlockedRuns:
    """Left-censored log values with their design and their blocks.

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithms of the values; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    design : ndarray, shape (n, k)
        Design matrix of the medians [-]; k may be 0.
    blocks : ndarray of int, shape (n,)
        Number of each run's block, from 0.
    """

    logs: FloatArray
    left_censored: BoolArray
    design: FloatArray
    blocks: NDArray[np.int_]


@dataclass(frozen=True, slots=True)
class BlockedFit:
    """The maximum of the likelihood of left-censored runs in random blocks.

    Parameters
    ----------
    coefficients : ndarray, shape (k,)
        One a column of the design [-].
    sigma : float
        Standard deviation of the logarithms within blocks [-], maximum likelihood.
    block_sigma : float
        Standard deviation between blocks [-], maximum likelihood.
    log_likelihood : float
        Log-likelihood of the logarithms at the maximum [-].
    """

    coefficients: FloatArray
    sigma: float
    block_sigma: float
    log_likelihood: float


def numbered(labels: Sequence[object]) -> NDArray[np.int_]:
    """Give each block a number, from 0, by its label.

    Parameters
    ----------
    labels : sequence
        Block of each run.

    Returns
    -------
    ndarray of int
        Numbers, the same for the same label.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> numbered(["Tue", "Mon", "Tue"]).tolist()
    [1, 0, 1]
    """
    return np.unique([str(label) for label in labels], return_inverse=True)[1].astype(np.int64)


def blocked_log_likelihood(
    runs: BlockedRuns, coefficients: FloatArray, sigma: float, block_sigma: float
) -> float:
    r"""Log-likelihood of left-censored log values with a normal effect of each block.

    .. math:: \ell = \sum_d \ln \int \prod_{i \in d} f(y_i \mid x_i \beta + \tau z, \sigma)\, \varphi(z)\, dz

    with f the normal density where a run is observed and the normal distribution function where it is
    left-censored. The integral is taken by Gauss-Hermite quadrature about the mode of each integrand, scaled
    by its curvature there (adaptive quadrature); without censored runs it is exact.

    Parameters
    ----------
    runs : BlockedRuns
        The data.
    coefficients : ndarray, shape (k,)
        One a column of the design [-].
    sigma, block_sigma : float
        Standard deviations within and between blocks [-], the first positive.

    Returns
    -------
    float
        Log-likelihood of the logarithms [-].

    References
    ----------
    Pinheiro and Bates, "Approximations to the log-likelihood function in the nonlinear mixed-effects model",
    J. Comput. Graph. Statist. 4 (1995) 12-35, section 2.4, for the quadrature.

    Examples
    --------
    Two runs of one block without censoring: their covariance is known.

    >>> from scipy.stats import multivariate_normal
    >>> runs = BlockedRuns(np.array([0.3, 1.1]), np.zeros(2, bool), np.ones((2, 1)), np.zeros(2, int))
    >>> covariance = [[1.0 + 0.25, 0.25], [0.25, 1.0 + 0.25]]
    >>> exact = multivariate_normal.logpdf([0.3, 1.1], [0.2, 0.2], covariance)
    >>> bool(abs(blocked_log_likelihood(runs, np.array([0.2]), 1.0, 0.5) - exact) < 1e-12)
    True
    """
    return _value_and_gradient(runs, coefficients, np.log(sigma), block_sigma)[0]


def fit_in_blocks(runs: BlockedRuns) -> BlockedFit:
    """Maximise the likelihood of left-censored log values in random blocks.

    Quasi-Newton steps from the fit without blocks; where no spread between blocks raises the likelihood, that
    fit is the maximum and the spread between blocks is zero.

    Parameters
    ----------
    runs : BlockedRuns
        The data; the fit without blocks exists.

    Returns
    -------
    BlockedFit
        Coefficients, standard deviations and log-likelihood.

    Raises
    ------
    ValueError
        If the likelihood without blocks did not converge.

    References
    ----------
    As :func:`blocked_log_likelihood`; the gradient is the mean of the complete-data score over each block's
    effect (Fisher's identity).

    Examples
    --------
    Dyestuff yields (six batches of five, lme4 and Davies), without censoring; maximum likelihood of the
    balanced one-way layout in closed form: residual mean square, and (5/6 between - within) / 5.

    >>> y = np.array([1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510,
    ...     1560, 1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445.0])
    >>> runs = BlockedRuns(y, np.zeros(30, bool), np.ones((30, 1)), np.repeat(np.arange(6), 5))
    >>> fit = fit_in_blocks(runs)
    >>> round(fit.sigma**2), round(fit.block_sigma**2), round((11271.5 * 5 / 6 - 2451.25) / 5)
    (2451, 1388, 1388)
    """
    flat = fit_left_censored(runs.logs, runs.left_censored, runs.design)
    if not flat.converged:
        raise ValueError("the likelihood of the censored groups must converge, found that it did not")
    unit, k = flat.sigma, flat.coefficients.size
    scaled = BlockedRuns(
        (runs.logs - runs.design @ flat.coefficients) / unit, runs.left_censored, runs.design, runs.blocks
    )

    def cost(parameters: FloatArray) -> tuple[float, FloatArray]:
        if abs(parameters[k]) > FARTHEST:  # no maximum lies out there; the line search turns back
            return np.inf, np.zeros_like(parameters)
        value, gradient = _value_and_gradient(scaled, parameters[:k], parameters[k], parameters[k + 1])
        return -value, -gradient

    n_observed = int(np.count_nonzero(~runs.left_censored))
    start = np.append(np.zeros(k), [np.log(0.8), 0.6])
    found = minimize(cost, start, jac=True, method="BFGS", options={"gtol": 1e-7, "maxiter": 300})
    value = float(-found.fun - n_observed * np.log(unit))
    if not value > flat.log_likelihood:
        return BlockedFit(flat.coefficients, flat.sigma, 0.0, flat.log_likelihood)
    best = np.asarray(found.x, dtype=np.float64)
    return BlockedFit(
        flat.coefficients + unit * best[:k],
        float(unit * np.exp(best[k])),
        float(unit * abs(best[k + 1])),
        value,
    )


def _value_and_gradient(
    runs: BlockedRuns, coefficients: FloatArray, log_sigma: float, block_sigma: float
) -> tuple[float, FloatArray]:
    """Log-likelihood and its gradient in the coefficients, the log of sigma, and the blocks' sigma."""
    sigma = float(np.exp(log_sigma))
    base = (runs.logs - runs.design @ coefficients) / sigma
    slope, n_blocks = block_sigma / sigma, int(runs.blocks.max()) + 1
    mode, curvature = _modes(base, slope, runs, n_blocks)
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES)
    z = mode[:, None] + nodes / np.sqrt(curvature)[:, None]
    residuals = base[:, None] - slope * z[runs.blocks]
    terms, score, _ = _terms(residuals, runs.left_censored[:, None])
    members = (runs.blocks == np.arange(n_blocks)[:, None]).astype(np.float64)
    height = members @ terms - 0.5 * z**2 + np.log(weights) + 0.5 * nodes**2
    top = height.max(axis=1, keepdims=True)
    mass = np.exp(height - top)
    total = mass.sum(axis=1)
    # The nodes' weight function is exp(-x^2/2), the effect's density the same over root 2 pi.
    value = float(np.sum(np.log(total) + top[:, 0] - 0.5 * np.log(curvature) - HALF_LOG_2PI))
    n_observed = int(np.count_nonzero(~runs.left_censored))
    value -= n_observed * (log_sigma + HALF_LOG_2PI)
    share = (mass / total[:, None])[runs.blocks] * score
    along = -share.sum(axis=1) / sigma
    gradient = np.append(
        runs.design.T @ along,
        [-np.sum(share * residuals) - n_observed, -np.sum(share * z[runs.blocks]) / sigma],
    )
    return value, gradient


def _modes(base: FloatArray, slope: float, runs: BlockedRuns, n_blocks: int) -> tuple[FloatArray, FloatArray]:
    """Mode of each block's integrand in its standardised effect, and minus its second derivative there."""
    z: FloatArray = np.zeros(n_blocks, dtype=np.float64)
    curvature: FloatArray = np.ones(n_blocks)
    for _ in range(MODE_STEPS):
        _, score, bend = _terms(base - slope * z[runs.blocks], runs.left_censored)
        gradient = -z - slope * np.bincount(runs.blocks, score, n_blocks)
        bends = np.bincount(runs.blocks, bend, n_blocks)
        curvature = np.asarray(1.0 + slope**2 * bends, dtype=np.float64)
        step = gradient / curvature
        z = np.asarray(z + step, dtype=np.float64)
        if float(np.abs(step).max()) < 1e-10:
            break
    return z, curvature


def _terms(residuals: FloatArray, left_censored: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Log density or distribution of standard normal residuals, its derivative, and minus its second one."""
    log_phi = log_ndtr(residuals)
    mills = np.exp(-0.5 * residuals**2 - HALF_LOG_2PI - log_phi)
    terms = np.where(left_censored, log_phi, -0.5 * residuals**2)
    score = np.where(left_censored, mills, -residuals)
    # The second derivative lies between 0 and 1; far out it is the difference of two large numbers.
    bend = np.where(left_censored, np.clip(mills * (mills + residuals), 0.0, 1.0), 1.0)
    return terms, score, bend
