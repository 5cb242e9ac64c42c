"""Steady temperature of a half-space under a source at rest: uniform disc, Hertzian flux, isothermal disc.

Heat sources here are given by their total heat, so that the kinds can be set side by side.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive


def _scale(power: ArrayLike, radius: ArrayLike, conductivity: ArrayLike) -> FloatArray:
    size = positive("radius", radius) * positive("conductivity", conductivity)
    return not_negative("power", power) / size


def uniform_disc_maximum(power: ArrayLike, radius: ArrayLike, conductivity: ArrayLike) -> FloatArray:
    r"""Compute the rise at the centre of a disc of uniform flux.

    .. math:: \theta = Q / (\pi a k) = q a / k

    Parameters
    ----------
    power : array_like
        Heat that flows into the body, Q [W], any shape; all arguments broadcast.
    radius : array_like
        Radius of the disc a [m].
    conductivity : array_like
        Thermal conductivity k [W/(m K)].

    Returns
    -------
    ndarray
        Temperature rise [K].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, section 8.2.

    Examples
    --------
    >>> f"{uniform_disc_maximum(10.0, 1e-3, 46.0):.3f}"
    '69.198'
    """
    return _scale(power, radius, conductivity) / np.pi


def uniform_disc_mean(power: ArrayLike, radius: ArrayLike, conductivity: ArrayLike) -> FloatArray:
    r"""Compute the mean rise over a disc of uniform flux.

    .. math:: \bar\theta = \frac{8}{3 \pi^2} \frac{Q}{a k} = \frac{8}{3 \pi} \frac{q a}{k}

    Parameters
    ----------
    power : array_like
        Heat that flows into the body, Q [W], any shape; all arguments broadcast.
    radius : array_like
        Radius of the disc a [m].
    conductivity : array_like
        Thermal conductivity k [W/(m K)].

    Returns
    -------
    ndarray
        Temperature rise [K].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, 1959, section 8.2, eq. (8).

    Examples
    --------
    >>> f"{uniform_disc_mean(10.0, 1e-3, 46.0):.3f}"
    '58.737'
    """
    return 8.0 / (3.0 * np.pi**2) * _scale(power, radius, conductivity)


def hertzian_disc_rise(
    power: ArrayLike, radius: ArrayLike, conductivity: ArrayLike, position: ArrayLike
) -> FloatArray:
    r"""Compute the rise under a semi-ellipsoidal flux, as a Hertz contact with constant friction makes it.

    .. math:: \theta(r) = \frac{\pi q_0 (2 a^2 - r^2)}{8 k a}, \quad q_0 = \frac{3 Q}{2 \pi a^2}

    At the centre 3/8 of Q/(a k), on average 9/32.

    Parameters
    ----------
    power : array_like
        Heat that flows into the body, Q [W], any shape; all arguments broadcast.
    radius : array_like
        Radius of the contact a [m].
    conductivity : array_like
        Thermal conductivity k [W/(m K)].
    position : array_like
        Distance from the centre r [m], within the contact.

    Returns
    -------
    ndarray
        Temperature rise [K].

    Raises
    ------
    ValueError
        If a position lies outside the contact.

    References
    ----------
    Own derivation: the steady rise obeys the same integral as the surface displacement under a Hertz
    pressure, K. L. Johnson, Contact Mechanics, 1985, eq. (3.41a).

    Examples
    --------
    >>> f"{hertzian_disc_rise(10.0, 1e-3, 46.0, 0.0):.3f}"
    '81.522'
    """
    share = not_negative("position", position) / positive("radius", radius)
    if np.any(share > 1.0):
        raise ValueError(f"position must lie within the radius, found {np.nanmax(share):g} of it")
    return 3.0 / 16.0 * (2.0 - share**2) * _scale(power, radius, conductivity)


def isothermal_disc_rise(power: ArrayLike, radius: ArrayLike, conductivity: ArrayLike) -> FloatArray:
    r"""Compute the rise of a disc held at one temperature.

    .. math:: \theta = Q / (4 a k)

    Parameters
    ----------
    power : array_like
        Heat that flows into the body, Q [W], any shape; all arguments broadcast.
    radius : array_like
        Radius of the disc a [m].
    conductivity : array_like
        Thermal conductivity k [W/(m K)].

    Returns
    -------
    ndarray
        Temperature rise [K].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, 1959, section 8.2 (circular contact of one temperature).

    Examples
    --------
    >>> f"{isothermal_disc_rise(10.0, 1e-3, 46.0):.3f}"
    '54.348'
    """
    return 0.25 * _scale(power, radius, conductivity)
