"""Comparisons in random blocks (days, rings): REML fit with Kenward-Roger standard errors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from pinscar.stats.block_layout import _codes, _stacked, _sums, blocks_separable
from pinscar.stats.estimates import check_confidence, finite_vector, least_variance, rounding_shift
from pinscar.stats.simultaneous import joint_contrast, joint_critical_value
from pinscar.stats.two_groups import Contrast

FloatArray = NDArray[np.float64]
RATIOS = np.concatenate([[0.0], np.logspace(-5, 8, 66)])  # block variance over residual variance


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockFit:
    """A linear model with one random block, fitted by REML.

    Parameters
    ----------
    coefficients : ndarray, shape (k,)
        One a column of the design, in the unit of the values.
    covariance : ndarray, shape (k, k)
        Kenward and Roger's covariance of the coefficients, in the unit of the values squared.
    block_variance, residual_variance : float
        Variance between and within blocks, in the unit of the values squared.
    plain_covariance : ndarray, shape (k, k)
        Covariance of the coefficients if the variances were known.
    slopes : ndarray, shape (2, k, k)
        How the plain covariance moves with the block and the residual variance [-].
    variance_covariance : ndarray, shape (2, 2)
        Covariance of the two variance estimates, from the expected information.
    """

    coefficients: FloatArray
    covariance: FloatArray
    block_variance: float
    residual_variance: float
    plain_covariance: FloatArray
    slopes: FloatArray
    variance_covariance: FloatArray


def fit_random_block(values: ArrayLike, design: ArrayLike, blocks: Sequence[object]) -> BlockFit:
    r"""Fit a linear model with one random block by restricted maximum likelihood.

    With :math:`y = X\beta + Z b + e` and :math:`\gamma = \sigma_b^2/\sigma^2` the restricted likelihood is
    profiled over :math:`\beta` and :math:`\sigma^2`, and its score in :math:`\gamma`,

    .. math:: \mathrm{tr}(Z'PZ) - (n-k) \, \frac{y'PZZ'Py}{y'Py}, \quad
        P = W - WX(X'WX)^{-1}X'W, \; W = (I + \gamma ZZ')^{-1}

    is set to zero by Brent's method inside the bracket that a grid over :math:`\gamma` finds best. Where the
    likelihood is highest at :math:`\gamma = 0` the block variance is zero exactly. No matrix of runs by runs
    is formed: W acts on the mean of each block alone, so that products with it are sums over blocks.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values on the scale of the analysis, in any unit.
    design : array_like, shape (n, k)
        Design matrix of full column rank [-].
    blocks : sequence, length n
        Label of each run's block.

    Returns
    -------
    BlockFit
        Coefficients, variances, and what their uncertainty needs.

    Raises
    ------
    ValueError
        If the variances cannot be told apart, or the runs within blocks show no spread.

    References
    ----------
    Patterson and Thompson, "Recovery of inter-block information when block sizes are unequal", Biometrika 58
    (1971) 545-554; Kenward and Roger, "Small sample inference for fixed effects from restricted maximum
    likelihood", Biometrics 53 (1997) 983-997, for the covariance. The example is Davies' dyestuff yields
    (R package lme4), where REML equals the analysis of variance.

    Examples
    --------
    >>> y = [1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    ...      1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445]
    >>> fit = fit_random_block(y, np.ones((30, 1)), [run // 5 for run in range(30)])
    >>> round(fit.block_variance, 2), round(fit.residual_variance, 2)
    (1764.05, 2451.25)
    """
    y, x = finite_vector(values), np.asarray(design, dtype=np.float64)
    if x.ndim != 2 or x.shape[0] != y.size or len(blocks) != y.size:
        raise ValueError(f"design and blocks must have one row per value ({y.size}), found other lengths")
    if not blocks_separable(x, blocks):
        raise ValueError("blocks must be separable from the design, found them confounded or of one run each")
    shift = np.asarray(np.linalg.lstsq(x, y, rcond=None)[0], dtype=np.float64)
    y = y - x @ shift  # changes only the coefficients, and spares the digits of small spreads
    data = _blocked(y, x, blocks)
    gamma = _variance_ratio(data)
    residual_variance = _rest(gamma, data) / data.df
    fit = _with_uncertainty(data, gamma, residual_variance)
    return replace(fit, coefficients=fit.coefficients + shift)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocked:
    r"""Values and design of a model with one random block, taken apart into block means and what is left.

    With :math:`u = 1/(1 + \gamma N)` of a block of N runs, :math:`a'W^p b` is the sum of products within
    blocks plus the sum over blocks of :math:`N u^p` times the product of the means. Every term of a square is
    positive, so that no digit is lost in a difference.

    Attributes
    ----------
    runs : ndarray, shape (m,)
        Runs of each block.
    y_within, x_within : ndarray, shape (n,), (n, k)
        Values and design less the means of their blocks.
    y_mean, x_mean : ndarray, shape (m,), (m, k)
        The means.
    products : ndarray, shape (k, k)
        Products of the columns of the design within blocks.
    """

    runs: FloatArray
    y_within: FloatArray
    x_within: FloatArray
    y_mean: FloatArray
    x_mean: FloatArray
    products: FloatArray

    @property
    def df(self) -> int:
        """Degrees of freedom of the residuals."""
        return int(self.x_within.shape[0] - self.x_within.shape[1])

    def shrink(self, gamma: float) -> FloatArray:
        """Give u of each block."""
        return np.asarray(1.0 / (1.0 + gamma * self.runs), dtype=np.float64)

    def between(self, weights: FloatArray) -> FloatArray:
        """Sum the products of block means of the design, weighted by block."""
        return np.asarray((self.x_mean.T * weights) @ self.x_mean, dtype=np.float64)

    def moment(self, u: FloatArray, power: int) -> FloatArray:
        """Give X'W^pX."""
        return np.asarray(self.products + self.between(self.runs * u**power), dtype=np.float64)

    def right(self, u: FloatArray) -> FloatArray:
        """Give X'Wy."""
        within = self.x_within.T @ self.y_within
        return np.asarray(within + self.x_mean.T @ (self.runs * u * self.y_mean), dtype=np.float64)


def _blocked(y: FloatArray, x: FloatArray, blocks: Sequence[object]) -> _Blocked:
    codes, count = _codes(blocks)
    runs = np.bincount(codes, minlength=count).astype(np.float64)
    y_mean = np.bincount(codes, y, count) / runs
    x_mean = _sums(x, codes, count) / runs[:, None]
    x_within = x - x_mean[codes]
    return _Blocked(
        runs=runs,
        y_within=y - y_mean[codes],
        x_within=x_within,
        y_mean=y_mean,
        x_mean=x_mean,
        products=x_within.T @ x_within,
    )


def _residuals(gamma: float, data: _Blocked) -> tuple[float, FloatArray]:
    """Return y'Py and the mean residual of each block at the weighted least squares coefficients."""
    u = data.shrink(gamma)
    beta = np.linalg.solve(data.moment(u, 1), data.right(u))
    within = data.y_within - data.x_within @ beta
    mean = data.y_mean - data.x_mean @ beta
    return float(within @ within + np.sum(data.runs * u * mean**2)), mean


def _rest(gamma: float, data: _Blocked) -> float:
    return _residuals(gamma, data)[0]


def _score(gamma: float, data: _Blocked) -> float:
    u, n = data.shrink(gamma), data.runs
    rest, mean = _residuals(gamma, data)
    between = n * u * mean
    trace = np.sum(n * u) - np.trace(np.linalg.solve(data.moment(u, 1), data.between((n * u) ** 2)))
    return float(trace - data.df * (between @ between) / rest)


def _criterion(gamma: float, data: _Blocked) -> float:
    rest = _rest(gamma, data)
    if not rest > 1e-22 * (data.y_within @ data.y_within + np.sum(data.runs * data.y_mean**2)):
        raise ValueError("values must vary within blocks beyond the design, found no such spread")
    information = np.linalg.slogdet(data.moment(data.shrink(gamma), 1))[1]
    return float(data.df * np.log(rest) + np.sum(np.log1p(gamma * data.runs)) + information)


def _variance_ratio(data: _Blocked) -> float:
    criteria = [_criterion(gamma, data) for gamma in RATIOS]
    best = int(np.argmin(criteria))
    if best == len(RATIOS) - 1:
        raise ValueError("values must vary within blocks, found next to no spread there")
    low, high = RATIOS[max(best - 1, 0)], RATIOS[best + 1]
    if _score(low, data) >= 0:  # the criterion rises from the left edge on: no block variance
        return 0.0
    return float(brentq(_score, low, high, args=(data,), xtol=1e-14, rtol=1e-13))


def _with_uncertainty(data: _Blocked, gamma: float, variance: float) -> BlockFit:
    """Work out Kenward and Roger's terms; all are first taken for a residual variance of one."""
    n, u = data.runs, data.shrink(gamma)
    one, two, three = (data.moment(u, power) for power in (1, 2, 3))
    plain = np.asarray(np.linalg.inv(one), dtype=np.float64)
    # X'W^aZZ'W^bX, with Z'W^aX = N u^a times the means.
    mixed = {power: data.between(n**2 * u**power) for power in (2, 3)}
    thrice = data.between(n**3 * u**3)
    information = 0.5 * _traces(data, u, plain, (mixed[2], mixed[3], two, three))
    spread = np.linalg.inv(information)
    p = [-mixed[2], -two]
    q = [[thrice, mixed[3]], [mixed[3], three]]
    inflation = np.zeros_like(plain)
    for i in range(2):
        for j in range(2):
            inflation += spread[i, j] * (q[i][j] - p[i] @ plain @ p[j])
    return BlockFit(
        coefficients=np.asarray(plain @ data.right(u), dtype=np.float64),
        covariance=variance * (plain + 2 * plain @ inflation @ plain),
        block_variance=gamma * variance,
        residual_variance=variance,
        plain_covariance=variance * plain,
        slopes=np.array([-plain @ part @ plain for part in p]),
        variance_covariance=np.asarray(variance**2 * spread, dtype=np.float64),
    )


def _traces(data: _Blocked, u: FloatArray, plain: FloatArray, parts: tuple[FloatArray, ...]) -> FloatArray:
    """Give tr(PV_iPV_j) of the two parts of the covariance, ZZ' and the unit matrix."""
    n, (mixed_two, mixed_three, two, three) = data.runs, parts
    thrice = data.between(n**3 * u**3)
    g, h = plain @ mixed_two, plain @ two
    block = np.sum((n * u) ** 2) - 2 * np.trace(plain @ thrice) + np.trace(g @ g)
    both = np.sum(n * u**2) - 2 * np.trace(plain @ mixed_three) + np.trace(g @ h)
    within = np.sum(n - 1 + u**2) - 2 * np.trace(plain @ three) + np.trace(h @ h)
    return np.array([[block, both], [both, within]])


def kenward_roger(fit: BlockFit, weights: ArrayLike) -> tuple[float, float, float]:
    r"""Estimate a linear combination of the coefficients, with its standard error and degrees of freedom.

    .. math:: \nu = \frac{2 \, (w'\Phi w)^2}{g' V g}, \quad g_i = w' \frac{\partial \Phi}{\partial
    \sigma_i^2} w

    with :math:`\Phi` the plain covariance and V the covariance of the two variance estimates. For a single
    combination Kenward and Roger's scale factor is one and their degrees of freedom are these
    (Satterthwaite's form); the standard error is from their adjusted covariance.

    Parameters
    ----------
    fit : BlockFit
        The fitted model.
    weights : array_like, shape (k,)
        Weight of each coefficient [-].

    Returns
    -------
    estimate : float
        In the unit of the values.
    standard_error : float
        In the unit of the values.
    df : float
        Degrees of freedom [-].

    References
    ----------
    Kenward and Roger, Biometrics 53 (1997) 983-997, with one contrast. The example is Davies' dyestuff yields
    (R package lme4).

    Examples
    --------
    >>> y = [1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    ...      1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445]
    >>> fit = fit_random_block(y, np.ones((30, 1)), [run // 5 for run in range(30)])
    >>> [round(number, 4) for number in kenward_roger(fit, [1.0])]
    [1527.5, 19.3834, 5.0]
    """
    w = finite_vector(weights, "weights")
    variance = float(w @ fit.plain_covariance @ w)
    gradient = np.array([w @ slope @ w for slope in fit.slopes])
    df = 2 * variance**2 / float(gradient @ fit.variance_covariance @ gradient)
    return float(w @ fit.coefficients), float(np.sqrt(w @ fit.covariance @ w)), df


def fit_groups(groups: Mapping[str, ArrayLike], blocks: Mapping[str, Sequence[object]]) -> BlockFit:
    """Fit groups with one random block.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, in one unit.
    blocks : mapping of str to sequence
        Block of each value.

    Returns
    -------
    BlockFit
        One coefficient a group, in the order of the mapping.

    Raises
    ------
    ValueError
        If the block variance cannot be estimated.

    References
    ----------
    See :func:`pinscar.stats.blocks.fit_random_block`.

    Examples
    --------
    >>> logs = {"A": [1.0, 2.1, 3.2, 4.6], "B": [1.3, 2.6, 3.4, 5.2]}
    >>> fit_groups(logs, {"A": [1, 2, 3, 4], "B": [1, 2, 3, 4]}).coefficients.round(6)
    array([2.725, 3.125])
    """
    design, values, labels = _stacked(groups, blocks)
    return fit_random_block(values, design, labels)


def contrasts_with_reference(
    fit: BlockFit, names: Sequence[str], reference: str, confidence: float = 0.95, step: float = 0.0
) -> dict[str, Contrast]:
    """Compare the groups of a block fit with the reference, at one joint confidence.

    Parameters
    ----------
    fit : BlockFit
        From :func:`fit_groups`.
    names : sequence of str
        The groups, in the order of the coefficients.
    reference : str
        The group that the others are compared with.
    confidence : float
        Joint confidence of all intervals [-].
    step : float
        Step of the readings in the unit of the values, 0 where unknown: the spread within blocks counts as no
        smaller than rounding can hide.

    Returns
    -------
    dict of str to Contrast
        Each subject minus the reference, with adjusted p.

    Raises
    ------
    ValueError
        If the reference is missing.

    References
    ----------
    Hothorn, Bretz and Westfall, Biometrical Journal 50 (2008) 346-363; rounding:
    :mod:`pinscar.stats.estimates`.

    Examples
    --------
    >>> logs = {"A": [1.0, 2.1, 3.2, 4.6], "B": [1.3, 2.6, 3.4, 5.2]}
    >>> fit = fit_groups(logs, {"A": [1, 2, 3, 4], "B": [1, 2, 3, 4]})
    >>> round(contrasts_with_reference(fit, ["A", "B"], "A")["B"].df, 6)
    3.0
    """
    if reference not in names:
        raise ValueError(f"reference must be one of the groups, found {reference!r}")
    subjects = [name for name in names if name != reference]
    weights = np.array([[(n == s) - float(n == reference) for n in names] for s in subjects])
    covariance = weights @ fit.covariance @ weights.T
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    check_confidence(confidence)
    return {
        subject: _contrast(fit, row, correlation, confidence, step)
        for subject, row in zip(subjects, weights, strict=True)
    }


def _contrast(
    fit: BlockFit,
    weights: NDArray[np.float64],
    correlation: NDArray[np.float64],
    confidence: float,
    step: float,
) -> Contrast:
    estimate, error, df = kenward_roger(fit, weights)
    critical = joint_critical_value(correlation, df, confidence)
    within = fit.residual_variance
    error *= float(np.sqrt(least_variance(within, step) / within))
    shift = 2.0 * rounding_shift(float(np.sqrt(within)), step)
    return joint_contrast(estimate, error, df, correlation, critical, "two-sided", shift)
