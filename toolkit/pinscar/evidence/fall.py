"""A level, a fall and a plateau, fitted by likelihood: when the fall ended, and how surely."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
Curve = Callable[[FloatArray, float], FloatArray]
"""Share of the fall that is left at times [s], given the end of the fall [s]."""

_MOST_ENDS = 600
_ENDS_A_READING, _MOST_CLOSER = 4, 160  # the end of a step may lie anywhere between two readings
_LEAST_POINTS = 8
_UNCORRELATED, _CORRELATED_OVER = 0.05, 4
_GROWTH = 1.25
_UNSEEN = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
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
        Standard deviation about the fit, of a value of middling spread [unit of the values].
    slope : float
        How the plateau drifts [unit of the values a second].
    independent : float
        Share of the values that count as independent [1].
    """

    end: float
    low: float
    high: float
    start: float
    drop: float
    plateau: float
    deviance: float
    scatter: float
    slope: float
    independent: float


@dataclass(frozen=True, slots=True)
class _Shape:
    """How a fall goes: its whole length [s], its power, and the share left when it counts as ended."""

    length: float
    power: float
    settled: float

    def start(self, end: FloatArray) -> FloatArray:
        return np.asarray(end + self._tail() - self.length)

    def at(self, time: FloatArray, ends: FloatArray) -> FloatArray:
        """Return the fall at each time, a row for each end."""
        if self.length == 0.0:
            return (time < ends[:, None]).astype(np.float64)
        left = np.clip((ends[:, None] + self._tail() - time) / self.length, 0.0, 1.0)
        return np.asarray(left if self.power == 1.0 else left**self.power, dtype=np.float64)

    def _tail(self) -> float:
        return float(self.length * self.settled ** (1.0 / self.power))


@dataclass(frozen=True, slots=True)
class _Given:
    """A way to fall that the caller gave, from the first value on."""

    curve: Curve
    first: float
    length: float = 0.0

    def start(self, end: FloatArray) -> FloatArray:
        return np.full(np.shape(end), self.first)

    def at(self, time: FloatArray, ends: FloatArray) -> FloatArray:
        """Return the fall at each time, a row for each end."""
        return np.array([self.curve(time, float(end)) for end in ends]).reshape(ends.size, time.size)


def fit_fall(
    time: ArrayLike,
    value: ArrayLike,
    *,
    longest_fall: float,
    drift: bool = False,
    powers: tuple[float, ...] = (1.0,),
    settled: float = 0.0,
    curves: tuple[Curve, ...] = (),
    spread: ArrayLike | None = None,
    edge: float = 0.0,
    between: tuple[float, float] | None = None,
    confidence: float = 0.95,
    stiffness: float = 0.0,
    floor: float = 0.0,
) -> Fall | None:
    """Fit a level, a fall, and a plateau.

    The values are taken as ``y = a + b t + c r(t)`` plus normal errors, where ``r`` is 1 before the fall, 0
    after it, and between ``u^p``, with u going straight from 1 to 0; b is zero unless a drift is asked for.
    For every end of the fall on a grid, falls from a step up to `longest_fall`, and every power p, the best
    a, b and c follow by least squares. The likelihood ``SSE^(-(m - k)/2)``, with k for the
    values integrated out (level, drift, drop), over that grid, summed over the shapes
    of the fall and normalised, gives median and interval of the end. (For a change point the usual limits by
    chi-squared do not hold.) m is the number of values, made smaller where neighbours resemble one another:
    ``m = n / (1 + 2 sum rho_k)`` with rho_k the correlation of residuals k apart, up to the first that is
    under 0.05.

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
    powers : tuple of float
        Powers p that are tried; above 1 the fall slows down towards its end [1].
    settled : float
        Share of the fall that may be left when it counts as ended [1].
    curves : tuple of callable
        Further ways to fall, tried beside the powers: ``curve(time, end)`` gives r. They begin with the
        first value.
    spread : array_like, optional
        Relative standard deviation of each value, where they differ [any unit]; equal without it.
    edge : float
        Least time between the end of the fall and either end of the values [s].
    between : tuple of float, optional
        Where the end is sought [s]; everywhere without it.
    confidence : float
        Confidence of the interval [-].
    stiffness : float
        What a drift over the whole time costs: its square times that, squared, is added to the sum of
        squares, as if the drift had been seen to be zero with that much less scatter [1].
    floor : float
        Scatter that the values are known to have, however well a fit goes through them [unit of the values].

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
    wide = np.ones(t.shape) if spread is None else np.asarray(spread, dtype=np.float64)
    t, y, weight = t[there], y[there], 1.0 / wide[there]
    ends = _ends(t, edge, between)
    if t.size < _LEAST_POINTS or ends.size < 2:
        return None
    step = float(ends[1] - ends[0])
    given = [_Given(curve, float(t[0])) for curve in curves]
    shapes: list[_Shape | _Given] = [*_shapes(step, longest_fall, powers, settled), *given]
    weight = weight / np.sqrt(np.mean(weight**2)) if t.size else weight
    gains, slopes, free, remains = _least_squares(t, y, weight, ends, shapes, drift, stiffness)
    sse = max(float(np.dot(remains, remains)), np.finfo(float).tiny)
    best = np.unravel_index(int(np.argmax(gains)), gains.shape)
    if not gains[best] > 0:
        return None
    end, shape, drop = float(ends[best[0]]), shapes[best[1]], float(slopes[best])
    curve = shape.at(t, np.array([end]))[0]
    residual = remains - drop * (free @ np.append(weight * curve, 0.0))
    least = max(float(np.dot(residual, residual)), 1e-12 * sse)
    baseline_size = 2 if drift else 1
    effective = t.size * _independent_share(residual[:-1])
    known = t.size * floor**2
    power = 0.5 * max(effective - baseline_size - 1, 1.0)  # level, drift and drop are integrated out
    likelihood = np.exp(-power * np.log((np.maximum(sse - gains, least) + known) / (least + known)))
    weights = np.where(gains > 0, likelihood, 0.0).sum(axis=1)
    low, middle, high = _quantiles(ends, weights, step, confidence)
    line = np.polynomial.Polynomial.fit(t, y - drop * curve, 1 if drift else 0, w=weight)
    about = float(np.sqrt(least / max(t.size - 4, 1)))
    deviance = float(effective * np.log(sse / least))
    return Fall(
        end=middle,
        low=low,
        high=high,
        start=float(shape.start(ends[best[0]])),
        drop=drop,
        plateau=float(line(middle)),
        deviance=deviance,
        scatter=about,
        slope=float(line.deriv()(middle)),
        independent=effective / t.size,
    )


def _ends(time: FloatArray, edge: float, between: tuple[float, float] | None) -> FloatArray:
    if time.size < 2:
        return np.empty(0)
    first, last = float(time[0]) + edge, float(time[-1]) - edge
    if between is not None:
        first, last = max(first, between[0]), min(last, between[1])
        here = int(np.count_nonzero((time >= first) & (time <= last)))
        count = min(_ENDS_A_READING * (here + 1), _MOST_CLOSER)
        return np.linspace(first, last, count) if last > first else np.empty(0)
    count = min(time.size, _MOST_ENDS)
    return np.linspace(first, last, count) if last > first else np.empty(0)


def _shapes(step: float, longest: float, powers: tuple[float, ...], settled: float) -> list[_Shape]:
    """List a step, and falls from one step in time to the longest, each with every power."""
    count = 1 + int(np.ceil(np.log(max(longest / step, 1.0)) / np.log(_GROWTH)))
    lengths = np.geomspace(step, longest, count).tolist() if longest >= step else []
    return [_Shape(0.0, 1.0, 0.0)] + [_Shape(float(one), p, settled) for one in lengths for p in powers]


def _least_squares(
    t: FloatArray,
    y: FloatArray,
    weight: FloatArray,
    ends: FloatArray,
    shapes: list[_Shape | _Given],
    drift: bool,
    stiffness: float,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Fit every fall: gain in squares and height, after taking out what the baseline explains of both.

    The last row is that of the stiffness: a drift that was seen to be zero.
    """
    along = (t - t.mean()) / np.ptp(t)
    baseline = np.column_stack([np.ones_like(t), along] if drift else [np.ones_like(t)])
    stiff = np.append(np.zeros(baseline.shape[1] - 1), stiffness if drift else 0.0)
    whole = np.linalg.qr(np.vstack([weight[:, None] * baseline, stiff]))[0]
    free = np.eye(t.size + 1) - whole @ whole.T
    remains = free @ np.append(weight * y, 0.0)
    basis, left = whole[:-1], remains[:-1]
    gains, slopes = np.empty((2, ends.size, len(shapes)))
    for column, shape in enumerate(shapes):
        # What the baseline explains of a fall is taken out of its square; what remains of the values holds
        # nothing of the baseline anyway.
        falls = shape.at(t, ends) * weight
        explained = falls @ basis
        square = np.einsum("ij,ij->i", falls, falls) - np.einsum("ij,ij->i", explained, explained)
        dot = falls @ left
        # If the fall began well before the first value, its height was not recorded.
        usable = (square > 1e-9 * t.size) & (shape.start(ends) >= t[0] - _UNSEEN * shape.length)
        slopes[:, column] = np.where(usable, dot / np.where(usable, square, 1.0), 0.0)
        gains[:, column] = np.where(slopes[:, column] > 0, slopes[:, column] * dot, 0.0)
    return gains, slopes, free, remains


def _independent_share(residual: FloatArray) -> float:
    """Give the share of values that count as independent, by the correlation of residuals."""
    square = float(np.dot(residual, residual))
    if square == 0.0:
        return 1.0
    total = 0.0
    for apart in range(1, max(residual.size // _CORRELATED_OVER, 2)):
        correlation = float(np.dot(residual[apart:], residual[:-apart])) / square
        if correlation < _UNCORRELATED:
            break
        total += correlation
    return 1.0 / (1.0 + 2.0 * total)


def _quantiles(
    ends: FloatArray, weights: FloatArray, step: float, confidence: float
) -> tuple[float, float, float]:
    """Quantiles of a density that is flat over the step about each end."""
    edges = np.concatenate([ends - 0.5 * step, [ends[-1] + 0.5 * step]])
    share = np.concatenate([[0.0], np.cumsum(weights) / np.sum(weights)])
    tail = 0.5 * (1.0 - confidence)
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], share, edges)
    return float(low), float(middle), float(high)
