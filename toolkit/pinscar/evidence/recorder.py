"""Readings of a recorder, irregular in time: gaps and their bridges, scatter, which stand alone."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import median_filter

TO_SD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation [1]."""

_ENOUGH_FOR_A_STEP = 20_000  # readings
_FINEST = 1e-6  # a recorder does not round in steps below this share of the range


def robust_sd(deviations: ArrayLike) -> float:
    """Estimate a standard deviation from the median size of deviations.

    Parameters
    ----------
    deviations : array_like
        Deviations from the middle, of either sign [any unit]; at least one.

    Returns
    -------
    float
        Standard deviation [their unit].

    References
    ----------
    F. R. Hampel, The influence curve and its role in robust estimation, J. Am. Stat. Assoc. 69, 1974.

    Examples
    --------
    >>> robust_sd([-1.0, 1.0, 1.0, -1.0, 900.0])
    1.4826
    """
    return TO_SD * float(np.median(np.abs(deviations)))


def rounding_sd(readings: ArrayLike) -> float:
    """Give the standard deviation that rounding alone brings, from the step that all readings share.

    Parameters
    ----------
    readings : array_like
        Readings [any unit].

    Returns
    -------
    float
        The step over the root of 12 [their unit]; 0 where all readings are alike or share no step.

    References
    ----------
    JCGM 100:2008 (GUM), F.2.2.1.

    Examples
    --------
    >>> f"{rounding_sd([20.0, 20.5, 20.0, 21.0]):.4f}"
    '0.1443'
    """
    values = np.asarray(readings, dtype=np.float64)
    levels = np.unique(values[:: max(values.size // _ENOUGH_FOR_A_STEP, 1)])  # some of very many share it too
    finest = _FINEST * float(np.ptp(levels)) if levels.size else 0.0
    step = 0.0
    for one in np.diff(levels).tolist():  # Euclid's algorithm: 20.0, 20.5 and 21.2 are rounded to 0.1
        while one > finest:
            step, one = one, math.fmod(step, one)
        if 0.0 < step <= 2.0 * finest:
            return 0.0
    return step / math.sqrt(12.0)


FloatArray = NDArray[np.float64]
Gap = tuple[float, float]

GAP_SHARE = 0.05
"""Share of a run above which a step between two readings may be a gap [1]."""

GAP_STEPS = 3.0
"""It is one where it is also so many times as long as the median step [1]."""

SPIKE = 6.0
"""A lone reading stands out from both its neighbours by more than so many times the scatter [1]."""


LONGEST_SPIKE = 3
"""Up to so many wrong readings in a row are one spike [1]."""

WILD = 100.0
"""A reading so many times as large as the median size of its trace is an overflow, wherever it stands [1]."""

_LOCAL = 15  # readings that the scatter about a spike is taken from: rubbing metal jerks, a film does not

_GOES_ON = 0.3  # of the jump at either side of a spike, the next step beyond it has at most that share
_SPIKE_TIME, _MOST_IN_A_SPIKE, _MOST_OF_A_TRACE = 0.5, 30, 0.03
_FEWEST_FOR_AN_OVERFLOW = 3
_PASSES = 3

_FEWEST_FOR_SPIKES = 10  # each spike changes three of the differences whose median gives the scatter


def longest_step(time: ArrayLike, start: float, end: float) -> float:
    """Tell how far two readings may lie apart before the time between them counts as a gap.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising.
    start, end : float
        Ends of the run [s].

    Returns
    -------
    float
        The larger of a twentieth of the run and three median steps [s].

    References
    ----------
    Own convention.

    Examples
    --------
    >>> longest_step(np.arange(0.0, 61.0), 0.0, 60.0)
    3.0
    """
    times = np.asarray(time, dtype=np.float64)
    steps = np.diff(times[(times >= start) & (times <= end)])
    typical = float(np.median(steps)) if steps.size else 0.0
    return max(GAP_SHARE * (end - start), GAP_STEPS * typical)


def find_gaps(time: ArrayLike, start: float, end: float) -> tuple[Gap, ...]:
    """Find the gaps of a trace, those at the ends of the run included.

    Parameters
    ----------
    time : array_like
        Times of the readings that are there [s], rising.
    start, end : float
        Ends of the run [s].

    Returns
    -------
    tuple of tuple of float
        Beginning and end of each gap [s]; the whole run where there is no reading.

    References
    ----------
    Own convention: `longest_step`.

    Examples
    --------
    >>> find_gaps([0, 1, 2, 3, 10, 11, 12], 0.0, 20.0)
    ((3.0, 10.0), (12.0, 20.0))
    """
    times = np.asarray(time, dtype=np.float64)
    longest = longest_step(times, start, end)
    edges = np.concatenate([[start], times[(times >= start) & (times <= end)], [end]])
    wide = np.flatnonzero(np.diff(edges) > longest)
    return tuple((float(edges[one]), float(edges[one + 1])) for one in wide)


def scatter(time: ArrayLike, values: ArrayLike) -> float:
    r"""Estimate the scatter of readings about a smooth course, from how each lies between its neighbours.

    Each reading is set against the straight line between its neighbours; with weights a and b of the two,
    :math:`(a\,y_{i-1} + b\,y_{i+1} - y_i) / \sqrt{a^2 + b^2 + 1}` has the variance of one reading. The
    median of its size, not the mean square, is taken, so that spikes and jumps hardly count. Readings that
    are rounded scatter by no less than their step over the root of 12.

    Parameters
    ----------
    time : array_like
        Times [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit].

    Returns
    -------
    float
        Standard deviation of one reading [unit of the values]; NaN with fewer than five readings.

    References
    ----------
    T. Gasser, L. Sroka and C. Jennen-Steinmetz, Residual variance and residual pattern in nonlinear
    regression, Biometrika 73, 1986, 625-633 (the pseudo-residuals). JCGM 100:2008, F.2.2.1 (rounding).
    Median in place of the mean square: own choice, from memory.

    Examples
    --------
    >>> noisy = np.random.default_rng(1).normal(300.0, 0.2, 2000)
    >>> f"{scatter(np.arange(2000.0), noisy):.2f}"
    '0.20'
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if t.size < 5:
        return float("nan")
    a = (t[2:] - t[1:-1]) / (t[2:] - t[:-2])
    off = (a * y[:-2] + (1.0 - a) * y[2:] - y[1:-1]) / np.sqrt(a**2 + (1.0 - a) ** 2 + 1.0)
    return max(robust_sd(off), rounding_sd(y))


def lone_spikes(time: ArrayLike, values: ArrayLike, least: float) -> NDArray[np.bool_]:
    """Find single readings that stand out from both their neighbours, as a loose contact makes them.

    Parameters
    ----------
    time : array_like
        Times [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit].
    least : float
        Least height of a spike [unit of the values].

    Returns
    -------
    ndarray of bool
        True where a reading lies above both neighbours, or below both, by more than `least` and by more
        than six times the scatter. The first and the last reading have one neighbour and are never spikes,
        nor are two wrong readings in a row. With fewer than ten readings none can be told.

    References
    ----------
    Median of three, as in J. W. Tukey, Exploratory Data Analysis, 1977, ch. 7; the limits are own choices.

    Examples
    --------
    >>> np.flatnonzero(lone_spikes(np.arange(10.0), [20, 20, 95, 20, 20, 21, 21, 21, 21, 21], least=2.0))
    array([2])
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    found = np.zeros(y.shape, dtype=np.bool_)
    if t.size >= _FEWEST_FOR_SPIKES:
        middle = np.median([y[:-2], y[1:-1], y[2:]], axis=0)
        found[1:-1] = np.abs(y[1:-1] - middle) > max(least, SPIKE * scatter(t, y))
    return found


def short_spikes(
    time: ArrayLike, values: ArrayLike, least: float = 0.0, changes: ArrayLike = ()
) -> NDArray[np.bool_]:
    """Find a few readings in a row that stand out from the readings on both sides of them.

    A group is a spike where each of its readings lies above the medians of the three readings before and of
    the three after it, or below both, by more than six times the scatter thereabouts, and where it comes and
    goes at once: beside each of its two jumps, the next step on that side is under 0.3 of the jump (and a
    third of the limit). A step, a ramp, the end of a fall, and a load that comes on and then runs in, are
    none: they go over into one of their sides. What the course does over a gap, or where it is known to begin
    anew, is no such next step. Spikes that are found are taken out, and others sought once more. A group
    has up to three readings; where readings come faster, as many as half a second holds (30 at the most), as
    long as these longer ones take up under 3 % of all readings: more is the run and no fault of the cable.
    The two readings at either end are told only if they are an overflow: over a hundred times the median
    size of the trace.

    Parameters
    ----------
    time : array_like
        Times [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit].
    least : float
        Least height of a spike [unit of the values].
    changes : array_like
        Moments at which the course begins anew, as friction does when a load comes on [s].

    Returns
    -------
    ndarray of bool
        True for the readings of a spike; with fewer than ten readings only for an overflow. In normal
        scatter about a smooth course under one reading in 10 000 is told wrongly (by simulation).

    References
    ----------
    Own rule, after the running medians of J. W. Tukey, Exploratory Data Analysis, 1977, ch. 7.

    Examples
    --------
    >>> force = [35.0, 35.2, 34.9, 35.1, 90.0, 91.0, 35.0, 35.1, 20.0, 20.1, 19.9, 20.0, 20.2, 20.0]
    >>> np.flatnonzero(short_spikes(np.arange(14.0), force))
    array([4, 5])
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    wild = np.zeros(y.shape, dtype=np.bool_)
    if t.size >= _FEWEST_FOR_AN_OVERFLOW:
        wild |= np.abs(y) > WILD * float(np.median(np.abs(y)))
    if t.size < _FEWEST_FOR_SPIKES or wild.all():
        return wild
    found = wild
    for _ in range(_PASSES):
        rest = np.flatnonzero(~found)
        # a spike taken out must not widen the scatter of the rest
        more = _spikes_of(t[rest], y[rest], least, np.asarray(changes, dtype=np.float64))
        if rest.size < _FEWEST_FOR_SPIKES or not more.any():
            break
        found[rest[more]] = True
    return found


def _spikes_of(t: FloatArray, y: FloatArray, least: float, changes: FloatArray) -> NDArray[np.bool_]:
    limit = np.maximum(least, SPIKE * _local_scatter(t, y))
    short, long = np.zeros(t.shape, dtype=np.bool_), np.zeros(t.shape, dtype=np.bool_)
    steps, pace = np.diff(t), float(np.median(np.diff(t)))
    began = np.searchsorted(changes, t, side="right")
    free = (steps > GAP_STEPS * pace) | (np.diff(began) > 0)
    jumps = np.diff(y)
    # beside its jumps a spike needs one that is half of the limit; only those are looked at
    far = np.abs(jumps) > 0.5 * np.minimum(limit[1:], limit[:-1])
    seen = _Beside(y, limit, jumps, far, free, _median_of_three(y))
    for length in range(1, max(LONGEST_SPIKE, min(int(_SPIKE_TIME / pace), _MOST_IN_A_SPIKE)) + 1):
        _mark(short if length <= LONGEST_SPIKE else long, seen, length)
    return short | long if np.mean(long) < _MOST_OF_A_TRACE else short


def _median_of_three(y: FloatArray) -> FloatArray:
    """Give the running median of three; the first and the last value count twice."""
    wide = np.pad(y, 1, mode="edge")
    a, b, c = wide[:-2], wide[1:-1], wide[2:]
    return np.asarray(np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c)), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Beside:
    """Readings, what limits a spike, their jumps, which of those are far or free, and medians of three."""

    values: FloatArray
    limit: FloatArray
    jumps: FloatArray
    far: NDArray[np.bool_]
    free: NDArray[np.bool_]
    threes: FloatArray


def _mark(found: NDArray[np.bool_], seen: _Beside, length: int) -> None:
    """Mark the readings of every spike of so many readings; a step that is free is no sign of a course."""
    y, limit = seen.values, seen.limit
    count = y.size - length - 3  # two readings at either end have too little beside them
    if count < 1:
        return
    first = 2 + np.flatnonzero(seen.far[1 : 1 + count] & seen.far[1 + length : 1 + length + count])
    comes = np.abs(y[first] - y[first - 1]) > 0.5 * limit[first]
    goes = np.abs(y[first + length - 1] - y[first + length]) > 0.5 * limit[first]
    first = first[comes & goes]
    if first.size == 0:
        return
    last = first + length - 1
    before, after = seen.threes[first - 2], seen.threes[last + 2]
    groups = sliding_window_view(y, length)[first]
    room = sliding_window_view(limit, length)[first].max(axis=1)
    above = groups.min(axis=1) - np.maximum(before, after) > room
    below = np.minimum(before, after) - groups.max(axis=1) > room
    jumps = np.where(above, 1.0, -1.0) * [y[first] - y[first - 1], y[last] - y[last + 1]]
    beyond = [np.where(seen.free[at], 0.0, np.abs(seen.jumps[at])) for at in (first - 2, last + 1)]
    at_once = np.all(np.array(beyond) <= _GOES_ON * jumps + room / 3.0, axis=0)
    for one in first[(above | below) & at_once].tolist():
        found[one : one + length] = True


def _local_scatter(t: FloatArray, y: FloatArray) -> FloatArray:
    """Scatter about each reading, no less than that of the whole trace."""
    a = (t[2:] - t[1:-1]) / (t[2:] - t[:-2])
    off = np.abs(a * y[:-2] + (1.0 - a) * y[2:] - y[1:-1]) / np.sqrt(a**2 + (1.0 - a) ** 2 + 1.0)
    padded = np.concatenate([off[:1], off, off[-1:]])
    # the wider window is there for two spikes and a step close together
    near = [median_filter(padded, size=size, mode="nearest") for size in (_LOCAL, 3 * _LOCAL)]
    return np.asarray(np.maximum(TO_SD * np.minimum(*near), scatter(t, y)), dtype=np.float64)


MOST_BRIDGED = 0.25
"""Gaps that together take up more of a run are not bridged [1]."""

_BESIDE = 5  # readings on a side of a gap that its slope there comes from
_LEVEL = 3  # readings on a side of a gap that its level there comes from
_FEWEST_FOR_A_SLOPE = 3
_LEAST_PAIRS = 8
_STEEPER = 2.0  # a fall is steeper before what was seen of it: so many times the slope there
_HOLE, _MOST_HOLES = 1.5, 40  # times the median step


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


def bridges(
    time: ArrayLike, values: ArrayLike, start: float, end: float, changes: ArrayLike = ()
) -> tuple[Bridge, ...]:
    r"""Bridge the gaps of a trace.

    A gap within the run (`find_gaps`) gets a straight line between the median of the three readings before
    it and that of the three after; one at an end of the run is held at the line through the five readings
    beside it, half of whose slope is followed, since a fall slows down. A fall within a gap of length h may
    lie anywhere in it: the mean is then uniform between the two levels, with the standard uncertainty
    :math:`|b - a| / \sqrt{12}`. Where the levels agree, the trace's own wander tells it: the median size of
    its changes over that time, :math:`D(h)`, takes the place of :math:`|b - a|`. At an end of the run it
    is :math:`\sqrt{D(h)^2 / 3 + (0.35 s h)^2}`, s being the slope: only one side holds it.

    Where the course begins anew, as friction does when a load comes on, nothing joins the two sides of that
    moment: a gap over it is bridged in parts, each by the readings of its own side. The side of a part that
    no reading tells takes the level that the course had at that place, at its beginning or at its end, where
    it was seen to begin or to end otherwise in the run (the mean of those levels).

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit].
    start, end : float
        Ends of the run [s].
    changes : array_like
        Moments at which the course begins anew [s].

    Returns
    -------
    tuple of Bridge
        One for each gap, or part of one; none at all where the gaps take up more than a quarter of the run.

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
    anew = np.unique(np.asarray(changes, dtype=np.float64))
    anew = anew[(anew > start) & (anew < end)]
    steps = list(pairwise([start, *anew.tolist(), end]))
    longest = longest_step(t, start, end)
    course = _Course(t, y, np.cumsum(np.diff(t, prepend=t[0]) > longest), longest, steps)
    parts = [(max(a, low), min(b, high), step) for a, b in gaps for step in steps for low, high in [step]]
    return tuple(_bridge(course, (a, b), step) for a, b, step in parts if b > a)


@dataclass(frozen=True, slots=True)
class _Course:
    """Readings, the number of the torn piece that each belongs to, and the steps that the run falls into."""

    time: FloatArray
    values: FloatArray
    piece: NDArray[np.int_]
    longest: float
    steps: list[tuple[float, float]]

    def beside(self, at: float, step: tuple[float, float], *, before: bool) -> NDArray[np.int_]:
        """Find up to five readings of a step next to a moment, not torn from one another."""
        own = (self.time >= step[0]) & ((self.time < step[1]) | (step[1] == self.steps[-1][1]))
        if before:
            near = np.flatnonzero(own & (self.time <= at))[-_BESIDE:]
            return near[self.piece[near] == self.piece[near[-1]]] if near.size else near
        near = np.flatnonzero(own & (self.time >= at))[:_BESIDE]
        return near[self.piece[near] == self.piece[near[0]]] if near.size else near

    def elsewhere(self, step: tuple[float, float], *, beginning: bool) -> float | None:
        """Give the level at which the other steps begin, or end, as far as readings tell it."""
        levels = []
        for other in self.steps:
            at = other[0] if beginning else other[1]
            near = self.beside(at, other, before=not beginning)
            if other != step and near.size and np.min(np.abs(self.time[near] - at)) <= self.longest:
                next_to_it = near[:_LEVEL] if beginning else near[-_LEVEL:]
                levels.append(float(np.median(self.values[next_to_it])))
        return float(np.mean(levels)) if levels else None


def _bridge(course: _Course, gap: tuple[float, float], step: tuple[float, float]) -> Bridge:
    t, y, long = course.time, course.values, gap[1] - gap[0]
    left, right = course.beside(gap[0], step, before=True), course.beside(gap[1], step, before=False)
    wander = _wander(t, y, long)
    before = float(np.median(y[left[-_LEVEL:]])) if left.size else course.elsewhere(step, beginning=True)
    after = float(np.median(y[right[:_LEVEL]])) if right.size else course.elsewhere(step, beginning=False)
    if before is not None and after is not None:
        return Bridge(*gap, before, after, float(max(abs(after - before), wander) / np.sqrt(12.0)))
    near = left if left.size else right
    if not near.size:  # not a reading in the whole step: it is taken to be like the rest
        middle = float(np.median(y))
        return Bridge(*gap, middle, middle, float(np.ptp(y) / np.sqrt(12.0)))
    level, slope = _line(t[near], y[near], gap[0] if left.size else gap[1])
    if left.size:
        ends, doubt = (level, level + 0.5 * slope * long), 0.35
    else:
        ends, doubt = (level - _STEEPER * slope * long, level), 0.5 * _STEEPER
    return Bridge(*gap, *ends, float(np.hypot(wander / np.sqrt(3.0), doubt * slope * long)))


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

    Readings on either side of the span tell its ends; beyond the first and the last reading the line through
    the five readings there is followed, and as much as that adds is uncertain. The uncertainty takes from
    each reading within the span the triangle :math:`d_i` between it and the line that joins its neighbours,
    as `friction_energy` does, :math:`u^2 = [(\sum d_i / 6)^2 + \frac{2}{3} \sum d_i^2] / T^2`, and of each
    gap its own.

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
    beyond, of_it = _held(t, y, start, end, over)
    integral, variance = integral + beyond, variance + of_it
    return MeanOver(integral / (end - start), float(np.sqrt(variance)) / (end - start))


def _held(
    t: FloatArray, y: FloatArray, start: float, end: float, over: tuple[Bridge, ...]
) -> tuple[float, float]:
    """Give what following the line at the ends of the run adds to values held there, and its variance."""
    added, variance = 0.0, 0.0
    ends = ((t[0] - start, start, slice(None, _BESIDE), -1.0), (end - t[-1], end, slice(-_BESIDE, None), 1.0))
    for long, place, near, way in ends:
        if long > 0.0 and not any(one.start <= place <= one.end for one in over):
            slope = _line(t[near], y[near], place)[1]
            off = y[near] - np.mean(y[near]) - slope * (t[near] - np.mean(t[near]))
            more = way * 0.5 * slope * long**2 * (_STEEPER if way < 0.0 else 1.0)
            added, variance = added + more, variance + more**2 + (float(np.std(off)) * long) ** 2
    return added, variance


def over_holes(time: ArrayLike, values: ArrayLike, longest: float) -> float:
    r"""Give the standard uncertainty that single missing readings leave in the integral of a trace.

    Between two readings a time h apart, more than 1.5 median steps and no gap, the integral is uncertain by
    :math:`h D(h) / \sqrt{12}`, D(h) being the median size of the trace's own changes over that time.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit].
    longest : float
        Longest time between two readings that is no gap [s].

    Returns
    -------
    float
        Standard uncertainty of the integral [unit of the values times s].

    References
    ----------
    A path held at both ends: as for `bridges`.

    Examples
    --------
    >>> time = np.array([0.0, 1.0, 2.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0, 15.0])
    >>> round(over_holes(time, np.tile([1.0, 2.0], 7), 4.0), 2)
    1.28
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    steps = np.diff(t)
    if steps.size == 0:
        return 0.0
    holes = steps[(steps > _HOLE * float(np.median(steps))) & (steps <= longest)]
    wide, counts = np.unique(np.round(holes, 3), return_counts=True)
    if wide.size > _MOST_HOLES:  # such a trace has no step of its own
        return 0.0
    each = [count * (long * _wander(t, y, long)) ** 2 for long, count in zip(wide, counts, strict=True)]
    return float(np.sqrt(sum(each) / 12.0))
