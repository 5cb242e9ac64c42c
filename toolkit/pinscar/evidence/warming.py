"""From a trace: how warm a run became (start, peak, rise, heating rate)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from pinscar.evidence.course import DENSE, FASTEST, Estimate, start_before, summit
from pinscar.evidence.force_zero import left_by_rounding
from pinscar.evidence.off_course import off_course
from pinscar.evidence.recorder import Gap, find_gaps, longest_step, rounding_sd, scatter, short_spikes
from pinscar.evidence.sensor_lag import Lacking, SensorLag, sensor_lag

FloatArray = NDArray[np.float64]

LEAST_SPIKE = 2.0
"""Readings must stand out by that to be left out as a spike [K]."""

COLDEST, HOTTEST = 173.15, 1273.15
"""A thermocouple that reads beyond is broken or open (common practice) [K]."""

BEFORE = 60.0
"""Readings of that long before the run tell the temperature that it starts from [s]."""

OPENING = 1.0
"""Without any, those of that long at its beginning do [s]."""

WINDOW = 5.0
"""The heating rate is that of a straight line through the readings of that long [s]."""

_SPIKE_LASTS = 3.0  # a loose contact [s]; no pin warms and cools by so much in that time
_FEWEST_IN_OPENING = 3
_BESIDE_GAP = 5
_ENOUGH_FOR_A_LINE = 8
_FEWEST_IN_WINDOW = 4
_WIDEST_SHARE = 0.25
_RIVAL = 4.0  # a value this many standard deviations below the greatest may truly be the greatest
_INDEPENDENT = 0.05  # lines whose starts are this share of their length apart count as independent
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


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWarming:
    """How warm one load step of a run became.

    Parameters
    ----------
    begun : float
        When its load came on [s].
    start, start_uncertainty : float
        Temperature then, by the readings before, and its standard uncertainty [K].
    peak, peak_uncertainty : float
        Highest temperature until the next load came on, and its standard uncertainty [K].
    time_of_peak : float
        When it was met [s].
    """

    begun: float
    start: float
    start_uncertainty: float
    peak: float
    peak_uncertainty: float
    time_of_peak: float

    @property
    def rise(self) -> float:
        """Peak less start [K]."""
        return self.peak - self.start

    @property
    def rise_uncertainty(self) -> float:
        """Standard uncertainty of the rise [K]."""
        return float(np.hypot(self.peak_uncertainty, self.start_uncertainty))


@dataclass(frozen=True, slots=True, kw_only=True)
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
        Highest temperature of the course that the readings follow, spikes left out (`summit`) [K].
    peak_uncertainty : float
        Its standard uncertainty from the scatter and the spacing of the readings [K]; NaN where that is
        not known.
    time_of_peak : float
        When it was met [s].
    scatter : float
        Standard deviation of one reading [K]; NaN where that is not known.
    rate : HeatingRate or None
        Greatest heating rate; None where the readings are too sparse.
    spikes : int
        Readings that were left out as spikes [1].
    gaps : tuple of tuple of float
        Gaps within the run [s].
    doubtful : int
        Readings that stand out but may be true, since readings are slow; they were kept [1].
    steps : tuple of StepWarming
        How warm each load step became; empty where the load stayed the same.
    lag : SensorLag or None
        How far the sensor lags behind; None where no friction force tells it.
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
    doubtful: int = 0
    steps: tuple[StepWarming, ...] = ()
    lag: SensorLag | None = None

    @property
    def rise(self) -> float:
        """Peak less start [K]."""
        return self.peak - self.start

    @property
    def rise_uncertainty(self) -> float:
        """Standard uncertainty of the rise from the scatter of the readings [K]."""
        return float(np.hypot(self.peak_uncertainty, self.start_uncertainty))


def read_warming(
    time: ArrayLike,
    temperature: ArrayLike,
    duration: float,
    starts: ArrayLike = (),
    heat: tuple[ArrayLike, ArrayLike] | None = None,
) -> Warming:
    r"""Read start, peak, rise and greatest heating rate off a trace of the temperature.

    The start is where a straight line through the readings of the last minute before the run meets its
    beginning, so that a bath or a pin that still warms up does not count as a rise; with fewer than eight
    such readings it is their mean, without any the mean of the run's opening second, and where that holds
    fewer than three, the first readings are followed back to the beginning (`start_before`). The peak is that
    of the course that the readings follow, up to the end of the run (`summit`). Up to three readings in a
    row that stand out from both sides by 2 K and by six times the scatter (`short_spikes`) are left out, and
    all that no thermocouple reads. Where readings lie more than 1.5 s apart, such a group that stands
    out by no more than a pin can warm and cool, 8 K/s, may be a true peak: it is kept, and half its height
    goes into the uncertainty. Where the readings beside a gap rise into it, the course may have
    gone on to where the lines through them meet: half of that is added to the peak, as uniform. The heating
    rate is the steepest of all straight lines through 5 s of readings (four median steps, where those are
    longer), none across a gap.

    Where the load was raised on the way, each step has its own rise: from where the temperature stood when
    its load came on, by a line through the readings of the 5 s before, to the highest value until the next
    one did. The run's own rise counts from its beginning.

    Where the friction force is known, it tells how far the sensor lags behind (`sensor_lag`): what the
    readings lack at each peak, and at the start of the second and later load steps, is added, and its
    uncertainty with it.

    What rounding leaves where readings scatter by less than its step (`find_zero`) goes into the uncertainty
    of start and peak.

    The steepest of many lines through scattered readings lies above the true one. Nothing is taken off for
    that, but its uncertainty takes it in: it is how far the greatest of n independent errors stays from zero
    in 68 % of the cases, :math:`\sigma\,\Phi^{-1}(0.68^{1/n})`, n being the lines that are within four
    standard deviations of the steepest.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising, 0 at the beginning of the run.
    temperature : array_like
        Temperature of the pin or the oil [K], same length; missing readings are left out.
    duration : float
        Length of the run [s].
    starts : array_like
        Starts of its load steps [s], rising; none where the load stayed the same.
    heat : tuple of array_like, optional
        Times of readings of the friction force [s] and those readings, zero and spikes taken off [N].

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
    Own definitions. Scatter and spikes: `scatter`, `short_spikes`. Uncertainty of a mean and of a line:
    JCGM 100:2008, 4.2.3 and H.3. Greatest of n independent errors: H. A. David and H. N. Nagaraja, Order
    Statistics, 3rd ed., 2003, section 2.1; n for lines that overlap was set by simulation.

    Examples
    --------
    >>> found = read_warming([0, 1, 30, 60], [293.0, 293.0, 341.0, 338.0], 60.0)
    >>> found.rise, found.time_of_peak, found.rate
    (48.0, 30.0, None)
    """
    t, y, heights, spikes = _cleaned(time, temperature, duration)
    sigma = scatter(t, y)
    rounded = Lacking(0.0, left_by_rounding(float(np.sqrt(12.0)) * rounding_sd(y), sigma))
    inside = t >= 0.0
    if np.count_nonzero(inside) < 2:
        raise ValueError(f"fewer than two readings lie within the run of {duration:.4g} s")
    until = duration if duration - t[-1] <= longest_step(t, 0.0, duration) else float(t[-1])
    gaps, spans = find_gaps(t, 0.0, duration), _spans(starts, duration)
    lag = None if heat is None else sensor_lag(t, y, *heat, spans, sigma)
    peak = _or_in_a_gap(summit(t[inside], y[inside], sigma, until), (t, y, sigma), gaps, spans)
    hottest = np.flatnonzero(inside)[int(np.argmax(y[inside]))]
    peak = _with(peak if lag is None else _with(peak, lag.peak), rounded)
    start, before = _start(t, y, sigma)
    start = _with(start, rounded)
    return Warming(
        start=start.value,
        start_uncertainty=start.uncertainty,
        before=before,
        peak=peak.value,
        peak_uncertainty=float(np.hypot(peak.uncertainty, 0.5 * heights[hottest])),
        time_of_peak=peak.time,
        scatter=sigma,
        rate=_greatest_rate(t[inside], y[inside], duration, sigma),
        spikes=spikes,
        gaps=gaps,
        doubtful=int(np.count_nonzero(heights)),
        steps=tuple(_steps((t, y, heights, sigma), spans, start, gaps, (lag, rounded)))
        if len(spans) > 1
        else (),
        lag=lag,
    )


def _with(seen: Estimate, lacking: Lacking) -> Estimate:
    """Add what a sensor lacks."""
    return Estimate(
        seen.value + lacking.value, float(np.hypot(seen.uncertainty, lacking.uncertainty)), seen.time
    )


def _cleaned(
    time: ArrayLike, temperature: ArrayLike, duration: float
) -> tuple[FloatArray, FloatArray, FloatArray, int]:
    """Leave out spikes and what no thermocouple reads, counted; tell how far doubtful peaks stand out."""
    t, y = _there(time, temperature, duration)
    possible = (y > COLDEST) & (y < HOTTEST)
    broken = int(np.count_nonzero(~possible))
    t, y = t[possible], y[possible]
    spikes, heights = _spikes(t, y)
    return t[~spikes], y[~spikes], heights[~spikes], broken + int(np.count_nonzero(spikes))


def _spans(starts: ArrayLike, duration: float) -> list[tuple[float, float]]:
    """Split a run into its load steps."""
    later = [one for one in np.asarray(starts, dtype=np.float64).tolist() if 0.0 < one < duration]
    return list(pairwise([0.0, *later, duration]))


def _steps(
    readings: tuple[FloatArray, FloatArray, FloatArray, float],
    spans: list[tuple[float, float]],
    first: Estimate,
    gaps: tuple[Gap, ...],
    more: tuple[SensorLag | None, Lacking],
) -> Iterator[StepWarming]:
    """Read every load step that holds two readings, each from where the load came on."""
    t, y, heights, sigma = readings
    lag, rounded = more
    longest = longest_step(t, 0.0, spans[-1][1])
    for number, (begun, end) in enumerate(spans):
        own = (t >= begun) & ((t < end) | (end == spans[-1][1]))
        if np.count_nonzero(own) < 2:
            continue
        start = first if begun == 0.0 else _where_it_stood(t, y, sigma, begun, longest)
        until = end if end - t[own][-1] <= longest else float(t[own][-1])
        peak = _or_in_a_gap(summit(t[own], y[own], sigma, until), (t, y, sigma), gaps, [(begun, end)])
        if lag is not None:
            peak = _with(peak, lag.peaks[number])
            start = start if begun == 0.0 else _with(start, lag.starts[number])
        peak = _with(peak, rounded)
        start = start if begun == 0.0 else _with(start, rounded)
        hottest = np.flatnonzero(own)[int(np.argmax(y[own]))]
        yield StepWarming(
            begun=begun,
            start=start.value,
            start_uncertainty=start.uncertainty,
            peak=peak.value,
            peak_uncertainty=float(np.hypot(peak.uncertainty, 0.5 * heights[hottest])),
            time_of_peak=peak.time,
        )


def _where_it_stood(t: FloatArray, y: FloatArray, sigma: float, at: float, longest: float) -> Estimate:
    """Tell the temperature at which a load came on, by the readings before; across a gap, by both sides."""
    last, after = int(np.searchsorted(t, at)) - 1, int(np.searchsorted(t, at))
    if last < 0 or at - t[last] > longest:
        low = float(y[after] if last < 0 else y[last])
        return Estimate(0.5 * (low + float(y[after])), float(np.ptp([low, y[after]]) / np.sqrt(12.0)), at)
    near = np.flatnonzero((t < at) & (t >= t[last] - WINDOW))
    near = near if near.size >= _FEWEST_IN_OPENING else np.arange(max(last - 2, 0), last + 1)
    if near.size < 2:
        return Estimate(float(y[last]), sigma, at)
    x = t[near] - at
    slope, value = np.polyfit(x, y[near], 1)
    off_mean = x - np.mean(x)
    of_line = sigma * float(np.sqrt(1.0 / near.size + np.mean(x) ** 2 / np.sum(off_mean**2)))
    way = 0.5 * float(slope) * (at - float(t[last]))  # the course may bend on it
    return Estimate(float(value), float(np.hypot(of_line, way)), at)


def _or_in_a_gap(
    seen: Estimate,
    readings: tuple[FloatArray, FloatArray, float],
    gaps: tuple[Gap, ...],
    spans: list[tuple[float, float]],
) -> Estimate:
    """Widen the summit by what may lie in a gap, where readings rise towards it or fall away from it."""
    parts = [(span, (max(span[0], a), min(span[1], b))) for a, b in gaps for span in spans]
    tops = [_in_gap(readings, span, gap) for span, gap in parts if gap[1] > gap[0]]
    more = max([one - seen.value for one in tops] + [0.0])
    if more == 0.0 or not np.isfinite(seen.uncertainty):
        return seen
    spread = float(np.hypot(seen.uncertainty, more / np.sqrt(12.0)))
    return Estimate(seen.value + 0.5 * more, spread, seen.time)


def _in_gap(readings: tuple[FloatArray, FloatArray, float], span: tuple[float, float], gap: Gap) -> float:
    """Tell how high a course may rise in a gap: where the lines through the readings beside it meet."""
    t, y, sigma = readings
    own = (t >= span[0]) & (t <= span[1])
    long = gap[1] - gap[0]
    sides: list[tuple[float, float] | None] = []
    for near, at, way in ((own & (t <= gap[0]), gap[0], 1.0), (own & (t >= gap[1]), gap[1], -1.0)):
        x, z = (one[near][-_BESIDE_GAP:] if way > 0.0 else one[near][:_BESIDE_GAP] for one in (t, y))
        if x.size < _FEWEST_IN_OPENING:
            sides.append(None)
            continue
        slope, level = np.polyfit(x - at, z, 1)
        doubt = sigma / float(np.linalg.norm(x - np.mean(x)))
        sides.append((float(level), max(way * float(slope) - doubt, 0.0)))
    left, right = sides
    if left is None or right is None:
        return max((one[0] + one[1] * long for one in sides if one is not None), default=-np.inf)
    both = left[1] + right[1]
    meet = (right[0] + right[1] * long - left[0]) / both if both > 0.0 else 0.0
    return left[0] + left[1] * min(max(meet, 0.0), long)


def _spikes(t: FloatArray, y: FloatArray) -> tuple[NDArray[np.bool_], FloatArray]:
    """Find the spikes, and how far those that may be true peaks stand out; 0 for all other readings."""
    found = short_spikes(t, y, LEAST_SPIKE)
    left = np.flatnonzero(~found)
    found[left] = off_course(t[left], y[left], least=LEAST_SPIKE, fastest=FASTEST, lasts=_SPIKE_LASTS)
    heights = np.zeros(t.shape)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], found, [False]]).astype(int)))
    for first, after in edges.reshape(-1, 2).tolist():
        if first == 0 or after == t.size:
            continue
        steps = t[first] - t[first - 1], t[after] - t[after - 1]
        rise, fall = (y[first] - y[first - 1]) / steps[0], (y[after - 1] - y[after]) / steps[1]
        if min(steps) > DENSE and min(rise, fall) > 0.0 and max(rise, fall) <= FASTEST:
            found[first:after] = False
            line = np.interp(t[first:after], t[[first - 1, after]], y[[first - 1, after]])
            heights[first:after] = y[first:after] - line
    return found, heights


def _there(time: ArrayLike, temperature: ArrayLike, duration: float) -> tuple[FloatArray, FloatArray]:
    t, y = np.asarray(time, dtype=np.float64), np.asarray(temperature, dtype=np.float64)
    if t.ndim != 1 or t.shape != y.shape:
        raise ValueError(f"time and temperature must be two rows of equal length, found {t.shape}, {y.shape}")
    seen = np.isfinite(t) & np.isfinite(y)
    if np.any(np.diff(t[seen]) <= 0):
        raise ValueError("time must rise from reading to reading")
    seen &= (t >= -BEFORE) & (t <= duration)
    return t[seen], y[seen]


def _start(t: FloatArray, y: FloatArray, sigma: float) -> tuple[Estimate, int]:
    before = int(np.count_nonzero(t < 0.0))
    chosen = t < 0.0 if before else t <= t[0] + OPENING
    few = np.count_nonzero(t <= OPENING) < _FEWEST_IN_OPENING
    if not before and few and np.isfinite(sigma):
        return start_before(t, y, sigma), 0
    middle, mean, count = float(np.mean(t[chosen])), float(np.mean(y[chosen])), int(np.count_nonzero(chosen))
    near = chosen if count > 1 else np.arange(t.size) < 2
    x = t[near] - np.mean(t[near])
    square = float(np.sum(x**2))
    slope = float(np.sum(x * y[near])) / square
    uncertainty = float(sigma * np.sqrt(1.0 / count + middle**2 / square))
    if before >= _ENOUGH_FOR_A_LINE:
        return Estimate(mean - slope * middle, uncertainty, 0.0), before
    return Estimate(mean, float(np.hypot(uncertainty, slope * middle)), 0.0), before


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
    middle = float(np.mean(t))  # subtract the mean first: sums of small numbers keep their digits
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
