"""A linear model of log values with random effects of batches and of campaigns, uncensored."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int_]
LOG_2PI = float(np.log(2.0 * np.pi))
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
