"""Shape of an elliptic contact: axis ratio b/a from curvature ratio B/A, to full accuracy."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats

# Starting value: ln(a/b) = x * polynomial in t = x/(x + 8), x = ln(B/A). Least-squares fit to the exact
# curve over B/A from 1 to 1e34, within 6.1e-5 of it; the Newton steps that follow remove that error, so no
# result rests on it.
_START_SCALE = 8.0
_START = (0.667073, -0.017192, 0.03737, -1.838244, 4.135523, -2.981291, -0.978042, 2.398247, -0.92153)
# Newton's error after a step of this size is below 1e-16, since ln(a/b) against ln(B/A) is nearly straight.
_LAST_STEP = 1e-8
_MOST_STEPS = 20
# Arrays of this many numbers stay in the processor's cache through all the passes over them.
_BLOCK = 4096


def agm_sums(axis_ratio: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Compute K and the sum T of the arithmetic-geometric mean, from which every Hertz integral follows.

    With ``k' = b/a``, ``m = e^2 = 1 - k'^2``, start ``a_0 = 1``, ``g_0 = k'`` and iterate
    ``a_n+1 = (a_n + g_n)/2``, ``g_n+1 = sqrt(a_n g_n)``, ``c_n+1 = (a_n - g_n)/2``. Then ``K = pi/(2
    a_inf)``, ``E = K (1 - sum 2^(n-1) c_n^2)``, and with ``T = sum from n = 1 of 2^(n-1) (c_n/m)^2``::

        (K - E)/m         = K (1/2 + m T)
        (E - (1 - m) K)/m = K (1/2 - m T)

    ``c_1/m = 1/(2 (1 + k'))`` and ``c_n+1 = c_n^2/(4 a_n+1)``, so no difference of nearly equal numbers is
    formed and the circle (m = 0) needs no special case.

    Parameters
    ----------
    axis_ratio : array_like
        Short over long half-axis, b/a [-], above 0 to 1.

    Returns
    -------
    tuple of two ndarray of float
        Complete elliptic integral of the first kind K [-], and T [-].

    References
    ----------
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, sections 17.3 and 17.6. The
    form in T is an own derivation.

    Examples
    --------
    The circle has K = pi/2 and T = 1/16:

    >>> k, t = agm_sums(1.0)
    >>> round(float(k), 6), float(t)
    (1.570796, 0.0625)
    """
    ratio = as_floats(axis_ratio)
    mean, geometric = 0.5 * (1.0 + ratio), np.sqrt(ratio)
    half_gap = 0.5 * (1.0 - ratio)
    scaled_gap = 0.5 / (1.0 + ratio)
    total, weight = scaled_gap * scaled_gap, 1.0
    # The next gap is about the square of this one, so it would be below 1e-18.
    while np.any(half_gap > 1e-9):
        mean, geometric = 0.5 * (mean + geometric), np.sqrt(mean * geometric)
        shrink = half_gap / (4.0 * mean)
        half_gap = half_gap * shrink
        scaled_gap = scaled_gap * shrink
        weight *= 2.0
        total = total + weight * scaled_gap * scaled_gap
    return np.asarray(0.5 * np.pi / mean), np.asarray(total)


def ellipse_shape(curvature_ratio: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Compute the axis ratio b/a of the contact ellipse from the curvature ratio B/A, and its integrals.

    Solves ``B/A = (E/(1 - e^2) - K)/(K - E)``, ``e^2 = 1 - (b/a)^2``, by Newton steps for ``y = ln(a/b)``
    in the form ``ln(B/A) = 2 y - 2 artanh(2 m T)``, whose slope is ``1 + 2 T ((1 - m)/(1/2 - m T) + 1/(1/2
    + m T))``; K, E, m and T as in `agm_sums`.

    Parameters
    ----------
    curvature_ratio : array_like
        B/A [-], 1 (circle) or more, finite; NaN gives NaN.

    Returns
    -------
    tuple of three ndarray of float
        b/a [-], K [-] and T [-], same shape.

    Raises
    ------
    ValueError
        A ratio is below 1 or infinite (a line contact has no axis ratio).

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2(c), eq. (4.25). The logarithmic form and its slope
    are an own derivation.

    Examples
    --------
    Pin of 6 mm radius across a ring of 20 mm radius at 90 degrees, B/A = 10/3:

    >>> ratio, _, _ = ellipse_shape(10 / 3)
    >>> round(float(ratio), 6)
    0.450424
    """
    ratios = as_floats(curvature_ratio)
    if np.any(ratios < 1.0) or np.any(np.isinf(ratios)):
        raise ValueError("curvature_ratio must be finite and not below 1")
    flat = ratios.reshape(-1)
    found = np.empty((3, flat.size))
    for start in range(0, flat.size, _BLOCK):
        block = slice(start, start + _BLOCK)
        found[0, block] = _axis_ratio(flat[block])
        found[1, block], found[2, block] = agm_sums(found[0, block])
    ratio, k, t = found.reshape((3, *ratios.shape))
    return ratio, k, t


def _axis_ratio(ratios: FloatArray) -> FloatArray:
    # log1p keeps the digits of a nearly circular contact.
    target = np.log1p(ratios - 1.0)
    y = _start(target)
    for _ in range(_MOST_STEPS):
        kappa = np.exp(-y)
        m1 = kappa * kappa
        total = agm_sums(kappa)[1]
        mt = -np.expm1(-2.0 * y) * total
        slope = 1.0 + 2.0 * total * (m1 / (0.5 - mt) + 1.0 / (0.5 + mt))
        step = (target - 2.0 * y + 2.0 * np.arctanh(2.0 * mt)) / slope
        y += step
        if not np.any(np.abs(step) > _LAST_STEP):
            return np.exp(-y)
    raise ArithmeticError(f"the axis ratio did not settle in {_MOST_STEPS} steps")


def _start(target: FloatArray) -> FloatArray:
    t = target / (target + _START_SCALE)
    value = np.full_like(t, _START[-1])
    for coefficient in _START[-2::-1]:
        value = value * t + coefficient
    return value * target
