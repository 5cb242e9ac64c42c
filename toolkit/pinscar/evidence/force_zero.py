"""The zero of a friction force, from what was read beside the run, and what rounding leaves in a mean."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.evidence.recorder import TO_SD, rounding_sd

FloatArray = NDArray[np.float64]

BESIDE = 60.0
"""Readings of that long before and after the run are looked at [s]."""

LEAST_READINGS = 5
"""A zero needs that many readings [1]."""

_BULK = 5.0  # readings that many standard deviations from their median are not averaged


@dataclass(frozen=True, slots=True)
class ForceZero:
    """Zero of the force before and after a run; each is None where no unloaded readings tell it.

    Parameters
    ----------
    before, after : float or None
        Mean of the unloaded readings, those far from their median left out [N].
    time_before, time_after : float or None
        Mean of their times [s].
    uncertainty : float
        Standard uncertainty of the mean zero over the run, from the scatter and the rounding of those
        readings [N]; NaN where there is no zero.
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
        pin was loaded there, and nothing is said of the zero; a zero below may be as large as that force [1].

    Returns
    -------
    ForceZero
        The zero on either side, from at least five readings each.

    References
    ----------
    Own convention. Uncertainty of a mean of n readings of scatter s, s / sqrt(n) times
    sqrt((n - 1) / (n - 3)): JCGM 101:2008, 6.4.9.4. What rounding in steps q leaves in the mean of readings
    that scatter by s, which is q / sqrt(12) where they do not (JCGM 100:2008, F.2.2.1) and falls by
    exp(-2 (pi s / q)^2): B. Widrow and I. Kollar, Quantization Noise, 2008, from memory. A median would stay
    on the steps.

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
    of_run = float(np.median(y[inside])) if inside.any() else 0.0
    sense = -1.0 if of_run < 0.0 else 1.0
    limits = -abs(of_run), unloaded * abs(of_run)
    sides = [(t < 0.0) & (t >= -BESIDE), (t > duration) & (t <= duration + BESIDE)]
    step = float(np.sqrt(12.0) * rounding_sd(y))
    (before, time_before, u_1), (after, time_after, u_2) = (
        _side(t[one], y[one], limits, sense, step) for one in sides
    )
    known = [u for u in (u_1, u_2) if u is not None]
    joint = float(np.sqrt(np.sum(np.square(known))) / len(known)) if known else float("nan")
    return ForceZero(before, after, time_before, time_after, joint)


def _side(
    t: FloatArray, y: FloatArray, limits: tuple[float, float], sense: float, step: float
) -> tuple[float | None, float | None, float | None]:
    if t.size < LEAST_READINGS or not limits[0] <= sense * float(np.median(y)) <= limits[1]:
        return None, None, None
    off = np.abs(y - np.median(y))
    near = off <= _BULK * TO_SD * float(np.median(off)) + step
    n = int(np.count_nonzero(near))
    if n < LEAST_READINGS:
        near, n = np.ones(t.shape, dtype=np.bool_), t.size
    spread = float(np.std(y[near], ddof=1))
    of_mean = spread * float(np.sqrt((n - 1) / (n - 3) / n))
    doubt = float(np.hypot(of_mean, left_by_rounding(step, spread)))
    return float(np.mean(y[near])), float(np.mean(t[near])), doubt


def left_by_rounding(step: float, spread: float) -> float:
    """Give the standard uncertainty that rounding leaves in a mean of readings that scatter.

    Parameters
    ----------
    step : float
        Step that readings are rounded to; 0 where they are not [any unit].
    spread : float
        Standard deviation of a reading, its rounding included [the same unit].

    Returns
    -------
    float
        The standard uncertainty [the same unit].

    References
    ----------
    B. Widrow and I. Kollar, Quantization Noise, 2008, from memory.

    Examples
    --------
    >>> round(left_by_rounding(1.0, 0.2887), 3), round(left_by_rounding(1.0, 0.6), 3)
    (0.289, 0.001)
    """
    if step == 0.0:
        return 0.0
    own = max(spread**2 - step**2 / 12.0, 0.0)
    return float(step / np.sqrt(12.0) * np.exp(-2.0 * np.pi**2 * own / step**2))


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
