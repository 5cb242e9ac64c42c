"""From a trace: how warm a run became (start, peak, rise, heating rate), and the zero of a friction force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from pinscar.evidence.recorder import TO_SD, Gap, find_gaps, longest_step, rounding_sd, scatter, short_spikes

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


LEAST_SPIKE = 2.0
"""Readings must stand out by that to be left out as a spike [K]."""

COLDEST, HOTTEST = 173.15, 1273.15
"""A thermocouple that reads beyond is broken or open (common practice) [K]."""

FASTEST = 8.0
"""A pin may warm and cool that fast; a spike that is slower, between slow readings, may be true [K/s]."""

BEFORE = 60.0
"""Readings of that long before the run tell the temperature that it starts from [s]."""

OPENING = 1.0
"""Without any, those of that long at its beginning do [s]."""

WINDOW = 5.0
"""The heating rate is that of a straight line through the readings of that long [s]."""

_SLOW = 1.5  # readings that far apart may meet a true peak once only [s]
_FEWEST_IN_OPENING = 3
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
    such readings it is their mean, without any the mean of the run's opening second, and where that holds
    fewer than three, the first readings are followed back to the beginning (`value_at`). The peak is that
    of the course that the readings follow, up to the end of the run (`summit`). Up to three readings in a
    row that stand out from both sides by 2 K and by six times the scatter (`short_spikes`) are left out, and
    all that no thermocouple reads. Where readings lie more than 1.5 s apart, such a group that stands
    out by no more than a pin can warm and cool, 8 K/s, may be a true peak: it is kept, and half its height
    goes into the uncertainty. The heating rate is the steepest of all straight lines through 5 s of readings
    (four median steps, where those are longer), none across a gap.

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
    t, y = _there(time, temperature, duration)
    possible = (y > COLDEST) & (y < HOTTEST)
    broken = int(np.count_nonzero(~possible))
    t, y = t[possible], y[possible]
    spikes, heights = _spikes(t, y)
    t, y, heights = t[~spikes], y[~spikes], heights[~spikes]
    sigma = scatter(t, y)
    inside = t >= 0.0
    if np.count_nonzero(inside) < 2:
        raise ValueError(f"fewer than two readings lie within the run of {duration:.4g} s")
    until = duration if duration - t[-1] <= longest_step(t, 0.0, duration) else float(t[-1])
    peak = summit(t[inside], y[inside], sigma, until)
    hottest = np.flatnonzero(inside)[int(np.argmax(y[inside]))]
    start, before = _start(t, y, sigma)
    return Warming(
        start=start.value,
        start_uncertainty=start.uncertainty,
        before=before,
        peak=peak.value,
        peak_uncertainty=float(np.hypot(peak.uncertainty, 0.5 * heights[hottest])),
        time_of_peak=peak.time,
        scatter=sigma,
        rate=_greatest_rate(t[inside], y[inside], duration, sigma),
        spikes=broken + int(np.count_nonzero(spikes)),
        gaps=find_gaps(t, 0.0, duration),
        doubtful=int(np.count_nonzero(heights)),
    )


def _spikes(t: FloatArray, y: FloatArray) -> tuple[NDArray[np.bool_], FloatArray]:
    """Find the spikes, and how far those that may be true peaks stand out; 0 for all other readings."""
    found = short_spikes(t, y, LEAST_SPIKE)
    heights = np.zeros(t.shape)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], found, [False]]).astype(int)))
    for first, after in edges.reshape(-1, 2).tolist():
        if first == 0 or after == t.size:
            continue
        steps = t[first] - t[first - 1], t[after] - t[after - 1]
        rise, fall = (y[first] - y[first - 1]) / steps[0], (y[after - 1] - y[after]) / steps[1]
        if min(steps) > _SLOW and min(rise, fall) > 0.0 and max(rise, fall) <= FASTEST:
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
        return value_at(t, y, sigma, 0.0), 0
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


BESIDE = 60.0
"""Readings of that long before and after the run are looked at [s]."""

LEAST_READINGS = 5
"""A zero needs that many readings [1]."""

_MEDIAN = 1.2533 * TO_SD
"""Standard error of a median of n readings, times the root of n, over their median absolute deviation [1]."""


@dataclass(frozen=True, slots=True)
class ForceZero:
    """Zero of the force before and after a run; each is None where no unloaded readings tell it.

    Parameters
    ----------
    before, after : float or None
        Median of the unloaded readings [N].
    time_before, time_after : float or None
        Mean of their times [s].
    uncertainty : float
        Standard uncertainty of the mean zero over the run, from the scatter of those readings [N];
        NaN where there is no zero.
    """

    before: float | None
    after: float | None
    time_before: float | None
    time_after: float | None
    uncertainty: float

    @property
    def checked(self) -> bool:
        """Whether any unloaded reading told the zero."""
        return self.before is not None or self.after is not None


def find_zero(time: ArrayLike, force: ArrayLike, duration: float, unloaded: float = 0.3) -> ForceZero:
    """Find the zero of the force from the readings beside the run.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], rising, 0 at the beginning of the run.
    force : array_like
        Friction force [N], same length; NaN where missing.
    duration : float
        Length of the run [s].
    unloaded : float
        Largest share of the run's own median force that the median beside the run may have; above it the
        pin was loaded there, and nothing is said of the zero [1].

    Returns
    -------
    ForceZero
        The zero on either side, from at least five readings each.

    References
    ----------
    Own convention; standard error of the median of normal readings, 1.2533 s / sqrt(n), and spread from
    the median deviation: common practice; for few readings n that comes out small by about (n - 0.8) / n:
    C. Croux and P. J. Rousseeuw, in Computational Statistics, vol. 1, 1992, from memory. Rounding:
    JCGM 100:2008, F.2.2.1.

    Examples
    --------
    >>> time = np.arange(-10.0, 71.0)
    >>> force = np.where((time >= 0.0) & (time <= 60.0), 45.0, 0.0) + 2.0 + 0.01 * time
    >>> found = find_zero(time, force, 60.0)
    >>> round(found.before, 2), round(found.after, 2)
    (1.94, 2.66)
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(force, dtype=np.float64)
    there = np.isfinite(t) & np.isfinite(y)
    t, y = t[there], y[there]
    inside = (t >= 0.0) & (t <= duration)
    limit = unloaded * abs(float(np.median(y[inside]))) if inside.any() else 0.0
    sides = [(t < 0.0) & (t >= -BESIDE), (t > duration) & (t <= duration + BESIDE)]
    (before, time_before, u_1), (after, time_after, u_2) = (_side(t[one], y[one], limit) for one in sides)
    known = [u for u in (u_1, u_2) if u is not None]
    joint = float(np.sqrt(np.sum(np.square(known))) / len(known)) if known else float("nan")
    return ForceZero(before, after, time_before, time_after, joint)


def _side(t: FloatArray, y: FloatArray, limit: float) -> tuple[float | None, float | None, float | None]:
    if t.size < LEAST_READINGS or abs(float(np.median(y))) > limit:
        return None, None, None
    middle = float(np.median(y))
    spread = float(np.median(np.abs(y - middle))) * t.size / (t.size - 0.8)
    return middle, float(np.mean(t)), max(_MEDIAN * spread / np.sqrt(t.size), rounding_sd(y))


def zero_at(zero: ForceZero, time: ArrayLike) -> FloatArray:
    """Give the zero at any moment: straight between the two sides, the same throughout where one is known.

    Parameters
    ----------
    zero : ForceZero
        The zero beside the run.
    time : array_like
        Times [s].

    Returns
    -------
    ndarray of float
        Zero at those times [N]; 0 where nothing is known of it.

    References
    ----------
    Own convention: a drift between two readings of the zero is taken to be even.

    Examples
    --------
    >>> zero_at(ForceZero(1.0, 3.0, -5.0, 65.0, 0.1), [-5.0, 30.0, 80.0]).tolist()
    [1.0, 2.0, 3.0]
    """
    t = np.asarray(time, dtype=np.float64)
    pairs = ((zero.time_before, zero.before), (zero.time_after, zero.after))
    sides = [(at, value) for at, value in pairs if at is not None and value is not None]
    if not sides:
        return np.zeros(t.shape)
    known = np.array(sides, dtype=np.float64)
    return np.asarray(np.interp(t, known[:, 0], known[:, 1]), dtype=np.float64)
