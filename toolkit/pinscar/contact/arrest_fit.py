"""Wear coefficient and film pressure from scars of runs that were stopped after different times."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares
from scipy.special import stdtrit

from pinscar.contact.arrays import FloatArray, as_floats, positive, within
from pinscar.contact.arrest_exact import ScarGrowth, scar_growth
from pinscar.contact.arrest_model import expected_log_lengths, gradient
from pinscar.contact.arrest_profile import Region, SumOfSquares, profile_limit, profile_sum
from pinscar.contact.crossed_cylinders import CrossedCylinders

# How far from the data the parameters are followed, as factors: beyond them the curve no longer changes.
_WEAR_RANGE = 1e5
_FILM_LOWEST, _FILM_HIGHEST = 1e-3, 5.0
# A parameter counts as not determined when leaving it out costs less than this share of the sum of squares.
_NO_LOSS = 1e-6
# A sum of squares like this is rounding: the scars were made from the model.
_NO_SCATTER = 1e-18
_EXACT = "no interval: the scars lie on the curve without scatter"
_WORST_CONDITION = 1e12

METHOD = (
    "nonlinear least squares on the logarithm of scar length, wear-arrest model with the exact scar; "
    "profile-likelihood intervals, calibrated by the t distribution with n - 2 degrees of freedom"
)


@dataclass(frozen=True)
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
    # The second start lies near arrest, the third far from it, so that neither end of the valley is missed.
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
