"""Left-censored runs in random blocks, or of batches in random campaigns: likelihood and fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import log_ndtr

from pinscar.stats.censored import HALF_LOG_2PI, fit_left_censored

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
NODES = 21  # tests compare with brute-force integration
_AT, _WEIGHTS = np.polynomial.hermite_e.hermegauss(NODES)  # once: each fit evaluates them thousands of times
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


def likelihood_of_means(
    runs: BlockedRuns, means: FloatArray, log_sigma: float, block_sigma: float
) -> tuple[float, FloatArray]:
    r"""Log-likelihood of left-censored log values with a normal effect of each block, and its gradient.

    .. math:: \ell = \sum_d \ln \int \prod_{i \in d} f(y_i \mid \mu_i + \tau z, \sigma)\, \varphi(z)\, dz

    with f the normal density where a run is observed and the normal distribution function where it is
    left-censored. The integral is taken by Gauss-Hermite quadrature about the mode of each integrand, scaled
    by its curvature there (adaptive quadrature); without censored runs it is exact.

    Parameters
    ----------
    runs : BlockedRuns
        The data; their design is not looked at.
    means : ndarray, shape (n,)
        Mean logarithm of each run without its block's effect [-].
    log_sigma : float
        Natural logarithm of the standard deviation within blocks [-].
    block_sigma : float
        Standard deviation between blocks [-].

    Returns
    -------
    tuple of float and ndarray
        Log-likelihood of the logarithms [-], and its derivatives in the n means, `log_sigma` and
        `block_sigma`.

    References
    ----------
    Pinheiro and Bates, "Approximations to the log-likelihood function in the nonlinear mixed-effects model",
    J. Comput. Graph. Statist. 4 (1995) 12-35, section 2.4, for the quadrature.

    Examples
    --------
    Two runs of one block without censoring: their covariance is known.

    >>> from scipy.stats import multivariate_normal
    >>> runs = BlockedRuns(np.array([0.3, 1.1]), np.zeros(2, bool), np.ones((2, 1)), np.zeros(2, int))
    >>> value, gradient = likelihood_of_means(runs, np.array([0.2, 0.2]), 0.0, 0.5)
    >>> covariance = [[1.0 + 0.25, 0.25], [0.25, 1.0 + 0.25]]
    >>> exact = multivariate_normal.logpdf([0.3, 1.1], [0.2, 0.2], covariance)
    >>> bool(abs(value - exact) < 1e-12), gradient.shape
    (True, (4,))
    """
    free = BlockedRuns(runs.logs, runs.left_censored, np.eye(runs.logs.size), runs.blocks)
    return _value_and_gradient(free, means, log_sigma, block_sigma)


def information_of_means(
    runs: BlockedRuns, means: FloatArray, log_sigma: float, block_sigma: float
) -> tuple[float, FloatArray, FloatArray]:
    r"""Log-likelihood as :func:`likelihood_of_means`, with both its derivatives in the means.

    .. math:: -\frac{\partial^2 \ell}{\partial \mu_i\,\partial \mu_j} = \frac{1}{\sigma^2} \left[
        \delta_{ij}\,\mathrm{E}\,b_i - \mathrm{Cov}(s_i, s_j) \right]

    with the score s and the bend b of each run's term in its standardised residual, over each block's effect
    as the runs leave it; runs of two blocks do not touch each other.

    Parameters
    ----------
    runs : BlockedRuns
        The data; their design is not looked at.
    means : ndarray, shape (n,)
        Mean logarithm of each run without its block's effect [-].
    log_sigma : float
        Natural logarithm of the standard deviation within blocks [-].
    block_sigma : float
        Standard deviation between blocks [-].

    Returns
    -------
    tuple of float, ndarray of shape (n,) and ndarray of shape (n, n)
        Log-likelihood [-], its slope in the means, and minus its second derivatives there.

    References
    ----------
    Louis, "Finding the observed information matrix when using the EM algorithm", J. R. Stat. Soc. B 44 (1982)
    226-233, equation (3.2').

    Examples
    --------
    Two runs of one block without censoring: the inverse of their covariance.

    >>> runs = BlockedRuns(np.array([0.3, 1.1]), np.zeros(2, bool), np.ones((2, 1)), np.zeros(2, int))
    >>> _, _, information = information_of_means(runs, np.zeros(2), 0.0, 0.5)
    >>> np.linalg.inv(information).round(9).tolist()
    [[1.25, 0.25], [0.25, 1.25]]
    """
    sigma = float(np.exp(log_sigma))
    nodes = _at_nodes(runs, (runs.logs - means) / sigma, block_sigma / sigma)
    share = nodes.share[runs.blocks]
    own = (share * nodes.score).sum(axis=1)
    together = (share * nodes.score) @ nodes.score.T - np.outer(own, own)
    together[runs.blocks[:, None] != runs.blocks[None, :]] = 0.0
    information = (np.diag((share * nodes.bend).sum(axis=1)) - together) / sigma**2
    value = nodes.value - int(np.count_nonzero(~runs.left_censored)) * (log_sigma + HALF_LOG_2PI)
    return value, -own / sigma, np.asarray(information, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Nodes:
    """What the runs' terms are at the nodes of their blocks' effects, and how likely each node is."""

    value: float
    z: FloatArray
    share: FloatArray
    residuals: FloatArray
    score: FloatArray
    bend: FloatArray


def _at_nodes(runs: BlockedRuns, base: FloatArray, slope: float) -> _Nodes:
    n_blocks = int(runs.blocks.max()) + 1
    mode, curvature = _modes(base, slope, runs, n_blocks)
    z = mode[:, None] + _AT / np.sqrt(curvature)[:, None]
    residuals = base[:, None] - slope * z[runs.blocks]
    terms, score, bend = _terms(residuals, runs.left_censored)
    height = block_sums(terms, runs.blocks, n_blocks) - 0.5 * z**2 + np.log(_WEIGHTS) + 0.5 * _AT**2
    top = height.max(axis=1, keepdims=True)
    mass = np.exp(height - top)
    total = mass.sum(axis=1)
    # The nodes' weight function is exp(-x^2/2), the effect's density the same over root 2 pi.
    value = float(np.sum(np.log(total) + top[:, 0] - 0.5 * np.log(curvature) - HALF_LOG_2PI))
    return _Nodes(value=value, z=z, share=mass / total[:, None], residuals=residuals, score=score, bend=bend)


def completed_blocks(
    runs: BlockedRuns, means: FloatArray, log_sigma: float, block_sigma: float
) -> tuple[FloatArray, FloatArray]:
    r"""Put in place of each limit what the other runs of its block let expect below it.

    Parameters
    ----------
    runs : BlockedRuns
        The data; their design is not looked at.
    means : ndarray, shape (n,)
        Mean logarithm of each run without its block's effect [-].
    log_sigma : float
        Natural logarithm of the standard deviation within blocks [-].
    block_sigma : float
        Standard deviation between blocks [-].

    Returns
    -------
    tuple of ndarray, shape (n,) and ndarray, shape (blocks,)
        The completed logarithms [-], and the variance of the mean of each block that stays unknown [-].

    References
    ----------
    Dempster, Laird and Rubin, J. R. Stat. Soc. B 39 (1977) 1-38, example 4.3, over the effect of each block
    as :func:`likelihood_of_means` integrates it.

    Examples
    --------
    One bound at its mean: half a normal, whose mean is minus the root of 2 / pi and variance 1 - 2 / pi.

    >>> runs = BlockedRuns(np.zeros(1), np.ones(1, bool), np.zeros((1, 0)), np.zeros(1, int))
    >>> logs, unknown = completed_blocks(runs, np.zeros(1), 0.0, 0.0)
    >>> round(float(logs[0]), 6), round(float(unknown[0]), 5)
    (-0.797885, 0.36338)
    """
    sigma = float(np.exp(log_sigma))
    nodes = _at_nodes(runs, (runs.logs - means) / sigma, block_sigma / sigma)
    share, hidden = nodes.share[runs.blocks], runs.left_censored[:, None]
    # the score of a bound is the inverse Mills ratio of its residual
    expected = np.where(hidden, runs.logs[:, None] - sigma * (nodes.residuals + nodes.score), 0.0)
    within = np.where(hidden, sigma**2 * (1.0 - nodes.bend), 0.0)
    members = (runs.blocks == np.arange(int(runs.blocks.max()) + 1)[:, None]).astype(np.float64)
    of_sum = members @ expected
    centre = (nodes.share * of_sum).sum(axis=1, keepdims=True)
    unknown = (nodes.share * (members @ within + (of_sum - centre) ** 2)).sum(axis=1)
    logs = np.where(runs.left_censored, (share * expected).sum(axis=1), runs.logs)
    return logs, np.asarray(unknown / members.sum(axis=1) ** 2, dtype=np.float64)


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
    As :func:`likelihood_of_means`; the gradient is the mean of the complete-data score over each block's
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
    nodes = _at_nodes(runs, (runs.logs - runs.design @ coefficients) / sigma, block_sigma / sigma)
    n_observed = int(np.count_nonzero(~runs.left_censored))
    share = nodes.share[runs.blocks] * nodes.score
    along = -share.sum(axis=1) / sigma
    gradient = np.append(
        runs.design.T @ along,
        [
            -np.sum(share * nodes.residuals) - n_observed,
            -np.sum(share * nodes.z[runs.blocks]) / sigma,
        ],
    )
    return nodes.value - n_observed * (log_sigma + HALF_LOG_2PI), gradient


def block_sums(terms: FloatArray, blocks: NDArray[np.int_], count: int) -> FloatArray:
    """Sum the rows of a matrix by block.

    Parameters
    ----------
    terms : ndarray, shape (n, m)
        A row a run [any one unit].
    blocks : ndarray of int, shape (n,)
        Number of each run's block, from 0.
    count : int
        Number of blocks.

    Returns
    -------
    ndarray, shape (count, m)
        The sums [unit of the terms].

    References
    ----------
    A sum; none is needed.

    Examples
    --------
    >>> block_sums(np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]), np.array([0, 1, 0]), 2).tolist()
    [[6.0, 8.0], [3.0, 4.0]]
    """
    cells = blocks[:, None] * terms.shape[1] + np.arange(terms.shape[1])
    sums = np.bincount(cells.ravel(), terms.ravel(), count * terms.shape[1])
    return np.asarray(sums, dtype=np.float64).reshape(count, -1)


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
    terms, score, bend = -0.5 * residuals**2, -residuals, np.ones_like(residuals)
    hidden = residuals[left_censored]
    log_phi = log_ndtr(hidden)
    mills = np.exp(-0.5 * hidden**2 - HALF_LOG_2PI - log_phi)
    terms[left_censored], score[left_censored] = log_phi, mills
    # The second derivative lies between 0 and 1; far out it is the difference of two large numbers.
    bend[left_censored] = np.clip(mills * (mills + hidden), 0.0, 1.0)
    return terms, score, bend


IntArray = NDArray[np.int_]
STEPS = 30
"""Most Newton steps."""
LEAST = 1e-6
"""Spread between campaigns, as a share of that between runs, below which it counts as none."""


@dataclass(frozen=True, slots=True)
class Spreads:
    """Standard deviations of the logarithms.

    Parameters
    ----------
    sigma, batch, campaign : float
        Between runs of a batch, between batches, between campaigns [-].
    """

    sigma: float
    batch: float
    campaign: float


@dataclass(frozen=True, slots=True)
class JointFit:
    """Coefficients and campaigns' heights at given spreads.

    Parameters
    ----------
    coefficients : ndarray, shape (p,)
        One a column of the design [-].
    heights : ndarray, shape (k,)
        Of the campaigns, about zero [-].
    means : ndarray, shape (n,)
        Mean of each run with its campaign's height, without its batch's effect [-].
    covariance : ndarray, shape (p, p)
        Of the coefficients [-].
    log_likelihood : float
        With the heights integrated out [-].
    spreads : Spreads
        The spreads it holds for.
    """

    coefficients: FloatArray
    heights: FloatArray
    means: FloatArray
    covariance: FloatArray
    log_likelihood: float
    spreads: Spreads


def joint_maximum(
    data: BlockedRuns, design: FloatArray, campaigns: IntArray, spreads: Spreads, means: FloatArray
) -> JointFit:
    r"""Fit coefficients and campaigns' heights together, each height held near zero by its own density.

    These are Henderson's equations with the information of the censored runs in place of the inverse of their
    covariance: without censored runs, generalised least squares exactly. The likelihood is integrated over
    the heights by Laplace's method about this maximum,

    .. math:: \ell = \ell(\beta, \hat c) - \frac{\hat c^T \hat c}{2 \kappa^2}
              - \frac12 \ln\det(I + \kappa^2 W^T J W)

    with J the information in the runs' means and W the campaigns of the runs; exact without censored runs.

    Parameters
    ----------
    data : BlockedRuns
        The runs with their batches as blocks; their design is not looked at.
    design : ndarray, shape (n, p)
        A row a run, of full column rank [-]; p may be 0.
    campaigns : ndarray of int, shape (n,)
        Number of each run's campaign, from 0.
    spreads : Spreads
        The spreads.
    means : ndarray, shape (n,)
        Means to begin with [-].

    Returns
    -------
    JointFit
        The maximum.

    References
    ----------
    Henderson, "Best linear unbiased estimation and prediction under a selection model", Biometrics 31 (1975)
    423-447; Tierney and Kadane, "Accurate approximations for posterior moments and marginal densities", JASA
    81 (1986) 82-86, for Laplace's method.

    Examples
    --------
    Without censored runs the likelihood is that of a multivariate normal.

    >>> from scipy.stats import multivariate_normal
    >>> y, none, two = np.array([0.3, 1.1, 0.2]), np.zeros(3, bool), np.array([0, 0, 1])
    >>> runs = BlockedRuns(y, none, np.zeros((3, 0)), np.arange(3))
    >>> fit = joint_maximum(runs, np.zeros((3, 0)), two, Spreads(0.5, 0.2, 0.3), np.zeros(3))
    >>> covariance = 0.29 * np.eye(3) + 0.09 * (two[:, None] == two)
    >>> bool(abs(fit.log_likelihood - multivariate_normal.logpdf(y, np.zeros(3), covariance)) < 1e-9)
    True
    """
    p = design.shape[1]
    members = (campaigns[:, None] == np.arange(int(campaigns.max()) + 1)).astype(np.float64)
    free = spreads.campaign > LEAST * spreads.sigma
    whole = np.column_stack([design, members]) if free else design
    penalty = np.zeros(whole.shape[1])
    penalty[p:] = 1.0 / spreads.campaign**2 if free else 0.0
    log_sigma = float(np.log(spreads.sigma))

    def at(point: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        value, slope, inner = information_of_means(data, whole @ point, log_sigma, spreads.batch)
        return (
            value - 0.5 * float(penalty @ point**2),
            whole.T @ slope - penalty * point,
            whole.T @ inner @ whole,
        )

    theta = np.zeros(whole.shape[1])
    if theta.size:
        theta = np.asarray(np.linalg.lstsq(whole, means, rcond=None)[0], dtype=np.float64)
    value, slope, inner = at(theta)
    for _ in range(STEPS if theta.size else 0):
        step = np.asarray(np.linalg.solve(inner + np.diag(penalty), slope), dtype=np.float64)
        tried = at(theta + step)
        while tried[0] < value - 1e-9 and float(np.abs(step).max()) > 1e-9:
            step = 0.5 * step
            tried = at(theta + step)
        theta = np.asarray(theta + step, dtype=np.float64)
        value, slope, inner = tried
        if float(np.abs(step).max()) < 1e-7 * spreads.sigma:
            break
    if free:
        of_heights = np.eye(members.shape[1]) + spreads.campaign**2 * inner[p:, p:]
        value -= 0.5 * float(np.linalg.slogdet(of_heights)[1])
    covariance = np.linalg.inv(inner + np.diag(penalty))[:p, :p] if p else np.zeros((0, 0))
    return JointFit(
        theta[:p],
        theta[p:] if free else np.zeros(members.shape[1]),
        np.asarray(whole @ theta, dtype=np.float64),
        np.asarray(covariance, dtype=np.float64),
        float(value),
        spreads,
    )


def likeliest_spreads(
    data: BlockedRuns, design: FloatArray, campaigns: IntArray, start: JointFit
) -> JointFit:
    """Fit with the spreads that have the greatest likelihood.

    Parameters
    ----------
    data : BlockedRuns
        The runs with their batches as blocks; their design is not looked at.
    design : ndarray, shape (n, p)
        A row a run, of full column rank [-].
    campaigns : ndarray of int, shape (n,)
        Number of each run's campaign, from 0.
    start : JointFit
        A fit at spreads to begin with.

    Returns
    -------
    JointFit
        The maximum over coefficients, heights and spreads.

    References
    ----------
    As :func:`joint_maximum`; quasi-Newton steps in the logarithm of the spread between runs and in the two
    others, whose sign does not matter.

    Examples
    --------
    >>> y, two = np.array([0.3, 1.1, 0.2, 0.9, 1.8, 2.4]), np.array([0, 0, 0, 1, 1, 1])
    >>> runs = BlockedRuns(y, np.zeros(6, bool), np.zeros((6, 0)), np.arange(6))
    >>> begin = joint_maximum(runs, np.ones((6, 1)), two, Spreads(0.6, 0.0, 0.5), y)
    >>> found = likeliest_spreads(runs, np.ones((6, 1)), two, begin)
    >>> found.log_likelihood > begin.log_likelihood
    True
    """
    unit = start.spreads.sigma
    several = bool(np.bincount(data.blocks).max() > 1)
    last = [start]

    def fit_at(place: FloatArray) -> JointFit:
        batch = unit * abs(float(place[1])) if several else 0.0
        spreads = Spreads(unit * float(np.exp(place[0])), batch, unit * abs(float(place[2])))
        last[0] = joint_maximum(data, design, campaigns, spreads, last[0].means)
        return last[0]

    def cost(place: FloatArray) -> float:
        return -fit_at(place).log_likelihood if abs(place[0]) < 10.0 else np.inf

    # a spread of none is a stationary point, so the search does not begin there
    first = np.array([0.0, max(start.spreads.batch / unit, 0.2), max(start.spreads.campaign / unit, 0.2)])
    found = minimize(cost, first, method="BFGS", options={"eps": 1e-5, "gtol": 1e-3, "maxiter": 60})
    best = np.asarray(found.x, dtype=np.float64)
    for place in (1, 2):  # nothing lies below zero, so a spread of none may be the maximum
        none = best.copy()
        none[place] = 0.0
        best = none if cost(none) <= cost(best) else best
    return max(fit_at(best), start, key=lambda one: one.log_likelihood)
