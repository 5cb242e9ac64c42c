"""Left-censored runs in random blocks (days, rings): medians and their ratios with calibrated limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize
from scipy.special import log_ndtr

from pinscar.stats.blocks import BLANK, separable
from pinscar.stats.censored import (
    HALF_LOG_2PI,
    censoring_shift,
    deviance_cut,
    fit_left_censored,
    profile_limit,
)
from pinscar.stats.censored_groups import CensoredGroups, CensoredRatio
from pinscar.stats.checks import Estimate, censored_mask, check_confidence, from_log, on_scale
from pinscar.stats.rounding import pulled_in
from pinscar.stats.within_blocks import one_spread_student

FloatArray = NDArray[np.float64]
Deviance = Callable[[float], float]
Sides = tuple[Sequence[object], Sequence[object]]
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


@dataclass(frozen=True, slots=True)
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
    height = _sums(terms, runs.blocks, n_blocks) - 0.5 * z**2 + np.log(_WEIGHTS) + 0.5 * _AT**2
    top = height.max(axis=1, keepdims=True)
    mass = np.exp(height - top)
    total = mass.sum(axis=1)
    # The nodes' weight function is exp(-x^2/2), the effect's density the same over root 2 pi.
    value = float(np.sum(np.log(total) + top[:, 0] - 0.5 * np.log(curvature) - HALF_LOG_2PI))
    return _Nodes(value, z, mass / total[:, None], residuals, score, bend)


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


def _sums(terms: FloatArray, blocks: NDArray[np.int_], count: int) -> FloatArray:
    """Sum terms, shape (n, nodes), by block."""
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


METHOD = (
    "median by log-normal maximum likelihood with {side} censoring and a random effect of {blocks} blocks, "
    "likelihood interval calibrated to Student's t and by simulation"
)
TOO_FEW = "blocks left out: too few uncensored runs to tell the spread within blocks"
LEAST_WITHIN = 2  # uncensored runs beyond those that blocks and medians fit exactly
LEAST_LOG_P = -30.0  # logarithm of the smallest p that is worked out
TOLERANCE = 1e-7  # of a limit's logarithm: the inner maximum is not known better


def median_in_blocks(
    values: ArrayLike,
    censored: ArrayLike,
    blocks: Sequence[object],
    confidence: float = 0.95,
    side: str = "left",
    rounded: float = 0.0,
) -> Estimate:
    r"""Median of censored runs that fall into random blocks (days, rings).

    The deviance of a median is cut by :func:`blocked_cut`; the end that rests on censored runs is shifted as
    in :func:`pinscar.stats.censored.censoring_shift`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one per run, in any unit; the limit where censored. Two uncensored ones differ.
    censored : array_like of bool, shape (n,)
        True where the true value is at most (left) or at least (right) the one recorded.
    blocks : sequence, length n
        Block of each run; more than one, and fewer than there are runs.
    confidence : float
        Confidence of the interval [-].
    side : {"left", "right"}
        Side of censoring.
    rounded : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.rounding`.

    Returns
    -------
    Estimate
        Median and interval in the unit of the values; ``sd`` is the standard deviation of the natural
        logarithms within and between blocks together.

    Raises
    ------
    ValueError
        If the blocks don't fit the values, are one or as many as the runs, or fewer than two distinct values
        were observed.

    References
    ----------
    Likelihood as :func:`pinscar.stats.censored_blocks.likelihood_of_means`; the cut is an own derivation,
    checked by simulation for 3 days of two runs.

    Examples
    --------
    >>> days = ["Mon", "Mon", "Tue", "Tue", "Wed", "Wed"]
    >>> result = median_in_blocks([118, 121, 96, 103, 131, 127], [False] * 3 + [True] + [False] * 2, days)
    >>> result.low < 100 < result.estimate < 130 < result.high
    True
    """
    sign = 1.0 if side == "left" else -1.0
    logs = sign * on_scale(values, "log")
    mask = censored_mask(censored, logs.size)
    n, n_blocks = logs.size, len(set(map(str, blocks)))
    if len(blocks) != n or not 1 < n_blocks < n:
        raise ValueError(
            f"blocks must be {n} labels of 2 to {n - 1} blocks, found {len(blocks)} of {n_blocks}"
        )
    if np.unique(logs[~mask]).size < 2:
        raise ValueError("two distinct uncensored values are needed, found fewer")
    check_confidence(confidence)
    numbers = numbered(blocks)
    fit = fit_in_blocks(BlockedRuns(logs, mask, np.ones((n, 1)), numbers))
    centre = float(fit.coefficients[0])

    @cache  # both intervals try some of the same locations
    def fit_at(location: float) -> BlockedFit:
        return fit_in_blocks(BlockedRuns(logs - location, mask, np.zeros((n, 0)), numbers))

    def excess(location: float, shift: float | None) -> float:
        # The spread that decides about rounding is that within blocks, the smaller of both.
        held = fit_at(location if shift is None else pulled_in(location, centre, fit.sigma, rounded))
        deviance = 2 * (fit.log_likelihood - held.log_likelihood)
        if shift is None:
            return deviance - deviance_cut(confidence, n, 1)
        return deviance - blocked_cut(confidence, n, n_blocks, held, shift)

    step = float(np.hypot(fit.sigma / np.sqrt(n), fit.block_sigma / np.sqrt(n_blocks)))
    shifts = (censoring_shift(n, int(mask.sum())), 0.0)
    low, high = _ends(lambda x, i: excess(x, shifts[i]), centre, step, sign)
    plain_low, plain_high = _ends(lambda x, _: excess(x, None), centre, step, sign)
    return Estimate(
        n=n,
        n_censored=int(mask.sum()),
        estimate=from_log(sign * centre),
        low=low,
        high=high,
        confidence=confidence,
        scale="log",
        sd=float(np.hypot(fit.sigma, fit.block_sigma)),
        df=None,
        method=METHOD.format(side=side, blocks=n_blocks),
        note=None if low is not None and high is not None else "the interval is open on one side",
        profile_low=plain_low,
        profile_high=plain_high,
    )


def blocked_cut(confidence: float, n: int, n_blocks: int, held: BlockedFit, shift: float) -> float:
    r"""Give the value at which the deviance of a median of runs in random blocks is cut.

    .. math:: \left[ (1 - w) \sqrt{c_n} + w \sqrt{c_b} + d \right]^2, \quad
              w = \tau / \sqrt{\tau^2 + \sigma^2}

    with :math:`c_n` Student's cut for n runs, :math:`c_b` that for as many runs as there are blocks, and d
    the shift for censored runs: where all spread is between blocks, each block counts as one run.

    Parameters
    ----------
    confidence : float
        Confidence of the interval [-].
    n, n_blocks : int
        Runs and blocks [-].
    held : BlockedFit
        The fit with the median held at the value tested; it gives tau and sigma.
    shift : float
        Shift of the cut's root [-].

    Returns
    -------
    float
        The cut [-].

    References
    ----------
    Own derivation; ``tests/benchmarks/block_coverage_table.py`` simulates its coverage.

    Examples
    --------
    >>> between = BlockedFit(np.zeros(0), 0.0, 1.0, 0.0)
    >>> blocked_cut(0.95, 6, 3, between, 0.0) == deviance_cut(0.95, 3, 1, "student")
    True
    """
    of_runs, of_blocks = (np.sqrt(deviance_cut(confidence, size, 1, "student")) for size in (n, n_blocks))
    weight = held.block_sigma / np.hypot(held.block_sigma, held.sigma)
    return float(((1 - weight) * of_runs + weight * of_blocks + shift) ** 2)


def _ends(
    excess: Callable[[float, int], float], centre: float, step: float, sign: float
) -> tuple[float | None, float | None]:
    """Where an excess of the deviance over its cut crosses zero below and above, turned back to values."""
    below = profile_limit(lambda x: excess(x, 0), centre, -step, 0.0, TOLERANCE)
    above = profile_limit(lambda x: excess(x, 1), centre, step, 0.0, TOLERANCE)
    ends = [from_log(None if x is None else sign * x) for x in (below, above)]
    return (ends[0], ends[1]) if sign > 0 else (ends[1], ends[0])


def _over(deviance: Callable[[float], float], cuts: Sequence[float]) -> Callable[[float, int], float]:
    return lambda location, end: deviance(location) - cuts[end]


def why_not_in_blocks(groups: CensoredGroups, blocks: Mapping[str, Sequence[object]]) -> str | None:
    """Say why the blocks of censored groups cannot be modelled, if they cannot.

    Parameters
    ----------
    groups : CensoredGroups
        From :func:`pinscar.stats.censored_groups.fit_censored_groups`.
    blocks : mapping of str to sequence
        Block of each value of each group.

    Returns
    -------
    str or None
        The reason; None where they can.

    References
    ----------
    Own derivation: with fewer than two uncensored runs beyond those that medians and blocks fit exactly, the
    likelihood has no proper maximum, or one that tells nothing of the spread within blocks.

    Examples
    --------
    >>> from pinscar.stats.censored_groups import fit_censored_groups
    >>> groups = fit_censored_groups({"R": [1.0, 2.0], "C": [1.5, 2.5]}, {"C": [True, False]})
    >>> why_not_in_blocks(groups, {"R": ["a", "b"], "C": ["a", "b"]})
    'blocks left out: too few uncensored runs to tell the spread within blocks'
    """
    labels = _labels(groups, blocks)
    by_group = {
        name: [x for x, g in zip(labels, _names(groups), strict=True) if g == name] for name in groups.names
    }
    logs = {name: groups.logs[groups.design[:, i] > 0] for i, name in enumerate(groups.names)}
    blank = sum(label.strip().lower() in BLANK for label in labels)
    if blank:
        return f"blocks left out: {blank} of {len(labels)} runs have no block recorded"
    if len(set(labels)) == 1:
        return "blocks left out: all runs are in one block"
    if len(set(labels)) == len(labels):
        return "blocks left out: each block holds a single run"
    if not separable(logs, by_group):
        return (
            "blocks left out: blocks and lubricants are confounded, so the difference shown holds "
            "that between blocks too"
        )
    seen = ~groups.left_censored
    # The rank of medians and blocks together: blocks, and what of the medians is not a block.
    places = numbered([label for label, kept in zip(labels, seen, strict=True) if kept])
    design = groups.design[seen]
    sizes = np.bincount(places)
    within = design - (_sums(design, places, sizes.size) / sizes[:, None])[places]
    if int(seen.sum()) - sizes.size - _rank(within) < LEAST_WITHIN:
        return TOO_FEW
    return None


def _rank(columns: FloatArray) -> int:
    return int(np.linalg.matrix_rank(columns, tol=1e-9)) if columns.size else 0


def without_blocks_safe(subject_blocks: Sequence[object], reference_blocks: Sequence[object]) -> bool:
    r"""Whether two groups may be compared as if there were no blocks, without raising the error.

    With the share :math:`p_{gj}` of group g's runs in block j, the blocks put
    :math:`\tau^2 \sum_j (p_{1j} - p_{2j})^2` into the variance of the difference, and the groups' own spreads
    already hold :math:`\tau^2 \sum_g (1 - \sum_j p_{gj}^2)/(n_g - 1)` of it. It is safe where that is no
    less.

    Parameters
    ----------
    subject_blocks, reference_blocks : sequence
        Block of each run; two or more of each.

    Returns
    -------
    bool
        True where the spread between blocks is in the intervals already.

    References
    ----------
    Own derivation: variance of a mean of clustered runs, and the expected sample variance.

    Examples
    --------
    >>> without_blocks_safe("aabbcc", "aabbcc"), without_blocks_safe("aaab", "bbbc")
    (True, False)
    """
    labels = sorted({str(label) for label in (*subject_blocks, *reference_blocks)})
    sides = [[str(label) for label in side] for side in (subject_blocks, reference_blocks)]
    shares = np.array([[side.count(label) / len(side) for label in labels] for side in sides])
    apart = float(np.sum((shares[0] - shares[1]) ** 2))
    held = sum((1.0 - float(np.sum(p**2))) / (len(side) - 1) for p, side in zip(shares, sides, strict=True))
    return apart <= held + 1e-12


def ratios_in_blocks(
    groups: CensoredGroups,
    blocks: Mapping[str, Sequence[object]],
    reference: str,
    confidence: float = 0.95,
    rounded: float = 0.0,
    pooled: bool = False,
) -> dict[str, CensoredRatio]:
    r"""Ratios of the medians of censored groups to a reference, in random blocks.

    The deviance of a ratio is cut at :math:`n \ln(1 + t^2/\nu)` with the degrees of freedom within blocks,
    :math:`\nu` = runs - blocks - groups + 1, and shifted at the ends that rest on censored runs. Unless the
    groups share one spread by design, t is that of :func:`pinscar.stats.within_blocks.one_spread_student`,
    which holds for spreads up to three times each other; then there are two groups.

    Parameters
    ----------
    groups : CensoredGroups
        The groups, which `why_not_in_blocks` lets pass.
    blocks : mapping of str to sequence
        Block of each value of each group.
    reference : str
        The group that the others are compared with.
    confidence : float
        Confidence of each interval [-].
    rounded : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.rounding`.
    pooled : bool
        True where the design of the campaign says that all groups share one spread.

    Returns
    -------
    dict of str to CensoredRatio
        One a group other than the reference.

    References
    ----------
    Likelihood as :func:`pinscar.stats.censored_blocks.likelihood_of_means`; the cut is an own derivation,
    simulated in ``tests/benchmarks/met_error_table.py``.

    Examples
    --------
    >>> from pinscar.stats.censored_groups import fit_censored_groups
    >>> values = {"R": [100, 104, 81, 79, 121, 126.0], "C": [119, 126, 97, 96, 147, 150.0]}
    >>> groups = fit_censored_groups(values, {"R": [False] * 3 + [True] + [False] * 2})
    >>> result = ratios_in_blocks(groups, dict.fromkeys("RC", list("aabbcc")), "R")["C"]
    >>> 1.1 < result.low < result.ratio < result.high < 1.4, result.p < 0.001
    (True, True)
    """
    numbers = numbered(_labels(groups, blocks))
    n, k = groups.logs.size, len(groups.names)
    n_blocks = int(numbers.max()) + 1
    locations = n_blocks + k - 1
    fit = fit_in_blocks(BlockedRuns(groups.logs, groups.left_censored, groups.design, numbers))
    counts = groups.design.sum(axis=0)
    hidden = groups.design[groups.left_censored].sum(axis=0)
    r = groups.names.index(reference)
    found = {}
    for s, name in enumerate(groups.names):
        if s == r:
            continue

        @cache  # both intervals try some of the same ratios
        def deviance(log_ratio: float, s: int = s) -> float:
            column, merged = groups.design[:, s], _merged(groups.design, s, r)
            held = BlockedRuns(groups.logs - log_ratio * column, groups.left_censored, merged, numbers)
            return 2 * (fit.log_likelihood - fit_in_blocks(held).log_likelihood)

        centre = float(fit.coefficients[s] - fit.coefficients[r])

        def pulled(log_ratio: float, deviance: Deviance = deviance, centre: float = centre) -> float:
            return deviance(pulled_in(log_ratio, centre, fit.sigma, rounded, means=2))

        step = fit.sigma * float(np.sqrt(1 / counts[s] + 1 / counts[r]))
        shifts = [censoring_shift(int(counts[i]), int(hidden[i])) for i in (s, r)]
        sides = (blocks[name], blocks[reference])

        def cut(level: float, shift: float, sides: Sides = sides) -> float:
            if pooled:
                return deviance_cut(level, n, locations, "student", shift)
            return guarded_cut(sides, level, n, shift)

        cuts = [cut(confidence, shift) for shift in shifts]
        plain = [deviance_cut(confidence, n, k)] * 2
        low, high = _ends(_over(pulled, cuts), centre, step, 1.0)
        plain_ends = _ends(_over(deviance, plain), centre, step, 1.0)
        p = _p_of(pulled(0.0), partial(cut, shift=shifts[0] if centre > 0 else shifts[1]))
        found[name] = CensoredRatio(float(np.exp(centre)), low, high, p, *plain_ends)
    return found


def guarded_cut(sides: Sides, confidence: float, n: int, shift: float = 0.0) -> float:
    r"""Give the value at which the deviance of a ratio within blocks is cut, each group with its own spread.

    .. math:: \left[ \sqrt{n \ln(1 + c^2/\nu)} + d \right]^2

    with c and :math:`\nu` of :func:`pinscar.stats.within_blocks.one_spread_student` and d the shift for
    censored runs.

    Parameters
    ----------
    sides : tuple of sequence
        Block of each run of the one group, and of the other.
    confidence : float
        Confidence of the interval [-].
    n : int
        Runs of both groups [-].
    shift : float
        Shift of the cut's root [-].

    Returns
    -------
    float
        The cut [-].

    Raises
    ------
    ValueError
        If the groups share no block, or the runs leave no spread within blocks.

    References
    ----------
    Own derivation; ``tests/benchmarks/block_coverage_table.py`` simulates its coverage.

    Examples
    --------
    It is wider than the cut for two groups that scatter alike by design.

    >>> guarded_cut(("aabbcc", "aabbcc"), 0.95, 12) > deviance_cut(0.95, 12, 4, "student")
    True
    """
    found = one_spread_student(*sides, confidence)
    if found is None:
        raise ValueError("the groups must share a block and leave a spread within, found that they do not")
    critical, df = found
    return float((np.sqrt(n * np.log1p(critical**2 / df)) + shift) ** 2)


def _p_of(deviance: float, cut: Callable[[float], float]) -> float:
    """Solve for the error at which a deviance is just cut."""

    def excess(log_p: float) -> float:
        return cut(1.0 - float(np.exp(log_p))) - deviance

    if excess(-1e-9) >= 0.0:
        return 1.0
    if excess(LEAST_LOG_P) <= 0.0:
        return float(np.exp(LEAST_LOG_P))
    return float(np.exp(brentq(excess, LEAST_LOG_P, -1e-9, xtol=1e-10)))


def _merged(design: FloatArray, subject: int, reference: int) -> FloatArray:
    """Give the design in which the subject has the median of the reference."""
    merged = design.copy()
    merged[:, reference] += merged[:, subject]
    return np.delete(merged, subject, axis=1)


def _names(groups: CensoredGroups) -> list[str]:
    return [groups.names[i] for i in groups.design.argmax(axis=1)]


def _labels(groups: CensoredGroups, blocks: Mapping[str, Sequence[object]]) -> list[str]:
    labels = [str(label) for name in groups.names for label in blocks[name]]
    if len(labels) != groups.logs.size:
        raise ValueError(f"blocks must have one label per value ({groups.logs.size}), found {len(labels)}")
    return labels
