"""Gaps of a trace, bridged by a straight line between the readings beside them, with what that may be off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.evidence.recorder import find_gaps, longest_step

FloatArray = NDArray[np.float64]

MOST_BRIDGED = 0.25
"""Gaps that together take up more of a run are not bridged [1]."""

_BESIDE = 5  # readings on a side of a gap that its level there comes from
_FEWEST_FOR_A_SLOPE = 3
_LEAST_PAIRS = 8


@dataclass(frozen=True, slots=True)
class Bridge:
    """A gap and the straight line over it.

    Parameters
    ----------
    start, end : float
        Ends of the gap [s].
    before, after : float
        Values that the line begins and ends with [unit of the values].
    uncertainty : float
        Standard uncertainty of the mean over the gap [unit of the values].
    """

    start: float
    end: float
    before: float
    after: float
    uncertainty: float

    def at(self, time: ArrayLike) -> FloatArray:
        """Give the line at times within the gap.

        Parameters
        ----------
        time : array_like
            Times [s].

        Returns
        -------
        ndarray of float
            Values of the line [unit of the values].

        References
        ----------
        Own definition: a straight line.

        Examples
        --------
        >>> Bridge(10.0, 20.0, 4.0, 2.0, 0.1).at([10.0, 15.0]).tolist()
        [4.0, 3.0]
        """
        return np.asarray(
            np.interp(np.asarray(time, dtype=np.float64), [self.start, self.end], [self.before, self.after])
        )


def bridges(time: ArrayLike, values: ArrayLike, start: float, end: float) -> tuple[Bridge, ...]:
    r"""Bridge the gaps of a trace.

    A gap within the run (`find_gaps`) gets a straight line between the median of the five readings before
    it and that of the five after; one at an end of the run is held at the line through the five readings
    beside it, half of whose slope is followed, since a fall slows down. A fall within a gap of length h may
    lie anywhere in it: the mean is then uniform between the two levels, with the standard uncertainty
    :math:`|b - a| / \sqrt{12}`. Where the levels agree, the trace's own wander tells it: the median size of
    its changes over that time, :math:`D(h)`, takes the place of :math:`|b - a|`. At an end of the run it
    is :math:`\sqrt{D(h)^2 / 3 + (0.35 s h)^2}`, s being the slope: only one side holds it.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit].
    start, end : float
        Ends of the run [s].

    Returns
    -------
    tuple of Bridge
        One for each gap; none at all where the gaps take up more than a quarter of the run.

    References
    ----------
    Uniform distribution: JCGM 100:2008, 4.3.7. A path that is held at both ends, and at one, has a mean
    over it with variances :math:`D^2 / 12` and :math:`D^2 / 3`, D being its standard deviation over the
    whole time: S. Karlin and H. M. Taylor, A First Course in Stochastic Processes, 2nd ed., 1975, ch. 7
    (Brownian motion and bridge; from memory). The rest is an own convention.

    Examples
    --------
    >>> time = np.concatenate([np.arange(0.0, 25.0), np.arange(35.0, 61.0)])
    >>> [one] = bridges(time, np.where(time < 30.0, 50.0, 38.0), 0.0, 60.0)
    >>> one.start, one.end, one.before, one.after, round(one.uncertainty, 2)
    (24.0, 35.0, 50.0, 38.0, 3.46)
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    inside = (t >= start) & (t <= end)
    t, y = t[inside], y[inside]
    gaps = find_gaps(t, start, end)
    if not gaps or t.size < 2 or sum(b - a for a, b in gaps) > MOST_BRIDGED * (end - start):
        return ()
    torn = np.concatenate([[0], np.cumsum(np.diff(t) > longest_step(t, start, end))])
    return tuple(_bridge(t, y, torn, gap) for gap in gaps)


def _bridge(t: FloatArray, y: FloatArray, torn: NDArray[np.int_], gap: tuple[float, float]) -> Bridge:
    long = gap[1] - gap[0]
    left, right = np.flatnonzero(t <= gap[0])[-_BESIDE:], np.flatnonzero(t >= gap[1])[:_BESIDE]
    wander = _wander(t, y, long)
    if left.size and right.size and t[left[-1]] >= gap[0] and t[right[0]] <= gap[1]:
        left, right = left[torn[left] == torn[left[-1]]], right[torn[right] == torn[right[0]]]
        before, after = float(np.median(y[left])), float(np.median(y[right]))
        return Bridge(*gap, before, after, float(max(abs(after - before), wander) / np.sqrt(12.0)))
    near = left if left.size else right
    level, slope = _line(t[near], y[near], gap[0] if left.size else gap[1])
    way = 0.5 * slope * long if left.size else -0.5 * slope * long
    ends = (level, level + way) if left.size else (level + way, level)
    return Bridge(*gap, *ends, float(np.hypot(wander / np.sqrt(3.0), 0.35 * slope * long)))


def _line(t: FloatArray, y: FloatArray, at: float) -> tuple[float, float]:
    """Give the value of a straight line at a moment, and its slope."""
    if t.size < _FEWEST_FOR_A_SLOPE:
        return float(np.mean(y)), 0.0
    slope, level = np.polyfit(t - at, y, 1)
    return float(level), float(slope)


def _wander(t: FloatArray, y: FloatArray, long: float) -> float:
    """Median size of the changes over so long a time, as a standard deviation."""
    later = np.interp(t + long, t, y)
    there = t + long <= t[-1]
    if np.count_nonzero(there) < _LEAST_PAIRS:
        return 0.5 * float(np.ptp(y))
    return 1.4826 * float(np.median(np.abs(later - y)[there]))


@dataclass(frozen=True, slots=True)
class MeanOver:
    """A mean over a span of time.

    Parameters
    ----------
    mean : float
        The mean [unit of the values].
    uncertainty : float
        Its standard uncertainty from scatter, spacing and bridged gaps [unit of the values].
    """

    mean: float
    uncertainty: float


def mean_over(
    time: ArrayLike, values: ArrayLike, start: float, end: float, over: tuple[Bridge, ...] = ()
) -> MeanOver:
    r"""Give the mean of a trace over a span, with straight lines between readings and over its gaps.

    Readings on either side of the span tell its ends; beyond the first and the last reading the value is
    held. The uncertainty takes from each reading within the span the triangle :math:`d_i` between it and
    the line that joins its neighbours, as `friction_energy` does,
    :math:`u^2 = [(\sum d_i / 6)^2 + \frac{2}{3} \sum d_i^2] / T^2`, and of each gap its own.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit]; at least one.
    start, end : float
        Ends of the span [s].
    over : tuple of Bridge
        The gaps and their lines.

    Returns
    -------
    MeanOver
        The mean.

    References
    ----------
    Trapezoidal rule and its error: P. J. Davis and P. Rabinowitz, Methods of Numerical Integration, 2nd
    ed., 1984, section 2.1.

    Examples
    --------
    >>> mean_over([0.0, 10.0, 20.0], [1.0, 2.0, 3.0], 5.0, 15.0).mean
    2.0
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    outside = np.ones(t.shape, dtype=np.bool_)
    for one in over:
        outside &= (t <= one.start) | (t >= one.end)
    t, y = t[outside], y[outside]
    knots = np.concatenate([t, *([one.start, one.end] for one in over)])
    marks = np.unique(np.concatenate([[start, end], knots[(knots > start) & (knots < end)]]))
    left, right = marks[:-1], marks[1:]
    integral = float(np.sum(0.5 * (right - left) * (np.interp(left, t, y) + np.interp(right, t, y))))
    variance = 0.0
    for one in over:
        low, high = max(start, one.start), min(end, one.end)
        if high <= low:
            continue
        wide = high - low
        integral += wide * float(np.mean(one.at([low, high])) - np.mean(np.interp([low, high], t, y)))
        variance += (wide * one.uncertainty) ** 2
    inside = np.flatnonzero((t >= start) & (t <= end))
    inside = inside[(inside > 0) & (inside < t.size - 1)]
    for one in over:
        inside = inside[(t[inside] != one.start) & (t[inside] != one.end)]
    if inside.size:
        both = t[inside + 1] - t[inside - 1]
        share = (t[inside + 1] - t[inside]) / both
        d = 0.5 * both * (share * y[inside - 1] + (1.0 - share) * y[inside + 1] - y[inside])
        variance += float(np.sum(d) ** 2 / 36.0 + 2.0 / 3.0 * np.sum(d**2))
    variance += _held(t, y, start, end, over)
    return MeanOver(integral / (end - start), float(np.sqrt(variance)) / (end - start))


def _held(t: FloatArray, y: FloatArray, start: float, end: float, over: tuple[Bridge, ...]) -> float:
    """Give the variance of the integral where the value is held at an end of the run."""
    variance = 0.0
    for long, place, near in ((t[0] - start, start, slice(None, 3)), (end - t[-1], end, slice(-3, None))):
        if long > 0.0 and not any(one.start <= place <= one.end for one in over):
            slope = _line(t[near], y[near], place)[1]
            variance += (0.5 * slope * long**2) ** 2 + (float(np.std(y[near])) * long) ** 2
    return variance
