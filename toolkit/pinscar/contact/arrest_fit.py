"""Wear coefficient and film pressure from scars, and the scar to be expected at another load or duration.

The scars may come from runs stopped after different times (least squares, with profile-likelihood intervals),
or from one run and the time at which its rubbing noise stopped.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq, least_squares
from scipy.special import stdtrit

from pinscar.contact.arrays import FloatArray, as_floats, positive, within
from pinscar.contact.arrest import (
    ScarGrowth,
    area_clock,
    area_fraction,
    depth_at_area,
    scar_growth,
    worn_area,
)
from pinscar.contact.geometry import CrossedCylinders


def expected_log_lengths(
    log_parameters: ArrayLike, duration: ArrayLike, load: ArrayLike, speed: ArrayLike, growth: ScarGrowth
) -> FloatArray:
    """Compute the logarithm of the scar length that the model expects of runs at one load each.

    Parameters
    ----------
    log_parameters : array_like
        Natural logarithms of wear coefficient [m^2/N] and film pressure [Pa], shape (2,); or m pairs of them,
        shape (m, 2).
    duration : array_like
        Duration of each run [s], shape (n,) or a number.
    load : array_like
        Load of each run [N], as the duration.
    speed : array_like
        Sliding speed of each run [m/s], as the duration.
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).

    Returns
    -------
    ndarray of float
        ln of scar length in metres [-], the broadcast shape of the runs; with m pairs before it, shape (m,
        n). A scar that would grow deeper than 0.8 of the smaller radius is given the length that it has
        there.

    References
    ----------
    Model: see `pinscar.contact.arrest.worn_depth_exact`. The logarithm, because scars scatter by a
    share of their length.

    Examples
    --------
    >>> from pinscar.contact.arrest import scar_growth
    >>> from pinscar.contact.geometry import CrossedCylinders
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> ln_length = expected_log_lengths(np.log([1e-14, 120e6]), 60, 450, 1.466, growth)
    >>> round(float(np.exp(ln_length)) * 1e3, 4)
    2.8691
    """
    pairs = np.exp(as_floats(log_parameters))
    wear, film = (pairs[..., i, None] if pairs.ndim > 1 else pairs[i] for i in (0, 1))
    rate = wear * positive("speed", speed)
    area = np.minimum(worn_area(duration, load, rate, film, growth), growth.largest_area)
    return np.log(growth.pair.scar_length(depth_at_area(area, growth)))


def gradient(
    log_parameters: ArrayLike, duration: ArrayLike, load: ArrayLike, speed: ArrayLike, growth: ScarGrowth
) -> FloatArray:
    """Compute how the expected ln of scar length changes with the two log parameters, by central differences.

    Parameters
    ----------
    log_parameters : array_like
        Natural logarithms of wear coefficient [m^2/N] and film pressure [Pa], shape (2,).
    duration : array_like
        Duration of each run [s].
    load : array_like
        Load of each run [N].
    speed : array_like
        Sliding speed of each run [m/s].
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).

    Returns
    -------
    ndarray of float
        Derivatives [-]; the last axis holds the two parameters.

    References
    ----------
    Central difference with a step of 1e-5 in the logarithm.

    Examples
    --------
    Long before arrest the length goes with the fourth root of the wear coefficient, whatever the film:

    >>> from pinscar.contact.arrest import scar_growth
    >>> from pinscar.contact.geometry import CrossedCylinders
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> gradient(np.log([1e-14, 1e3]), 1.0, 450, 1.466, growth).round(3).tolist()
    [0.25, -0.0]
    """
    middle = as_floats(log_parameters)
    steps = 1e-5 * np.eye(2)
    ends = [
        [expected_log_lengths(middle + sign * step, duration, load, speed, growth) for sign in (1, -1)]
        for step in steps
    ]
    return np.stack([(up - down) / 2e-5 for up, down in ends], axis=-1)


SumOfSquares: TypeAlias = Callable[[FloatArray], FloatArray]
Region: TypeAlias = tuple[FloatArray, FloatArray]

_FIRST_STEP = 0.05
_GRID = 33
_SMALLEST = 1e-7


def profile_sum(sum_of_squares: SumOfSquares, index: int, value: float, region: Region) -> float:
    """Compute the least sum of squares with one of two parameters held at a value.

    A grid over the other parameter, then finer and finer grids round its best point: derivatives vanish
    where a curve has run flat, and a search by slopes would stop there.

    Parameters
    ----------
    sum_of_squares : callable
        Sum of squares of the fit at each of m points, from shape (m, 2) to (m,).
    index : int
        Parameter that is held, 0 or 1.
    value : float
        Value at which it is held [unit of the parameter].
    region : tuple of two ndarray of float
        Lowest and highest values of the two parameters [unit of the parameter].

    Returns
    -------
    float
        Least sum of squares [1].

    References
    ----------
    D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988, section 6.1.

    Examples
    --------
    A straight line through three points with the intercept held at 0:

    >>> x, y = np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 4.0])
    >>> squares = lambda p: np.sum((y - p[:, :1] - p[:, 1:] * x) ** 2, axis=1)
    >>> round(profile_sum(squares, 0, 0.0, (np.full(2, -10.0), np.full(2, 10.0))), 6)
    0.357143
    """
    low, high = (float(edge[1 - index]) for edge in region)
    points = np.full((_GRID, 2), value)
    while True:
        grid = np.linspace(low, high, _GRID)
        points[:, 1 - index] = grid
        sums = sum_of_squares(points)
        best = int(np.argmin(sums))
        if high - low < _SMALLEST:
            return float(sums[best])
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, _GRID - 1)]


def profile_limit(
    sum_of_squares: SumOfSquares, index: int, best: float, side: int, region: Region, ceiling: float
) -> float | None:
    """Find where the profile of one parameter rises to a ceiling, on one side of the best fit.

    Parameters
    ----------
    sum_of_squares : callable
        Sum of squares of the fit at each of m points, from shape (m, 2) to (m,).
    index : int
        Parameter whose limit is sought, 0 or 1.
    best : float
        Its value at the best fit [unit of the parameter].
    side : int
        0 for the lower limit, 1 for the upper.
    region : tuple of two ndarray of float
        Lowest and highest values of the two parameters [unit of the parameter].
    ceiling : float
        Sum of squares that ends the interval [1].

    Returns
    -------
    float or None
        The limit; None where the profile stays below the ceiling to the region's edge, so that the data do
        not bound the parameter.

    References
    ----------
    D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988, section 6.1.

    Examples
    --------
    For a straight line the profile is the classical parabola, here ``0.015 + 2 (slope - 0.95)^2``:

    >>> x, y = np.array([-1.0, 0.0, 1.0]), np.array([-1.0, 0.1, 0.9])
    >>> squares = lambda p: np.sum((y - p[:, :1] - p[:, 1:] * x) ** 2, axis=1)
    >>> round(profile_limit(squares, 1, 0.95, 1, (np.full(2, -10.0), np.full(2, 10.0)), 1.0), 6)
    1.651783
    """
    edge, sign = float(region[side][index]), 1.0 if side else -1.0

    def above(value: float) -> float:
        return profile_sum(sum_of_squares, index, value, region) - ceiling

    inner, step = best, _FIRST_STEP
    while True:
        outer = inner + sign * step
        outer = min(outer, edge) if side else max(outer, edge)
        if above(outer) >= 0:
            return float(brentq(above, inner, outer, xtol=1e-7))
        if outer == edge:
            return None
        inner, step = outer, 2.0 * step


# Search range as factors of the starting values; outside it the curve no longer changes.
_WEAR_RANGE = 1e5
_FILM_LOWEST, _FILM_HIGHEST = 1e-3, 5.0
# A parameter is not determined if fixing it at its bound raises the sum of squares by less than this share.
_NO_LOSS = 1e-6
# A smaller sum of squares is rounding only: the scars were computed from the model.
_NO_SCATTER = 1e-18
_EXACT = "no interval: the scars lie on the curve without scatter"
_WORST_CONDITION = 1e12

METHOD = (
    "nonlinear least squares on the logarithm of scar length, wear-arrest model with the exact scar; "
    "profile-likelihood intervals, calibrated by the t distribution with n - 2 degrees of freedom"
)


@dataclass(frozen=True, kw_only=True)
class ArrestFit:
    """Wear coefficient and film pressure fitted to interrupted runs.

    Parameters
    ----------
    wear_coefficient, wear_low, wear_high : float or None
        Wear coefficient above the film pressure with its interval [m^2/N]; None where the data do not bound
        it.
    film_pressure, film_low, film_high : float or None
        Film pressure with its interval [Pa]; None where the data do not bound it.
    n : int
        Number of scars.
    residual_sd : float or None
        Standard deviation of ln of scar length about the curve, n - 2 degrees of freedom; None for two scars.
    confidence : float
        Confidence of each interval.
    log_parameters : tuple of two float
        ln of wear coefficient and of film pressure at the best fit.
    log_covariance : tuple of tuples of float, or None
        Their covariance; None where it does not exist.
    heaviest, lightest : float
        Highest and lowest load of the data [N].
    growth : ScarGrowth
        The scar's geometry.
    method : str
        How it was computed, for printing.
    note : str or None
        What is off, in a plain sentence.
    """

    wear_coefficient: float | None
    wear_low: float | None
    wear_high: float | None
    film_pressure: float | None
    film_low: float | None
    film_high: float | None
    n: int
    residual_sd: float | None
    confidence: float
    log_parameters: tuple[float, float]
    log_covariance: tuple[tuple[float, float], tuple[float, float]] | None
    heaviest: float
    lightest: float
    growth: ScarGrowth
    method: str
    note: str | None


def fit_interrupted_runs(
    duration: ArrayLike,
    scar_length: ArrayLike,
    load: ArrayLike,
    speed: ArrayLike,
    pair: CrossedCylinders,
    confidence: float = 0.95,
) -> ArrestFit:
    """Fit wear coefficient and film pressure to scars of runs that were stopped after different times.

    Minimises ``sum (ln L_i - ln L(t_i; k, pf))^2`` over ln k and ln pf. Assumed: every scar comes from a
    run of its own with a fresh pin; reading and run-to-run scatter are proportional to the length,
    independent and normal on the log scale; k and pf are the same in all. Intervals: the values of one
    parameter whose least sum of squares over the other stays below ``S_min (1 + t^2/(n - 2))``. A parameter
    that the data do not determine (no scar near arrest, or all of them past it) is None, with the bound
    that the data do give.

    Parameters
    ----------
    duration : array_like
        Duration of each run [s], shape (n,).
    scar_length : array_like
        Length of each scar [m], shape (n,).
    load : array_like
        Load of each run [N], shape (n,) or one for all.
    speed : array_like
        Sliding speed of each run [m/s], shape (n,) or one for all.
    pair : CrossedCylinders
        The geometry.
    confidence : float
        Confidence of each interval [-].

    Returns
    -------
    ArrestFit
        Estimates, intervals, scatter and notes.

    Raises
    ------
    ValueError
        Fewer than two scars or two durations, an argument is not above zero or missing, or a scar is deeper
        than 0.8 of the smaller radius.

    References
    ----------
    Model: own derivation (`worn_depth_exact`). Profile intervals: D. M. Bates and D. G. Watts, Nonlinear
    Regression Analysis and Its Applications, 1988, section 6.1.

    Examples
    --------
    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> lengths = [1.60e-3, 2.12e-3, 2.55e-3, 2.83e-3, 2.98e-3, 2.93e-3]
    >>> fit = fit_interrupted_runs([2, 6, 20, 60, 120, 240], lengths, 450, 1.466, pair)
    >>> round(fit.film_pressure / 1e6), f"{fit.wear_coefficient:.1e}"
    (120, '9.4e-15')
    """
    level = float(within("confidence", confidence, 1e-6, 1.0 - 1e-6))
    times, lengths, loads, speeds = _table(duration, scar_length, load, speed)
    growth = scar_growth(pair)
    if np.any(pair.area_at_depth(pair.scar_depth(lengths)) > growth.largest_area):
        raise ValueError("scar_length holds a scar deeper than 0.8 of the smaller radius")
    logs = np.log(lengths)
    start, region = _range(times, lengths, loads, speeds, pair)

    def residuals(points: FloatArray) -> FloatArray:
        return np.asarray(logs - expected_log_lengths(points, times, loads, speeds, growth))

    def squares(points: FloatArray) -> FloatArray:
        return np.asarray(np.sum(residuals(points) ** 2, axis=-1))

    best, total = _best(residuals, start, region)
    note, known = _undetermined(squares, total, region)
    free = times.size - 2
    scatter = free > 0 and total > _NO_SCATTER
    if not scatter:
        note = _join(note, "no interval: two scars and two unknowns" if not free else _EXACT)
    ceiling = total * (1.0 + float(stdtrit(free, 0.5 + 0.5 * level)) ** 2 / free) if scatter else None
    wear, wear_low, wear_high = _row(squares, 0, best, region, ceiling, known[0])
    film, film_low, film_high = _row(squares, 1, best, region, ceiling, known[1])
    slopes = gradient(best, times, loads, speeds, growth)
    return ArrestFit(
        wear_coefficient=wear,
        wear_low=wear_low,
        wear_high=wear_high,
        film_pressure=film,
        film_low=film_low,
        film_high=film_high,
        n=times.size,
        residual_sd=float(np.sqrt(total / free)) if free else None,
        confidence=level,
        log_parameters=(float(best[0]), float(best[1])),
        log_covariance=_covariance(total / free, slopes) if scatter else None,
        heaviest=float(loads.max()),
        lightest=float(loads.min()),
        growth=growth,
        method=METHOD,
        note=note,
    )


def _table(
    duration: ArrayLike, scar_length: ArrayLike, load: ArrayLike, speed: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    columns = (positive("duration", duration), positive("scar_length", scar_length), positive("load", load))
    times, lengths, loads, speeds = np.broadcast_arrays(*columns, positive("speed", speed))
    table = np.stack([np.atleast_1d(column).ravel() for column in (times, lengths, loads, speeds)])
    if np.any(np.isnan(table)):
        raise ValueError("duration, scar_length, load and speed must hold no missing value")
    if np.unique(table[0] * table[3] * table[2]).size < 2:
        raise ValueError(
            "duration must hold at least two runs that differ in duration (or load): two unknowns"
        )
    return table[0], table[1], table[2], table[3]


def _range(
    times: FloatArray, lengths: FloatArray, loads: FloatArray, speeds: FloatArray, pair: CrossedCylinders
) -> tuple[FloatArray, Region]:
    """Choose starting values, and the region in which the parameters are followed."""
    depths = pair.scar_depth(lengths)
    pressures = loads / pair.area_at_depth(depths)
    # The scar that wore fastest was the farthest from arrest: its mean wear coefficient is nearest to k.
    wear = float(np.max(pair.volume_at_depth(depths) / (loads * speeds * times)))
    film = float(pressures.min())
    lowest = np.log([wear / _WEAR_RANGE, _FILM_LOWEST * film])
    highest = np.log([wear * _WEAR_RANGE, _FILM_HIGHEST * float(pressures.max())])
    return np.log([1.3 * wear, 0.9 * film]), (lowest, highest)


def _best(
    residuals: Callable[[FloatArray], FloatArray], start: FloatArray, region: Region
) -> tuple[FloatArray, float]:
    # Three starts: in the middle, near arrest and far from arrest, to find the least sum of squares.
    starts = [start, start + np.log([3.0, 1.1]), start + np.log([1.0, 0.3])]
    found = [least_squares(residuals, s, bounds=region, xtol=1e-12, ftol=1e-14, gtol=1e-14) for s in starts]
    best = min(found, key=lambda result: float(result.cost))
    return as_floats(best.x), 2.0 * float(best.cost)


def _undetermined(
    squares: SumOfSquares, total: float, region: Region
) -> tuple[str | None, tuple[bool, bool]]:
    """Tell whether the fit is as good with no film at all, or with wear so fast that only the film counts."""
    allowed = total * (1.0 + _NO_LOSS) + _NO_SCATTER
    film = profile_sum(squares, 1, float(region[0][1]), region) > allowed
    wear = profile_sum(squares, 0, float(region[1][0]), region) > allowed
    note = None
    if not film:
        note = "no scar shows wear slowing down to a film pressure: it is only bounded from above"
    if not wear:
        note = _join(note, "all scars lie past arrest: the wear coefficient is only bounded from below")
    return note, (wear, film)


def _row(
    squares: SumOfSquares, index: int, best: FloatArray, region: Region, ceiling: float | None, known: bool
) -> tuple[float | None, float | None, float | None]:
    """Make estimate and interval ends of one parameter, back from its logarithm."""
    ends: list[float | None] = [None, None]
    if ceiling is not None:
        ends = [profile_limit(squares, index, float(best[index]), side, region, ceiling) for side in (0, 1)]
    low, high = (None if end is None else float(np.exp(end)) for end in ends)
    return float(np.exp(best[index])) if known else None, low, high


def _covariance(
    variance: float, slopes: FloatArray
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    information = slopes.T @ slopes
    if np.linalg.cond(information) > _WORST_CONDITION:
        return None
    c = variance * np.linalg.inv(information)
    return (float(c[0, 0]), float(c[0, 1])), (float(c[1, 0]), float(c[1, 1]))


def _join(first: str | None, second: str) -> str:
    return second if first is None else f"{first}; {second}"


PREDICTION_METHOD = (
    "wear-arrest model at the fitted parameters; interval by the delta method on ln of scar length, "
    "t distribution with n - 2 degrees of freedom"
)
BOX_METHOD = (
    "wear-arrest model at the fitted parameters; interval between the scars at the ends of the intervals of "
    "wear coefficient and film pressure, which is at least as wide as the profile-likelihood interval"
)


@dataclass(frozen=True, kw_only=True)
class ScarPrediction:
    """Scar expected in a run at one load.

    Parameters
    ----------
    scar_length : float
        Expected scar length [m].
    low, high : float or None
        Confidence interval of the expected length [m]; None where there is none.
    single_low, single_high : float or None
        Interval for one new scar, its own scatter included [m]; None where there is none.
    confidence : float
        Confidence of each interval.
    method : str
        How it was computed, for printing.
    note : str or None
        What is off, in a plain sentence.
    """

    scar_length: float
    low: float | None
    high: float | None
    single_low: float | None
    single_high: float | None
    confidence: float
    method: str
    note: str | None


def predict_scar(fit: ArrestFit, duration: float, load: float, speed: float) -> ScarPrediction:
    """Predict the scar of a run at another load or duration.

    With g the gradient of ln L in (ln k, ln pf) and C their covariance, ``sd^2 = g C g`` for the expected
    scar and ``sd^2 + s^2`` for a single one; intervals are ``exp(ln L +- t sd)``. Where the scars lie past
    arrest there is no C; the interval then runs from ``L(k_low, pf_high)`` to ``L(k, pf_low)``, which holds
    every scar of the confidence region. They cover the scatter of the fit, not the error of the model: that k
    and pf do not depend on load is an assumption, and a load outside those fitted is noted.

    Parameters
    ----------
    fit : ArrestFit
        Fitted model (`fit_interrupted_runs`).
    duration : float
        Duration of the run [s].
    load : float
        Load [N].
    speed : float
        Sliding speed [m/s].

    Returns
    -------
    ScarPrediction
        Expected length and intervals.

    Raises
    ------
    ValueError
        An argument is not above zero.

    References
    ----------
    Delta method: D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988,
    section 2.3. Past arrest: the sides of the region S < S_max are the profile intervals (section 6.1 there),
    so their box holds it; L grows with k and falls with pf, so its extremes lie in two corners of the box.

    Examples
    --------
    >>> from pinscar.contact.arrest_fit import fit_interrupted_runs
    >>> from pinscar.contact.geometry import CrossedCylinders
    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> lengths = [1.60e-3, 2.12e-3, 2.55e-3, 2.83e-3, 2.98e-3, 2.93e-3]
    >>> fit = fit_interrupted_runs([2, 6, 20, 60, 120, 240], lengths, 450, 1.466, pair)
    >>> prediction = predict_scar(fit, 60, 600, 1.466)
    >>> round(prediction.scar_length * 1e3, 2), prediction.note
    (3.23, 'the load lies outside those fitted: the film pressure is assumed not to depend on it')
    """
    where = (positive("duration", duration), positive("load", load), positive("speed", speed))
    length = float(expected_log_lengths(fit.log_parameters, *where, fit.growth))
    notes = []
    if not fit.lightest * (1 - 5e-3) <= load <= fit.heaviest * (1 + 5e-3):
        notes.append("the load lies outside those fitted: the film pressure is assumed not to depend on it")
    if fit.residual_sd is None or not (fit.log_covariance or _boxed(fit)):
        notes.append("no interval: the fit has none")
        return _prediction(length, [None] * 4, fit.confidence, PREDICTION_METHOD, notes)
    t = float(stdtrit(fit.n - 2, 0.5 + 0.5 * fit.confidence))
    if fit.log_covariance is not None:
        slope = gradient(fit.log_parameters, *where, fit.growth)
        below = above = t * float(np.sqrt(slope @ np.asarray(fit.log_covariance) @ slope))
    else:
        corners = np.log([[fit.wear_low, fit.film_high], [np.exp(fit.log_parameters[0]), fit.film_low]])
        least, most = expected_log_lengths(corners, *where, fit.growth).ravel()
        below, above = length - float(least), float(most) - length
    scatter = t * fit.residual_sd
    steps = (-below, above, -float(np.hypot(below, scatter)), float(np.hypot(above, scatter)))
    ends = [float(np.exp(length + step)) for step in steps]
    method = BOX_METHOD if fit.log_covariance is None else PREDICTION_METHOD
    return _prediction(length, ends, fit.confidence, method, notes)


def _prediction(
    log_length: float, ends: Sequence[float | None], confidence: float, method: str, notes: list[str]
) -> ScarPrediction:
    low, high, single_low, single_high = ends
    note = "; ".join(notes) or None
    return ScarPrediction(
        scar_length=float(np.exp(log_length)),
        low=low,
        high=high,
        single_low=single_low,
        single_high=single_high,
        confidence=confidence,
        method=method,
        note=note,
    )


def _boxed(fit: ArrestFit) -> bool:
    return None not in (fit.wear_low, fit.film_low, fit.film_high)


_MOST_STEPS = 100


def film_from_quiet_time(
    scar_length: ArrayLike,
    quiet_time: ArrayLike,
    duration: ArrayLike,
    load: ArrayLike,
    speed: ArrayLike,
    pair: CrossedCylinders,
    excess: float = 0.05,
) -> tuple[FloatArray, FloatArray]:
    """Compute wear coefficient and film pressure of a run from its scar and its quiet time.

    Two conditions for two unknowns, in the wear-arrest model with the exact scar (`worn_depth_exact`): at
    the quiet time the mean pressure has come down to ``pf (1 + excess)``, and at the end the scar has its
    measured length. The film pressure hardly depends on the excess; the wear coefficient does: it goes with
    the time ratio of ``1/(1 + excess)``, which is 2.09 at 5 % and 3.63 at 1 %. No interval can be given:
    no data are left to estimate the scatter.

    Parameters
    ----------
    scar_length : array_like
        Length of the scar at the end [m].
    quiet_time : array_like
        Time at which the rubbing noise stopped [s], at most the duration.
    duration : array_like
        Duration of the run at one load [s].
    load : array_like
        Load [N].
    speed : array_like
        Sliding speed [m/s].
    pair : CrossedCylinders
        The geometry.
    excess : float
        Relative excess of pressure over film pressure at which the noise stops [-]; an assumption.

    Returns
    -------
    tuple of two ndarray of float
        Wear coefficient [m^2/N] and film pressure [Pa], broadcast shape; NaN where an input is.

    Raises
    ------
    ValueError
        A quiet time is later than the end, another argument is not above zero, or the scar is deeper than
        0.8 of the smaller radius.

    References
    ----------
    Derivation: L gives A(end), and A(quiet) = F/(pf (1 + excess)); both times on one clock (`area_clock`)
    leave one equation for A_inf = F/pf, solved by repeated substitution. That noise ends with metal contact
    is common practice; the excess of 5 % is a convention of this package.

    Examples
    --------
    A scar of 3.2 mm after 60 s at 600 N, quiet after 20 s:

    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> k, film = film_from_quiet_time(3.2e-3, 20, 60, 600, 1.466, pair)
    >>> round(float(film) / 1e6, 1), f"{float(k):.2e}"
    (136.2, '3.36e-14')
    """
    quiet, end = positive("quiet_time", quiet_time), positive("duration", duration)
    if np.any(quiet > end):
        raise ValueError("quiet_time must not be later than the end of the run, duration")
    force, pace = positive("load", load), positive("speed", speed)
    growth = scar_growth(pair)
    length, quiet, end, force, pace = np.broadcast_arrays(
        positive("scar_length", scar_length), quiet, end, force, pace
    )
    area = pair.area_at_depth(pair.scar_depth(length))
    if np.any(area > growth.largest_area):
        raise ValueError("scar_length gives a scar deeper than 0.8 of the smaller radius")
    share = np.full(area.shape, 1.0 / (1.0 + float(positive("excess", excess))))
    final = area / share
    for _ in range(_MOST_STEPS):
        clock = area_clock(share, final, growth)
        last, final = final, area / area_fraction(clock * end / quiet, final, growth)
        if not np.any(np.abs(final - last) > 1e-14 * final):
            break
    film = force / final
    return np.asarray(clock * final / (growth.slope * pace * film * quiet)), np.asarray(film)
