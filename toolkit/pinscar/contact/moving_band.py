"""Temperature under a uniform band of heat moving over a half-space (Jaeger 1942), at every Peclet number.

All lengths here are in units of ``2 kappa / v``: the half-width is then the Peclet number itself, and the
rise is ``theta = 2 kappa q / (pi k v)`` times the numbers of this module.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import k0e, k1e

from pinscar.contact.arrays import FloatArray, as_floats, positive

_HALVINGS = 60


def _integral(s: FloatArray) -> FloatArray:
    """Integrate exp(u) K0(|u|) from 0 to s; A&S 11.3.15 and 11.3.16 with the limit s K1(s) -> 1 taken off."""
    t = np.where(s == 0, 1.0, np.abs(s))
    ahead = t * (k0e(t) + k1e(t)) - 1.0
    behind = -(t * np.exp(-2.0 * t) * (k0e(t) - k1e(t)) + 1.0)
    return np.where(s == 0, 0.0, np.where(s > 0, ahead, behind))


def band_profile(peclet: ArrayLike, position: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless surface temperature under and around a moving band.

    .. math:: \theta^* = \int_{X-L}^{X+L} e^u K_0(|u|) \, du

    in closed form, since :math:`\int e^u K_0 du = u e^u (K_0 + K_1)` and
    :math:`\int e^{-u} K_0 du = u e^{-u} (K_0 - K_1)`.

    Parameters
    ----------
    peclet : array_like
        Peclet number L = v l / (2 kappa), l the half-width [-], any shape.
    position : array_like
        Distance X from the middle of the band in units of 2 kappa / v, positive to the trailing side [-].

    Returns
    -------
    ndarray
        pi k v theta / (2 kappa q) [-].

    References
    ----------
    J. C. Jaeger, Moving sources of heat and the temperature at sliding contacts, Journal and Proceedings of
    the Royal Society of New South Wales 76, 1942, 203-224; M. Abramowitz and I. A. Stegun, Handbook of
    Mathematical Functions, 1964, 11.3.15 and 11.3.16.

    Examples
    --------
    >>> f"{band_profile(5.0, 0.8759 * 5.0):.5f}"
    '7.61271'
    """
    half, x = positive("peclet", peclet), as_floats(position)
    return _integral(x + half) - _integral(x - half)


def band_hottest_position(peclet: ArrayLike) -> FloatArray:
    r"""Find where under the band the surface is hottest.

    The profile's slope, :math:`e^{X+L} K_0(X+L) - e^{X-L} K_0(|X-L|)`, falls through zero once between the
    middle and the trailing edge; it is found by halving.

    Parameters
    ----------
    peclet : array_like
        Peclet number L [-], any shape.

    Returns
    -------
    ndarray
        X / L, 0 in the middle and 1 at the trailing edge [-].

    References
    ----------
    Own derivation from J. C. Jaeger, 1942.

    Examples
    --------
    >>> f"{band_hottest_position(5.0):.4f}"
    '0.8759'
    """
    half = positive("peclet", peclet)
    # The distance to the trailing edge as a share of the band: it keeps its digits where the place is near 1.
    low, high = np.zeros_like(half), np.ones_like(half)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        to_edge = middle * half
        # Cools towards the edge where the far side's share is smaller than the near side's.
        past = k0e(2.0 * half - to_edge) < np.exp(-2.0 * to_edge) * k0e(to_edge)
        low, high = np.where(past, middle, low), np.where(past, high, middle)
    return np.where(np.isnan(half), np.nan, 1.0 - 0.5 * (low + high))


def band_maximum(peclet: ArrayLike) -> FloatArray:
    """Compute the dimensionless maximum temperature under a moving band.

    Parameters
    ----------
    peclet : array_like
        Peclet number L [-], any shape.

    Returns
    -------
    ndarray
        pi k v theta_max / (2 kappa q) [-]; it tends to 2 sqrt(pi L) for a fast band.

    References
    ----------
    J. C. Jaeger, 1942; closed form: see `band_profile`.

    Examples
    --------
    >>> f"{band_maximum(10.0):.5f}"
    '10.94844'
    """
    half = positive("peclet", peclet)
    return band_profile(half, band_hottest_position(half) * half)


def band_mean(peclet: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless mean temperature over a moving band.

    .. math:: \frac{1}{2L} \int_{-L}^{L} \theta^* dX
        = \frac{1}{2L} \int_0^{2L} (2L - u)(e^u + e^{-u}) K_0(u) \, du

    in closed form, since :math:`3 \int u e^{\pm u} K_0 du = u^2 e^{\pm u} (K_0 \pm K_1) - u e^{\pm u} K_1`.

    Parameters
    ----------
    peclet : array_like
        Peclet number L [-], any shape.

    Returns
    -------
    ndarray
        pi k v theta_mean / (2 kappa q) [-].

    References
    ----------
    Own derivation from J. C. Jaeger, 1942; it is checked against quadrature.

    Examples
    --------
    >>> f"{band_mean(10.0):.5f}"
    '7.58141'
    """
    width = 2.0 * positive("peclet", peclet)
    k0, k1, decay = k0e(width), k1e(width), np.exp(-2.0 * width)
    first = (width**2 * (k0 + k1) - width * k1) / 3.0 + 1.0 / 3.0
    second = decay * (width**2 * (k0 - k1) - width * k1) / 3.0 + 1.0 / 3.0
    whole = _integral(width) - _integral(-width)
    return whole - (first + second) / width
