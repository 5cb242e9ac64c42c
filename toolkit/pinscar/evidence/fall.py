"""When a quantity that falls has come down to its plateau: two levels joined by a ramp, by likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_MOST_ENDS = 600
_LEAST_POINTS = 8
_MOST_CORRELATED = 0.95


@dataclass(frozen=True, slots=True)
class Fall:
    """A fitted fall.

    Parameters
    ----------
    end : float
        When the plateau is reached: median of the normalised likelihood [s].
    low, high : float
        Its interval [s].
    start : float
        When the fall begins, in the most likely fit [s].
    drop : float
        Height of the fall in the most likely fit [unit of the values].
    plateau : float
        Value of the plateau when the fall ends [unit of the values].
    deviance : float
        Twice the gain in log-likelihood over a fit without a fall [1].
    scatter : float
        Standard deviation about the fit [unit of the values].
    """

    end: float
    low: float
    high: float
    start: float
    drop: float
    plateau: float
    deviance: float
    scatter: float


def fit_fall(
    time: ArrayLike,
    value: ArrayLike,
    *,
    longest_fall: float,
    drift: bool = False,
    edge: float = 0.0,
    confidence: float = 0.95,
) -> Fall | None:
    """Fit a level, a fall along a straight ramp, and a plateau.

    The values are taken as ``y = a + b t + c r(t)`` plus normal errors, where ``r`` is 1 before the fall, 0
    after it and straight between; b is zero unless a drift is asked for. For every end of the fall on a
    grid, and falls from a step up to `longest_fall`, the best a, b and c follow by least squares; the
    likelihood ``SSE^(-m/2)`` over that grid, summed over the lengths of fall and normalised, gives median
    and interval of the end. (For a change point the usual limits by chi-squared do not hold.) m is the
    number of values, made smaller for neighbours that resemble one another:
    ``m = n (1 - rho) / (1 + rho)`` with rho the correlation of neighbouring residuals.

    Parameters
    ----------
    time : array_like
        Times [s], rising, as irregular as they are.
    value : array_like
        Values [any unit]; NaN where missing.
    longest_fall : float
        Longest fall that is tried [s].
    drift : bool
        Whether the baseline may drift along a straight line.
    edge : float
        Least time between the end of the fall and either end of the values [s].
    confidence : float
        Confidence of the interval.

    Returns
    -------
    Fall or None
        The fit; None where there are fewer than eight values, no room, or nothing falls.

    References
    ----------
    Hinkley, "Inference about the change-point in a sequence of random variables", Biometrika 57, 1970
    (likelihood of a change point); the ramp and the flat weights are an own derivation. Effective number of
    correlated values: Bayley and Hammersley, J. R. Stat. Soc. Suppl. 8, 1946.

    Examples
    --------
    >>> time = np.arange(0.0, 60.0, 0.5)
    >>> noise = np.random.default_rng(1).normal(0.0, 0.5, time.size)
    >>> fall = fit_fall(time, np.where(time < 30.0, 6.0, 0.0) + noise, longest_fall=5.0)
    >>> round(fall.drop), bool(fall.low <= 30.0 <= fall.high)
    (6, True)
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(value, dtype=np.float64)
    there = np.isfinite(t) & np.isfinite(y)
    t, y = t[there], y[there]
    ends = _ends(t, edge)
    if t.size < _LEAST_POINTS or ends.size < 2:
        return None
    step = float(ends[1] - ends[0])
    lengths = np.unique(np.concatenate([[0.0], step * 2.0 ** np.arange(0, 12)]))
    lengths = lengths[lengths <= longest_fall]
    gains, slopes, free, remains = _least_squares(t, y, ends, lengths, drift)
    sse = max(float(np.dot(remains, remains)), np.finfo(float).tiny)
    best = np.unravel_index(int(np.argmax(gains)), gains.shape)
    if not gains[best] > 0:
        return None
    end, length, drop = float(ends[best[0]]), float(lengths[best[1]]), float(slopes[best])
    residual = remains - drop * (free @ _ramp(t, end, length))
    least = max(float(np.dot(residual, residual)), 1e-12 * sse)
    effective = t.size * _independent_share(residual)
    likelihood = np.exp(-0.5 * effective * np.log(np.maximum(sse - gains, least) / least))
    weights = np.where(gains > 0, likelihood, 0.0).sum(axis=1)
    low, middle, high = _quantiles(ends, weights, step, confidence)
    line = np.polynomial.Polynomial.fit(t, y - drop * _ramp(t, end, length), 1 if drift else 0)
    scatter = float(np.sqrt(least / max(t.size - 4, 1)))
    deviance = float(effective * np.log(sse / least))
    return Fall(middle, low, high, end - length, drop, float(line(middle)), deviance, scatter)


def _ends(time: FloatArray, edge: float) -> FloatArray:
    if time.size < 2:
        return np.empty(0)
    first, last = float(time[0]) + edge, float(time[-1]) - edge
    count = min(time.size, _MOST_ENDS)
    return np.linspace(first, last, count) if last > first else np.empty(0)


def _ramp(time: FloatArray, end: float, length: float) -> FloatArray:
    if length == 0.0:
        return (time < end).astype(np.float64)
    return np.clip((end - time) / length, 0.0, 1.0)


def _least_squares(
    t: FloatArray, y: FloatArray, ends: FloatArray, lengths: FloatArray, drift: bool
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Fit every ramp: gain in squares and height, after taking out what the baseline explains of both."""
    baseline = np.column_stack([np.ones_like(t), t - t.mean()] if drift else [np.ones_like(t)])
    basis = np.linalg.qr(baseline)[0]
    free = np.eye(t.size) - basis @ basis.T
    remains = free @ y
    gains, slopes = np.empty((2, ends.size, lengths.size))
    for column, length in enumerate(lengths):
        ramps = np.array([_ramp(t, float(end), float(length)) for end in ends])
        ramps -= (ramps @ basis) @ basis.T
        square = np.einsum("ij,ij->i", ramps, ramps)
        dot = ramps @ remains
        usable = square > 1e-9 * t.size
        slopes[:, column] = np.where(usable, dot / np.where(usable, square, 1.0), 0.0)
        gains[:, column] = np.where(slopes[:, column] > 0, slopes[:, column] * dot, 0.0)
    return gains, slopes, free, remains


def _independent_share(residual: FloatArray) -> float:
    square = float(np.dot(residual, residual))
    if square == 0.0:
        return 1.0
    correlation = float(np.dot(residual[1:], residual[:-1])) / square
    rho = min(max(correlation, 0.0), _MOST_CORRELATED)
    return (1.0 - rho) / (1.0 + rho)


def _quantiles(
    ends: FloatArray, weights: FloatArray, step: float, confidence: float
) -> tuple[float, float, float]:
    """Quantiles of a density that is flat over the step about each end."""
    edges = np.concatenate([ends - 0.5 * step, [ends[-1] + 0.5 * step]])
    share = np.concatenate([[0.0], np.cumsum(weights) / np.sum(weights)])
    tail = 0.5 * (1.0 - confidence)
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], share, edges)
    return float(low), float(middle), float(high)
