"""Comparisons in random blocks (days, rings): REML fit with Kenward-Roger standard errors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from pinscar.stats.checks import check_confidence, finite_vector
from pinscar.stats.pairwise import Contrast
from pinscar.stats.rounding import least_variance, rounding_shift
from pinscar.stats.simultaneous import joint_contrast, joint_critical_value

FloatArray = NDArray[np.float64]
RATIOS = np.concatenate([[0.0], np.logspace(-5, 8, 66)])  # block variance over residual variance


@dataclass(frozen=True, slots=True)
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


def indicator_columns(labels: Sequence[object]) -> FloatArray:
    """Turn labels into one column of zeros and ones for each distinct label.

    Parameters
    ----------
    labels : sequence, length n
        One label per run.

    Returns
    -------
    ndarray, shape (n, k)
        Columns in the order in which the labels first appear.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> indicator_columns(["mon", "tue", "mon"])
    array([[1., 0.],
           [0., 1.],
           [1., 0.]])
    """
    distinct = list(dict.fromkeys(labels))
    return np.array([[float(label == column) for column in distinct] for label in labels])


def blocks_separable(design: FloatArray, blocks: Sequence[object]) -> bool:
    """Whether the data can tell the spread between blocks from the spread within them.

    They cannot where each block holds one run, where there is one block, or where the blocks are confounded
    with the columns of the design, such as one day for each lubricant.

    Parameters
    ----------
    design : ndarray, shape (n, k)
        Design matrix of full column rank [-].
    blocks : sequence, length n
        Label of each run's block.

    Returns
    -------
    bool
        True where both variances can be estimated.

    References
    ----------
    Own derivation: the expected REML information of the two variances is regular.

    Examples
    --------
    >>> blocks_separable(np.ones((4, 1)), ["mon", "mon", "tue", "tue"])
    True
    >>> blocks_separable(indicator_columns(["A", "A", "B", "B"]), ["mon", "mon", "tue", "tue"])
    False
    """
    n, k = design.shape
    if n <= k:
        return False
    z = indicator_columns(blocks)
    residual_maker = np.eye(n) - design @ np.linalg.pinv(design)
    inner = z.T @ residual_maker @ z
    both, block, residual = float(np.sum(inner * inner)), float(np.trace(inner)), float(n - k)
    return bool(both * residual - block**2 > 1e-9 * both * residual and block > 1e-9)


def fit_random_block(values: ArrayLike, design: ArrayLike, blocks: Sequence[object]) -> BlockFit:
    r"""Fit a linear model with one random block by restricted maximum likelihood.

    With :math:`y = X\beta + Z b + e` and :math:`\gamma = \sigma_b^2/\sigma^2` the restricted likelihood is
    profiled over :math:`\beta` and :math:`\sigma^2`, and its score in :math:`\gamma`,

    .. math:: \mathrm{tr}(Z'PZ) - (n-k) \, \frac{y'PZZ'Py}{y'Py}, \quad
        P = W - WX(X'WX)^{-1}X'W, \; W = (I + \gamma ZZ')^{-1}

    is set to zero by Brent's method inside the bracket that a grid over :math:`\gamma` finds best. Where the
    likelihood is highest at :math:`\gamma = 0` the block variance is zero exactly.

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
    z = indicator_columns(blocks)
    shift = np.asarray(np.linalg.lstsq(x, y, rcond=None)[0], dtype=np.float64)
    y = y - x @ shift  # changes only the coefficients, and spares the digits of small spreads
    gamma = _variance_ratio(y, x, z)
    weight = _inverse(gamma, z)
    projector = _projector(weight, x)
    residual_variance = float(y @ projector @ y) / (y.size - x.shape[1])
    fit = _with_uncertainty(y, x, z, gamma * residual_variance, residual_variance)
    return replace(fit, coefficients=fit.coefficients + shift)


def _inverse(gamma: float, z: FloatArray) -> FloatArray:
    shrink = gamma / (1 + gamma * z.sum(axis=0))
    return np.asarray(np.eye(z.shape[0]) - (z * shrink) @ z.T, dtype=np.float64)


def _projector(weight: FloatArray, x: FloatArray) -> FloatArray:
    wx = weight @ x
    return np.asarray(weight - wx @ np.linalg.solve(x.T @ wx, wx.T), dtype=np.float64)


def _score(gamma: float, y: FloatArray, x: FloatArray, z: FloatArray) -> float:
    projector = _projector(_inverse(gamma, z), x)
    py = projector @ y
    between = z.T @ py
    trace = float(np.sum((projector @ z) * z))
    return float(trace - (y.size - x.shape[1]) * (between @ between) / (y @ py))


def _criterion(gamma: float, y: FloatArray, x: FloatArray, z: FloatArray) -> float:
    weight = _inverse(gamma, z)
    rest = float(y @ _projector(weight, x) @ y)
    if not rest > 1e-22 * float(y @ y):
        raise ValueError("values must vary within blocks beyond the design, found no such spread")
    determinants = np.sum(np.log1p(gamma * z.sum(axis=0))) + np.linalg.slogdet(x.T @ weight @ x)[1]
    return float((y.size - x.shape[1]) * np.log(rest) + determinants)


def _variance_ratio(y: FloatArray, x: FloatArray, z: FloatArray) -> float:
    criteria = [_criterion(gamma, y, x, z) for gamma in RATIOS]
    best = int(np.argmin(criteria))
    if best == len(RATIOS) - 1:
        raise ValueError("values must vary within blocks, found next to no spread there")
    low, high = RATIOS[max(best - 1, 0)], RATIOS[best + 1]
    if _score(low, y, x, z) >= 0:  # the criterion rises from the left edge on: no block variance
        return 0.0
    return float(brentq(_score, low, high, args=(y, x, z), xtol=1e-14, rtol=1e-13))


def _with_uncertainty(
    y: FloatArray, x: FloatArray, z: FloatArray, block_variance: float, residual_variance: float
) -> BlockFit:
    inverse = _inverse(block_variance / residual_variance, z) / residual_variance
    plain = np.asarray(np.linalg.inv(x.T @ inverse @ x), dtype=np.float64)
    projector = _projector(inverse, x)
    parts = [z @ z.T, np.eye(y.size)]
    moved = [projector @ part for part in parts]
    information = np.array([[0.5 * np.sum(a * b.T) for b in moved] for a in moved])
    spread = np.linalg.inv(information)
    left = [inverse @ part @ inverse @ x for part in parts]
    p = [-(x.T @ column) for column in left]
    inflation = np.zeros_like(plain)
    for i in range(2):
        for j in range(2):
            q = x.T @ inverse @ parts[i] @ left[j]
            inflation += spread[i, j] * (q - p[i] @ plain @ p[j])
    covariance = plain + 2 * plain @ inflation @ plain
    slopes = np.array([-plain @ part @ plain for part in p])
    coefficients = plain @ x.T @ inverse @ y
    return BlockFit(coefficients, covariance, block_variance, residual_variance, plain, slopes, spread)


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


def separable(groups: Mapping[str, ArrayLike], blocks: Mapping[str, Sequence[object]]) -> bool:
    """Whether the data can tell the spread between blocks from the groups and from the spread within blocks.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, in any unit.
    blocks : mapping of str to sequence
        Block of each value.

    Returns
    -------
    bool
        False where groups and blocks are confounded, there is one block, or each block holds one run.

    References
    ----------
    Own derivation: see :func:`pinscar.stats.blocks.blocks_separable`.

    Examples
    --------
    >>> days = {"A": ["mon", "tue"], "B": ["mon", "tue"]}
    >>> separable({"A": [1.0, 2.0], "B": [3.0, 4.5]}, days)
    True
    >>> separable({"A": [1.0, 2.0], "B": [3.0, 4.5]}, {"A": ["mon"] * 2, "B": ["tue"] * 2})
    False
    """
    design, _, labels = _stacked(groups, blocks)
    return blocks_separable(design, labels)


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
    :mod:`pinscar.stats.rounding`.

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


def _stacked(
    groups: Mapping[str, ArrayLike], blocks: Mapping[str, Sequence[object]]
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[object]]:
    vectors = {name: finite_vector(values, name) for name, values in groups.items()}
    for name, vector in vectors.items():
        if len(blocks.get(name, ())) != vector.size:
            raise ValueError(f"blocks must have one label per value of {name!r} ({vector.size})")
    names = [name for name, vector in vectors.items() for _ in range(vector.size)]
    labels = [label for name in vectors for label in blocks[name]]
    return indicator_columns(names), np.concatenate(list(vectors.values())), labels


BLANK = ("", "nan", "none", "nat", "<na>")
