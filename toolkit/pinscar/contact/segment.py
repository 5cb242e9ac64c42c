"""Circular segments: what a chord cuts off a circle, to full accuracy from shallow to whole."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, positive, within

# x - sin x = x^3 (1/3! - x^2/5! + x^4/7! - ...): below this angle the series, above it the plain difference.
_SERIES_BELOW = 1.0
_SERIES = tuple((-1.0) ** k / float(np.prod(np.arange(1.0, 2 * k + 4))) for k in range(9))


def angle_minus_sine(angle: ArrayLike) -> FloatArray:
    """Compute ``x - sin x`` without losing digits at small angles.

    Parameters
    ----------
    angle : array_like
        Angle x [rad], 0 or more.

    Returns
    -------
    ndarray of float
        x - sin x [-], same shape.

    References
    ----------
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, eq. (4.3.65), series of the
    sine.

    Examples
    --------
    >>> f"{float(angle_minus_sine(1e-3)):.12e}"
    '1.666666583333e-10'
    """
    x = as_floats(angle)
    square = np.minimum(x, _SERIES_BELOW) ** 2
    series = np.full_like(square, _SERIES[-1])
    for coefficient in _SERIES[-2::-1]:
        series = series * square + coefficient
    return np.where(x < _SERIES_BELOW, series * square * np.minimum(x, _SERIES_BELOW), x - np.sin(x))


def segment_area(radius: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Compute the area that a chord cuts off a circle, from the depth under the rim.

    ``S = r^2 (alpha - sin alpha)/2`` with the angle that the chord subtends, ``alpha = 4 asin sqrt(d/(2
    r))``.

    Parameters
    ----------
    radius : array_like
        Radius r of the circle [m].
    depth : array_like
        Depth d of the segment [m], 0 to 2 r.

    Returns
    -------
    ndarray of float
        Area [m^2], broadcast shape.

    Raises
    ------
    ValueError
        The radius is not above zero, or the depth lies outside 0 to 2 r.

    References
    ----------
    Plane geometry, as in I. N. Bronshtein and K. A. Semendyayev, Handbook of Mathematics, circular segment.

    Examples
    --------
    Half a circle of radius 1:

    >>> round(float(segment_area(1.0, 1.0)), 6)
    1.570796
    """
    r = positive("radius", radius)
    share = within("depth over diameter", as_floats(depth) / (2.0 * r), 0.0, 1.0)
    return np.asarray(0.5 * r**2 * angle_minus_sine(4.0 * np.arcsin(np.sqrt(share))))


def sagitta(radius: ArrayLike, half_chord: ArrayLike) -> FloatArray:
    """Compute the depth of a circular segment from half its chord, ``d = r - sqrt(r^2 - c^2)``.

    Parameters
    ----------
    radius : array_like
        Radius r of the circle [m].
    half_chord : array_like
        Half the chord c [m], -r to r.

    Returns
    -------
    ndarray of float
        Depth, at most one radius [m], broadcast shape.

    Raises
    ------
    ValueError
        The radius is not above zero, or the chord is longer than the diameter.

    References
    ----------
    Plane geometry; written as ``c^2/(r + sqrt(r^2 - c^2))``, which keeps all digits of a shallow segment.

    Examples
    --------
    >>> round(float(sagitta(20e-3, 5e-3)) * 1e3, 8)
    0.63508327
    """
    r, c = positive("radius", radius), as_floats(half_chord)
    room = (r - c) * (r + c)
    if np.any(room < 0):
        raise ValueError("half_chord must not exceed the radius: the chord is longer than the diameter")
    return np.asarray(c * c / (r + np.sqrt(room)))


def half_chord(radius: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Compute half the chord of a circular segment from its depth, ``c = sqrt(2 r d - d^2)``.

    Parameters
    ----------
    radius : array_like
        Radius r of the circle [m].
    depth : array_like
        Depth d [m], 0 to 2 r.

    Returns
    -------
    ndarray of float
        Half the chord [m], broadcast shape.

    Raises
    ------
    ValueError
        The radius is not above zero, or the depth lies outside 0 to 2 r.

    References
    ----------
    Plane geometry, intersecting chords.

    Examples
    --------
    >>> round(float(half_chord(6e-3, 0.63508327e-3)) * 2e3, 7)
    5.3731438
    """
    r, d = positive("radius", radius), as_floats(depth)
    square = d * (2.0 * r - d)
    if np.any(square < 0):
        raise ValueError("depth must lie between 0 and the diameter")
    return np.sqrt(square)
