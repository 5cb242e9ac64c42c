"""The zero of a friction force: what the recorder showed while nothing pressed on the pin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.evidence.robust import TO_SD, rounding_sd

FloatArray = NDArray[np.float64]

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
    Own convention: a drift that nobody saw is taken to be even.

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
