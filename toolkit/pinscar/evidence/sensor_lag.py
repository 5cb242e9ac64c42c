"""How far a sensor lags behind the pin, from the friction that heats it: what its readings lack at a peak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import nnls
from scipy.signal import lfilter

FloatArray = NDArray[np.float64]
Span = tuple[float, float]

_BODY = (
    0.7,
    1.0,
    1.5,
    2.2,
    3.3,
    4.9,
    7.3,
    10.9,
    16.0,
    24.0,
    40.0,
    70.0,
    200.0,
)  # time constants of the pin and what holds it [s]
_LAGS = (0.0, 0.4, 0.8, 1.3, 1.8, 2.4, 3.2, 4.1, 5.2, 6.6, 8.3, 10.5, 13.0)  # those of the sensor [s]
_NO_LAG = 0.5  # share of belief, before any reading, that a sensor follows at once
_STEPS, _FINEST = 6000, 0.02  # of the grid that heat is followed on
_MOST, _FEWEST = 1500, 15  # readings
_FROM_MODEL = 0.4  # of a correction: the sum of exponentials is a model
_UNCORRELATED, _CORRELATED_OVER = 0.05, 4
_FITS = (
    1.8  # standard deviations of one reading: a course farther off is not that of a body that friction heats
)


@dataclass(frozen=True, slots=True)
class Lacking:
    """What readings lack, with its standard uncertainty.

    Parameters
    ----------
    value : float
        Temperature of the pin less that of its sensor [K].
    uncertainty : float
        Its standard uncertainty [K].
    """

    value: float
    uncertainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorLag:
    """How far a sensor lags behind.

    Parameters
    ----------
    time_constant, uncertainty : float
        Time constant of the sensor: mean and standard deviation of what the trace leaves open [s].
    peak : Lacking
        What lacks at the peak of the run.
    peaks, starts : tuple of Lacking
        What lacks at the peak and at the start of each load step.
    """

    time_constant: float
    uncertainty: float
    peak: Lacking
    peaks: tuple[Lacking, ...]
    starts: tuple[Lacking, ...]


def sensor_lag(
    time: ArrayLike,
    temperature: ArrayLike,
    force_time: ArrayLike,
    force: ArrayLike,
    spans: Sequence[Span],
    sigma: float,
) -> SensorLag | None:
    r"""Tell how far a temperature sensor lags behind the pin that friction heats.

    A body that is heated where its temperature is taken answers a stroke of heat with a sum of exponentials,
    none of them negative, whatever masses and resistances it is made of. A sensor of time constant
    :math:`\tau_s` makes of each :math:`e^{-t/\tau}` the course :math:`(\tau e^{-t/\tau} - \tau_s
    e^{-t/\tau_s}) / (\tau - \tau_s)`, which begins at zero: where the load comes on, the readings start off
    level and not steep. For each :math:`\tau_s` of a grid from none to 13 s, the slower ones of the
    exponentials (0.7 to 200 s; a body and a sensor may change places, and the body is taken to be the slower
    one) that the friction force drives, a level and a straight drift are fitted by non-negative least
    squares. They weigh by ``SSE^(-m/2)``, m being the number of readings that count as independent; half of
    the belief, before any reading, is on no lag at all. What the sensor lacks at a peak or at the start of a
    load step is the difference of the two courses, the mean over these weights; its uncertainty is their
    spread and 40 % of it.

    Parameters
    ----------
    time : array_like
        Times of the readings of the temperature [s], rising, none missing; 0 at the beginning of the run.
    temperature : array_like
        Readings, same length [K].
    force_time : array_like
        Times of the readings of the friction force [s], rising, none missing.
    force : array_like
        Friction force, its zero taken off, spikes left out [N].
    spans : sequence of tuple
        Start and end of each load step [s], the first starting at 0.
    sigma : float
        Standard deviation of one reading of the temperature [K].

    Returns
    -------
    SensorLag or None
        The lag; None where there are fewer than fifteen readings of either, no friction, or where no sum of
        exponentials goes through the readings within 1.8 standard deviations: then nothing is said of a lag.

    References
    ----------
    That a network of masses and resistances answers at its own node with a sum of positive exponentials: E.
    A. Guillemin, Synthesis of Passive Networks, 1957, on RC driving-point impedances (from memory).
    C. L. Lawson and R. J. Hanson, Solving Least Squares Problems, 1974, ch. 23. The weights: own choice.

    Examples
    --------
    A pin that warms by 30 K with 10 s, read by a sensor of 3 s; the load is raised after 30 s:

    >>> t = np.arange(-10.0, 60.0)
    >>> answer = lambda t: np.where(t > 0, 1 - (10 * np.exp(-t / 10) - 3 * np.exp(-t / 3)) / 7, 0.0)
    >>> read = 300.0 + 15.0 * (answer(t.clip(0)) + answer((t - 30).clip(0)))
    >>> inside = np.arange(0.0, 60.0)
    >>> force, steps = np.where(inside < 30, 40.0, 80.0), [(0.0, 30.0), (30.0, 60.0)]
    >>> lag = sensor_lag(t, read, inside, force, steps, 0.01)
    >>> bool(abs(lag.time_constant - 3.0) < 0.3)
    True
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(temperature, dtype=np.float64)
    end = float(spans[-1][1])
    t, y = _thinned(t[t <= end], y[t <= end])
    at, heat = np.asarray(force_time, dtype=np.float64), np.asarray(force, dtype=np.float64)
    inside = (at >= 0.0) & (at <= end)
    at, heat = at[inside], heat[inside]
    if min(t.size, at.size) < _FEWEST or not np.isfinite(sigma) or float(np.mean(heat)) <= 0.0:
        return None
    grid = np.linspace(0.0, end, min(_STEPS, max(int(end / _FINEST), 100)) + 1)
    courses = _courses(grid, _heat(grid, at, heat / float(np.mean(heat)), spans))
    found = [_fitted(t, y, grid, courses, lag) for lag in _LAGS]
    least = min(float(np.sqrt(np.mean(one.residual**2))) for one in found)
    return _told(found, t.size, sigma, grid, spans) if least <= _FITS * sigma else None


def _thinned(t: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Put means over equal spans of readings in the place of very many."""
    size = max(t.size // _MOST, 1)
    count = t.size // size * size
    return t[:count].reshape(-1, size).mean(axis=1), y[:count].reshape(-1, size).mean(axis=1)


def _heat(grid: FloatArray, at: FloatArray, force: FloatArray, spans: Sequence[Span]) -> FloatArray:
    """Give the force on the grid: straight between readings of one load step, held beside them."""
    heat = np.interp(grid, at, force)
    for low, high in spans:
        own = (at >= low) & (at < high)
        here = (grid >= low) & (grid < high)
        if own.any():
            heat[here] = np.interp(grid[here], at[own], force[own])
    return np.asarray(heat)


def _courses(grid: FloatArray, heat: FloatArray) -> dict[float, FloatArray]:
    """Follow the heat by each time constant, exactly for a heat that is held over a step of the grid."""
    step, courses = float(grid[1] - grid[0]), {0.0: heat}
    for tau in {*_BODY, *_LAGS} - {0.0}:
        decay = float(np.exp(-step / tau))
        courses[tau] = np.asarray(lfilter([0.0, 1.0 - decay], [1.0, -decay], heat))
    return courses


@dataclass(frozen=True, slots=True)
class _Fit:
    """A fit with one lag: residuals at the readings [K], and the rise of pin and sensor on the grid [K]."""

    residual: FloatArray
    pin: FloatArray
    sensor: FloatArray


def _fitted(
    t: FloatArray, y: FloatArray, grid: FloatArray, courses: dict[float, FloatArray], lag: float
) -> _Fit:
    slower = [tau for tau in _BODY if tau > lag]
    pins = np.array([courses[tau] for tau in slower])
    sensors = np.array([(tau * courses[tau] - lag * courses[lag]) / (tau - lag) for tau in slower])
    read = np.array([np.interp(t, grid, one, left=0.0) for one in sensors])
    drift = t / float(grid[-1])
    basis = np.column_stack([read.T, np.ones(t.size), -np.ones(t.size), drift, -drift])
    level = float(np.mean(y))
    weights, _ = nnls(basis, y - level)
    heated = weights[: len(slower)]
    return _Fit(y - level - basis @ weights, heated @ pins, heated @ sensors)


def _told(
    found: Sequence[_Fit], count: int, sigma: float, grid: FloatArray, spans: Sequence[Span]
) -> SensorLag:
    squares = np.array([float(np.dot(one.residual, one.residual)) for one in found])
    least = int(np.argmin(squares))
    known = 0.5 * count * sigma**2  # no fit goes through scattered readings for a reason
    power = 0.5 * count * _independent(found[least].residual)
    likelihood = np.exp(-power * np.log((squares + known) / (squares[least] + known)))
    belief = np.where(np.array(_LAGS) > 0.0, (1.0 - _NO_LAG) / (len(_LAGS) - 1), _NO_LAG)
    weights = likelihood * belief / float(np.sum(likelihood * belief))

    def lacking(values: Sequence[float]) -> Lacking:
        mean = float(weights @ values)
        spread = float(np.sqrt(weights @ (np.asarray(values) - mean) ** 2))
        return Lacking(mean, float(np.hypot(spread, _FROM_MODEL * mean)))

    def at_peak(low: float, high: float) -> Lacking:
        own = (grid >= low) & (grid <= high)
        return lacking([float(np.max(one.pin[own]) - np.max(one.sensor[own])) for one in found])

    def at_start(at: float) -> Lacking:
        place = int(np.searchsorted(grid, at))
        return lacking([float(one.pin[place] - one.sensor[place]) for one in found])

    mean = float(weights @ _LAGS)
    return SensorLag(
        time_constant=mean,
        uncertainty=float(np.sqrt(weights @ (np.array(_LAGS) - mean) ** 2)),
        peak=at_peak(0.0, float(grid[-1])),
        peaks=tuple(at_peak(*span) for span in spans),
        starts=tuple(at_start(low) for low, _ in spans),
    )


def _independent(residual: FloatArray) -> float:
    """Give the share of readings that count as independent, by the correlation of residuals."""
    square = float(np.dot(residual, residual))
    total = 0.0
    for apart in range(1, max(residual.size // _CORRELATED_OVER, 2)):
        correlation = float(np.dot(residual[apart:], residual[:-apart])) / square if square > 0.0 else 0.0
        if correlation < _UNCORRELATED:
            break
        total += correlation
    return 1.0 / (1.0 + 2.0 * total)
