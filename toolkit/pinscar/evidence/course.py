"""The course that readings of a temperature follow: its highest value, and what it began with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import median_filter
from scipy.special import ndtr

FloatArray = NDArray[np.float64]

FASTEST = 8.0
"""A pin may warm and cool that fast; a spike that is slower, between slow readings, may be true [K/s]."""

DENSE = 1.5
"""Readings that far apart, or less, meet a true peak more than once [s]."""

_NEAR, _STRAY = 5, 2.5  # readings about one, and standard deviations that it may lie from their median
_WIDTHS = (1, 2, 3, 5, 8, 12, 18, 27, 40, 60, 90)
_AGREE = 2.5  # a wider fit may lie that many standard deviations of a narrower one from it
_BETWEEN = 0.5  # of the second difference, or of the way beyond the last reading: how far a course may bend
_CHOSEN = 1.4  # a course that levels off is highest where its readings scatter upwards
_APART = 1.2  # of the change between neighbouring widths: what the width decides
_FIRST = (5, 8, 12, 18, 27, 40)  # readings that the start is followed back from
_TIME_CONSTANTS = 24
_MOST_DECAYED = 30.0  # of what has fallen by that many powers of e nothing is seen
_HEAT_KNOWN = 1.0 / np.sqrt(3.0)  # of the way back: heat not seen is anything from none to twice that seen
_LEAST_NOISE = 1e-3  # no reading of a temperature is surer [K]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty, and where in time it was met.

    Parameters
    ----------
    value : float
        The value [unit of the readings].
    uncertainty : float
        Its standard uncertainty [unit of the readings].
    time : float
        When it was met [s].
    """

    value: float
    uncertainty: float
    time: float


def summit(time: ArrayLike, values: ArrayLike, sigma: float, end: float) -> Estimate:
    r"""Estimate the highest value of a course.

    Readings up to 1.5 s apart are first drawn in to 2.5 standard deviations from the median of the five about
    them, since the highest of many is a stray one more often than not. About the highest, parabolas are laid
    through 1, 2, 3, 5, 8 ... readings on either side. The widest is sought that lies, as all before it do,
    within 2.5 standard deviations of each narrower one, and the next narrower one is taken. Its highest value
    within the readings that it goes through is the summit; where they reach the last reading, up to the end
    of the run, since a course that still rises is highest there. Its uncertainty is made of 1.4 times the
    fit's own standard deviation, 1.2 times what a width more or less changes, half of the second difference
    of the three readings about it (a corner between two readings stands above them), and half of the way
    beyond the last reading.

    Parameters
    ----------
    time : array_like
        Times [s], rising, none missing, at least two.
    values : array_like
        Readings, same length, none missing [any unit].
    sigma : float
        Standard deviation of one reading [unit of the values]; NaN where it is not known.
    end : float
        Until when the course may go on after the last reading [s].

    Returns
    -------
    Estimate
        The summit; the highest reading, and NaN for its uncertainty, where `sigma` is not known.

    References
    ----------
    Choice of the width: O. V. Lepski, On a problem of adaptive estimation in Gaussian white noise, Theory
    Probab. Appl. 35, 1990; A. Goldenshluger and A. Nemirovski, On spatially adaptive estimation of
    nonparametric regression, Math. Methods Stat. 6, 1997 (for local polynomials). Least squares: JCGM
    100:2008, H.3. The limits were set by simulation.

    Examples
    --------
    >>> time = np.arange(0.0, 60.0)
    >>> noisy = 340.0 - 0.02 * (time - 30.3) ** 2 + np.random.default_rng(1).normal(0.0, 0.2, 60)
    >>> found = summit(time, noisy, 0.2, 60.0)
    >>> f"{found.value:.1f} +- {found.uncertainty:.2f}"
    '340.0 +- 0.06'
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if np.isfinite(sigma) and t.size >= _NEAR and float(np.median(np.diff(t))) <= DENSE:
        near = median_filter(y, size=_NEAR, mode="nearest")
        y = np.clip(y, near - _STRAY * sigma, near + _STRAY * sigma)
    top = int(np.argmax(y))
    if not np.isfinite(sigma):
        return Estimate(float(y[top]), float("nan"), float(t[top]))
    noise = sigma
    kept: list[Estimate] = []
    for width in _WIDTHS:
        low, high = max(top - width, 0), min(top + width + 1, t.size)
        one = _highest(t[low:high], y[low:high], noise, end if high == t.size else float(t[high - 1]))
        if any(abs(one.value - other.value) > _AGREE * other.uncertainty for other in kept):
            break
        kept.append(one)
        if high - low == t.size:
            break
    best = kept[max(len(kept) - 2, 0)]
    change = max(abs(best.value - other.value) for other in kept[-3:])
    beyond = best.value - float(np.max(y[-3:])) if best.time > t[-1] else 0.0
    parts = [
        _CHOSEN * best.uncertainty,
        _APART * change,
        _BETWEEN * _bend(t, y, top, noise),
        _BETWEEN * beyond,
    ]
    return Estimate(best.value, float(np.linalg.norm(parts)), best.time)


def _highest(t: FloatArray, y: FloatArray, sigma: float, end: float) -> Estimate:
    """Fit a parabola, or a line where there is too little for one, and find its highest value."""
    order = 2 if t.size > 3 or (t.size == 3 and y[1] >= max(y[0], y[2])) else min(1, t.size - 1)
    middle, scale = float(np.mean(t)), max(float(np.ptp(t)), np.finfo(float).tiny)
    x, last = (t - middle) / scale, (end - middle) / scale
    basis = np.vander(x, order + 1)
    inverse = np.linalg.pinv(basis)
    fit = inverse @ y
    places = [float(x[0]), last]
    if order == 2 and fit[0] < 0.0:
        places.append(float(np.clip(-0.5 * fit[1] / fit[0], x[0], last)))
    heights = [float(np.polyval(fit, place)) for place in places]
    best = int(np.argmax(heights))
    weights = np.vander([places[best]], order + 1) @ inverse
    spread = sigma * float(np.linalg.norm(weights))
    return Estimate(heights[best], spread, middle + scale * places[best])


def _bend(t: FloatArray, y: FloatArray, top: int, sigma: float) -> float:
    """Second difference about a reading, as far as it is more than scatter."""
    if not 0 < top < t.size - 1:
        return 0.0
    share = (t[top + 1] - t[top]) / (t[top + 1] - t[top - 1])
    off = float(y[top] - share * y[top - 1] - (1.0 - share) * y[top + 1])
    return max(off - 3.0 * sigma, 0.0)


def start_before(time: ArrayLike, values: ArrayLike, sigma: float) -> Estimate:
    r"""Estimate what a course that warms up began with at time zero, from readings later on.

    A body that is heated comes to rest along exponentials: through the first 5, 8, 12 ... readings goes
    :math:`a + b t + c\,e^{-t/\tau}`, for every :math:`\tau` of a grid from half a step of the readings to
    their span; the most readings are taken that one of these follows within their scatter. No :math:`\tau` is
    chosen: each gives a value at zero, and they weigh by their likelihood times the spread of that value
    which scatter leaves (the density of c, flat before the readings, is integrated). A :math:`\tau` shorter
    than the readings can tell stays in, as far as the course does not begin faster than a pin warms up, 8
    K/s. The heat before the readings isn't seen: metal rubs more than a film. So the way back is taken as
    uniform between none and twice of it, and what a width more changes is added.

    Parameters
    ----------
    time : array_like
        Times [s], rising from zero or later, none missing, at least two.
    values : array_like
        Readings, same length, none missing [K].
    sigma : float
        Standard deviation of one reading [K]; NaN where it is not known.

    Returns
    -------
    Estimate
        The value at zero, and its standard uncertainty: NaN where `sigma` is not known; then, and with fewer
        than five readings, a straight line through the first two tells the value.

    References
    ----------
    Lumped heat capacities: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 1959.
    Mean over models: J. A. Hoeting et al., Bayesian model averaging, Statistical Science 14, 1999. Grid and
    limits: own choices.

    Examples
    --------
    >>> time = np.arange(3.0, 60.0)
    >>> found = start_before(time, 330.0 - 30.0 * np.exp(-time / 10.0), 0.01)
    >>> f"{found.value:.1f} +- {found.uncertainty:.1f}"
    '300.0 +- 4.5'
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if not np.isfinite(sigma) or t.size < _FIRST[0]:
        line = float(y[0] - (y[1] - y[0]) / (t[1] - t[0]) * t[0])
        doubt = abs(y[0] - line) / np.sqrt(3.0)
        return Estimate(line, float("nan") if not np.isfinite(sigma) else float(np.hypot(doubt, sigma)), 0.0)
    noise = max(sigma, _LEAST_NOISE)
    told = [_from_exponentials(t[: _FIRST[0]], y[: _FIRST[0]], noise)[0]]
    for count in _FIRST[1:]:
        if count > t.size:
            break
        wider, misfit = _from_exponentials(t[:count], y[:count], noise)
        if misfit > count - 3 + 2.0 * np.sqrt(2.0 * count):
            break
        told.append(wider)
    best = told[-1]
    apart = best.value - told[-2].value if len(told) > 1 else 0.0
    doubt = _HEAT_KNOWN * abs(float(y[0]) - best.value)
    at_most = FASTEST * float(t[0]) / np.sqrt(3.0)
    return Estimate(best.value, min(float(np.linalg.norm([best.uncertainty, apart, doubt])), at_most), 0.0)


def _from_exponentials(t: FloatArray, y: FloatArray, noise: float) -> tuple[Estimate, float]:
    """Average the value at zero over time constants, and give the least sum of squares over the variance."""
    pace, span = float(np.min(np.diff(t))), float(t[-1])
    found = []
    for tau in np.geomspace(0.5 * pace, span, _TIME_CONSTANTS).tolist():
        basis = np.column_stack([np.ones(t.size), t, np.exp(-(t - t[0]) / tau)])
        inverse = np.linalg.pinv(basis)
        fit = inverse @ y
        square = float(np.sum((y - basis @ fit) ** 2)) / noise**2
        # c e^(-t/tau) at zero is c e^(t0/tau); by then it may rise as fast as a pin warms up
        at_zero = np.array([1.0, 0.0, np.exp(min(t[0] / tau, _MOST_DECAYED))])
        spread = noise * float(np.linalg.norm(at_zero @ inverse))
        value = float(at_zero @ fit)
        coldest = float(y[0]) - FASTEST * min(tau, float(t[0]))
        found.append((*_within(value, spread, coldest, float(y[0]) + 3.0 * noise), square))
    value, spread, weight, square = np.array(found).T
    least = float(np.min(square))
    weight = weight * np.exp(-0.5 * (square - least))
    if np.sum(weight) <= 0.0:
        return Estimate(float(y[0]), float(FASTEST * t[0] / np.sqrt(3.0)), 0.0), least
    weight = weight / np.sum(weight)
    middle = float(weight @ value)
    return Estimate(middle, float(np.sqrt(weight @ (spread**2 + (value - middle) ** 2))), 0.0), least


def _within(value: float, spread: float, low: float, high: float) -> tuple[float, float, float]:
    """Give mean, standard deviation and weight of a normal density cut off at both ends."""
    a, b = (low - value) / spread, (high - value) / spread
    share = float(ndtr(b) - ndtr(a))
    if share < 1e-12:
        return min(max(value, low), high), spread, 0.0
    density = [float(np.exp(-0.5 * one**2) / np.sqrt(2.0 * np.pi)) for one in (a, b)]
    shift = (density[0] - density[1]) / share
    ends = (a * density[0] if np.isfinite(a) else 0.0) - (b * density[1] if np.isfinite(b) else 0.0)
    variance = max(1.0 + ends / share - shift**2, 0.0)
    return value + spread * shift, spread * float(np.sqrt(variance)), share
