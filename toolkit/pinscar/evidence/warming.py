"""How warm a run became: start, peak, rise and greatest heating rate, from a trace of the temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from pinscar.evidence.readings import Gap, find_gaps, lone_spikes, longest_step, scatter

FloatArray = NDArray[np.float64]

LEAST_SPIKE = 2.0
"""A lone reading must stand out by that to be left out [K]."""

BEFORE = 60.0
"""Readings of that long before the run tell the temperature that it starts from [s]."""

OPENING = 1.0
"""Without any, those of that long at its beginning do [s]."""

WINDOW = 5.0
"""The heating rate is that of a straight line through the readings of that long [s]."""

_ENOUGH_FOR_A_LINE = 8
_FEWEST_IN_WINDOW = 4
_WIDEST_SHARE = 0.25
_RIVAL = 4.0  # what lies so many of its standard deviations below the greatest may be the greatest in truth
_INDEPENDENT = 0.05  # lines whose beginnings lie that share of their length apart count as independent
_ONE_SIGMA = 0.6827


@dataclass(frozen=True, slots=True)
class HeatingRate:
    """The greatest heating rate of a run.

    Parameters
    ----------
    value : float
        Slope of the straight line [K/s].
    uncertainty : float
        Its standard uncertainty from the scatter of the readings, that of choosing the steepest of several
        lines included [K/s]; NaN where that is not known.
    time : float
        Middle of the window [s].
    window : float
        Length of the window [s].
    """

    value: float
    uncertainty: float
    time: float
    window: float


@dataclass(frozen=True, slots=True)
class Warming:
    """How warm a run became.

    Parameters
    ----------
    start : float
        Temperature that the run starts from [K].
    start_uncertainty : float
        Its standard uncertainty from the scatter of the readings and, where it is a mean, from how much the
        temperature changed from there to the beginning [K]; NaN where that is not known.
    before : int
        Readings before the run that it comes from; 0 where it is the mean of the opening [1].
    peak : float
        Highest reading, lone spikes left out [K].
    peak_uncertainty : float
        Its standard uncertainty from the scatter of the readings, that of choosing the highest of several
        included [K]; NaN where that is not known.
    time_of_peak : float
        When it was first met [s].
    scatter : float
        Standard deviation of one reading [K]; NaN where that is not known.
    rate : HeatingRate or None
        Greatest heating rate; None where the readings are too sparse.
    spikes : int
        Lone spikes that were left out [1].
    gaps : tuple of tuple of float
        Gaps within the run [s].
    """

    start: float
    start_uncertainty: float
    before: int
    peak: float
    peak_uncertainty: float
    time_of_peak: float
    scatter: float
    rate: HeatingRate | None
    spikes: int
    gaps: tuple[Gap, ...]

    @property
    def rise(self) -> float:
        """Peak less start [K]."""
        return self.peak - self.start

    @property
    def rise_uncertainty(self) -> float:
        """Standard uncertainty of the rise from the scatter of the readings [K]."""
        return float(np.hypot(self.peak_uncertainty, self.start_uncertainty))


def read_warming(time: ArrayLike, temperature: ArrayLike, duration: float) -> Warming:
    r"""Read start, peak, rise and greatest heating rate off a trace of the temperature.

    The start is where a straight line through the readings of the last minute before the run meets its
    beginning, so that a bath or a pin that still warms up does not count as a rise; with fewer than eight
    such readings it is their mean, and without any the mean of the run's opening second. Single readings
    that stand out from both neighbours by 2 K and by six times the scatter are left out. The heating rate
    is the steepest of all straight lines through 5 s of readings (four median steps, where those are
    longer), none across a gap.

    The highest of many scattered readings, and the steepest of many lines through them, lie above the true
    ones. Nothing is taken off for that, but the uncertainty takes it in: it is how far the greatest of n
    independent errors stays from zero in 68 % of the cases, :math:`\sigma\,\Phi^{-1}(0.68^{1/n})`, n being
    the readings within four standard deviations of the highest, or the lines that close to the steepest.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising, 0 at the beginning of the run.
    temperature : array_like
        Temperature of the pin or the oil [K], same length; missing readings are left out.
    duration : float
        Length of the run [s].

    Returns
    -------
    Warming
        Start, peak, rise, heating rate, and what was left out.

    Raises
    ------
    ValueError
        Times do not rise, or fewer than two readings lie within the run.

    References
    ----------
    Own definitions. Scatter and spikes: `scatter`, `lone_spikes`. Uncertainty of a mean and of a line:
    JCGM 100:2008, 4.2.3 and H.3. Greatest of n independent errors: H. A. David and H. N. Nagaraja, Order
    Statistics, 3rd ed., 2003, section 2.1; n for lines that overlap was set by simulation.

    Examples
    --------
    >>> found = read_warming([0, 1, 30, 60], [293.0, 293.0, 341.0, 338.0], 60.0)
    >>> found.rise, found.time_of_peak, found.rate
    (48.0, 30.0, None)
    """
    t, y = _there(time, temperature, duration)
    spikes = lone_spikes(t, y, LEAST_SPIKE)
    t, y = t[~spikes], y[~spikes]
    sigma = scatter(t, y)
    inside = t >= 0.0
    if np.count_nonzero(inside) < 2:
        raise ValueError(f"fewer than two readings lie within the run of {duration:.4g} s")
    hottest = int(np.argmax(y[inside]))
    rivals = int(np.count_nonzero(y[inside] >= y[inside][hottest] - _RIVAL * sigma))
    start, start_uncertainty, before = _start(t, y, sigma)
    return Warming(
        start,
        start_uncertainty,
        before,
        float(y[inside][hottest]),
        sigma * _greatest_error(max(rivals, 1)),
        float(t[inside][hottest]),
        sigma,
        _greatest_rate(t[inside], y[inside], duration, sigma),
        int(np.count_nonzero(spikes)),
        find_gaps(t, 0.0, duration),
    )


def _there(time: ArrayLike, temperature: ArrayLike, duration: float) -> tuple[FloatArray, FloatArray]:
    t, y = np.asarray(time, dtype=np.float64), np.asarray(temperature, dtype=np.float64)
    if t.ndim != 1 or t.shape != y.shape:
        raise ValueError(f"time and temperature must be two rows of equal length, found {t.shape}, {y.shape}")
    seen = np.isfinite(t) & np.isfinite(y)
    if np.any(np.diff(t[seen]) <= 0):
        raise ValueError("time must rise from reading to reading")
    seen &= (t >= -BEFORE) & (t <= duration)
    return t[seen], y[seen]


def _start(t: FloatArray, y: FloatArray, sigma: float) -> tuple[float, float, int]:
    before = int(np.count_nonzero(t < 0.0))
    chosen = t < 0.0 if before else t <= t[0] + OPENING
    middle, mean, count = float(np.mean(t[chosen])), float(np.mean(y[chosen])), int(np.count_nonzero(chosen))
    near = chosen if count > 1 else np.arange(t.size) < 2
    x = t[near] - np.mean(t[near])
    square = float(np.sum(x**2))
    slope = float(np.sum(x * y[near])) / square
    uncertainty = sigma * np.sqrt(1.0 / count + middle**2 / square)
    if before >= _ENOUGH_FOR_A_LINE:
        return mean - slope * middle, float(uncertainty), before
    return mean, float(np.hypot(uncertainty, slope * middle)), before


def _greatest_error(count: float) -> float:
    """Tell how far the greatest of so many independent errors stays from zero in 68 % of the cases."""
    return max(1.0, float(ndtri(_ONE_SIGMA ** (1.0 / count))))


def _greatest_rate(t: FloatArray, y: FloatArray, duration: float, sigma: float) -> HeatingRate | None:
    """Fit a line from every reading on; running sums do it for all of them at once."""
    window = max(WINDOW, _FEWEST_IN_WINDOW * float(np.median(np.diff(t))))
    if window > _WIDEST_SHARE * duration:
        return None
    first = np.arange(t.size)
    last = np.searchsorted(t, t + window * (1.0 + 1e-9), side="right") - 1
    count = last - first + 1.0
    middle = float(np.mean(t))  # sums of small numbers lose no digits
    x, z = t - middle, y - float(np.mean(y))
    sums = [np.concatenate([[0.0], np.cumsum(one)]) for one in (x, z, x * x, x * z)]
    sx, sz, sxx, sxz = (one[last + 1] - one[first] for one in sums)
    square = sxx - sx**2 / count
    torn = np.concatenate([[0], np.cumsum(np.diff(t) > longest_step(t, 0.0, duration))])
    usable = (count >= _FEWEST_IN_WINDOW) & (torn[last] == torn[first])
    usable &= (t[last] - t >= 0.75 * window) & (square > 0.0)
    if not usable.any():
        return None
    slopes = np.where(usable, (sxz - sx * sz / count) / np.where(usable, square, 1.0), -np.inf)
    best = int(np.argmax(slopes))
    at = 0.5 * float(t[best] + t[last[best]])
    error = sigma / np.sqrt(square[best])
    rivals = slopes >= slopes[best] - _RIVAL * error
    apart = 1.0 + float(np.sum(np.diff(t, append=t[-1])[rivals])) / (_INDEPENDENT * window)
    lines = max(min(float(np.count_nonzero(rivals)), apart), 1.0)
    return HeatingRate(float(slopes[best]), float(error * _greatest_error(lines)), at, window)
