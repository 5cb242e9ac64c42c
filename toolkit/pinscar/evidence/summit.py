"""The highest value of a smooth course from its scattered, spaced readings: local parabolas that widen.

A parabola through a few readings about the highest one follows it closely and scatters; one through many is
calm and may cut it off. The width grows as long as the wider ones agree with all narrower ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_WIDTHS = (1, 2, 3, 5, 8, 12, 18, 27, 40, 60, 90)
_AGREE = 2.5  # a wider fit may lie that many standard deviations of a narrower one from it
_CHOSEN = 1.4  # the fit is that about the highest of many readings: it scatters by more than a fit alone
_BETWEEN = 0.5  # of the second difference, or of the way beyond the last reading: how far a course may bend
_APART = 1.2  # of the change between neighbouring widths: what the width decides
_BACK = 1.5  # of the way back to a moment before the readings: a course that slows down began steeper


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

    About the highest reading, parabolas are laid through 1, 2, 3, 5, 8 ... readings on either side. The
    widest is sought that lies, as all before it do, within 2.5 standard deviations of each narrower one, and
    the next narrower one is taken. Its highest value within the readings that it goes through is the
    summit; where they reach the last reading, up to the end of the run, since a course that still rises is
    highest there. Its uncertainty is made of 1.4 times the fit's own standard deviation, 1.2 times what a
    width more or less changes, half of the second difference of the three readings about it (a corner
    between two readings stands above them), and half of the way beyond the last reading.

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
    100:2008, H.3. The shares were set by simulation.

    Examples
    --------
    >>> time = np.arange(0.0, 60.0)
    >>> noisy = 340.0 - 0.02 * (time - 30.3) ** 2 + np.random.default_rng(1).normal(0.0, 0.2, 60)
    >>> found = summit(time, noisy, 0.2, 60.0)
    >>> f"{found.value:.1f} +- {found.uncertainty:.1f}"
    '340.0 +- 0.1'
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
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


def value_at(time: ArrayLike, values: ArrayLike, sigma: float, at: float) -> Estimate:
    """Estimate the value of a course at a moment beside its readings, by lines that widen.

    Straight lines through the 2, 3, 5, 8 ... readings nearest to it are followed to the moment; the width
    is chosen as for the `summit`. 1.5 times the way from the nearest reading is added to the uncertainty, as
    a course may bend on it.

    Parameters
    ----------
    time : array_like
        Times [s], rising, none missing, at least two.
    values : array_like
        Readings, same length, none missing [any unit].
    sigma : float
        Standard deviation of one reading [unit of the values]; NaN where it is not known.
    at : float
        The moment [s].

    Returns
    -------
    Estimate
        The value then.

    References
    ----------
    As for `summit`.

    Examples
    --------
    >>> round(value_at([2.0, 4.0, 6.0], [301.0, 302.0, 303.0], 0.1, 0.0).value, 6)
    300.0
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    near = np.argsort(np.abs(t - at), kind="stable")
    noise = sigma if np.isfinite(sigma) else 0.0
    kept: list[Estimate] = []
    for width in _WIDTHS[1:]:
        some = near[:width]
        basis = np.vander(t[some] - at, 2)
        inverse = np.linalg.pinv(basis)
        value, spread = float(inverse[1] @ y[some]), noise * float(np.linalg.norm(inverse[1]))
        if any(abs(value - other.value) > _AGREE * other.uncertainty for other in kept):
            break
        kept.append(Estimate(value, spread, at))
        if width >= t.size:
            break
    best = kept[-1]
    way = _BACK * abs(best.value - float(y[near[0]]))
    return Estimate(
        best.value, float(np.hypot(best.uncertainty, way)) if np.isfinite(sigma) else float("nan"), at
    )
