"""Temperature of a half-space in time: constant flux over the whole surface or over a disc."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erfcx

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive
from pinscar.contact.heat import thermal_diffusivity

_ROOT_PI = np.sqrt(np.pi)


def ierfc(x: ArrayLike) -> FloatArray:
    r"""Compute the first integral of the complementary error function.

    .. math:: \mathrm{ierfc}(x) = \int_x^\infty \mathrm{erfc}(t) \, dt
        = e^{-x^2} / \sqrt{\pi} - x \, \mathrm{erfc}(x)

    Parameters
    ----------
    x : array_like
        Argument, not negative [-], any shape.

    Returns
    -------
    ndarray
        ierfc(x) [-].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, appendix II, eq. (10).

    Examples
    --------
    >>> f"{ierfc(0.0):.6f}"
    '0.564190'
    """
    z = not_negative("x", x)
    return as_floats(np.exp(-(z**2)) * (1.0 / _ROOT_PI - z * erfcx(z)))


def half_space_rise(
    heat_flux: ArrayLike,
    time: ArrayLike,
    depth: ArrayLike,
    conductivity: ArrayLike,
    density: ArrayLike,
    specific_heat: ArrayLike,
) -> FloatArray:
    r"""Compute the temperature rise in a half-space under a constant flux over its whole surface.

    .. math:: \theta = \frac{2 q \sqrt{\kappa t}}{k} \, \mathrm{ierfc} \frac{z}{2 \sqrt{\kappa t}}

    At the surface this is :math:`2 q \sqrt{t / (\pi k \rho c)}`.

    Parameters
    ----------
    heat_flux : array_like
        Heat flux q [W/m^2], any shape; all arguments broadcast.
    time : array_like
        Time since the flux began, t [s], above 0.
    depth : array_like
        Depth z [m], 0 at the surface.
    conductivity : array_like
        Thermal conductivity k [W/(m K)].
    density : array_like
        Density [kg/m^3].
    specific_heat : array_like
        Specific heat capacity [J/(kg K)].

    Returns
    -------
    ndarray
        Temperature rise [K].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, 1959, section 2.9, eq. (7) and (8).

    Examples
    --------
    >>> f"{half_space_rise(1e6, 1.0, 1e-3, 46.0, 7850.0, 460.0):.4f}"
    '67.5247'
    """
    reach = 2.0 * np.sqrt(thermal_diffusivity(conductivity, density, specific_heat) * positive("time", time))
    return (
        not_negative("heat_flux", heat_flux)
        * reach
        / as_floats(conductivity)
        * ierfc(as_floats(depth) / reach)
    )


def disc_centre_rise(
    heat_flux: ArrayLike,
    radius: ArrayLike,
    time: ArrayLike,
    conductivity: ArrayLike,
    density: ArrayLike,
    specific_heat: ArrayLike,
) -> FloatArray:
    r"""Compute the rise in time at the centre of a disc of constant flux at rest on a half-space.

    .. math:: \theta = \frac{2 q \sqrt{\kappa t}}{k}
        \left( \frac{1}{\sqrt{\pi}} - \mathrm{ierfc} \frac{a}{2 \sqrt{\kappa t}} \right)

    which tends to q a / k.

    Parameters
    ----------
    heat_flux : array_like
        Heat flux q [W/m^2], any shape; all arguments broadcast.
    radius : array_like
        Radius of the disc a [m].
    time : array_like
        Time since the flux began, t [s], above 0.
    conductivity : array_like
        Thermal conductivity k [W/(m K)].
    density : array_like
        Density [kg/m^3].
    specific_heat : array_like
        Specific heat capacity [J/(kg K)].

    Returns
    -------
    ndarray
        Temperature rise [K].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, 1959, section 10.5 (disc source).

    Examples
    --------
    >>> f"{disc_centre_rise(1e6, 0.5e-3, 0.01, 46.0, 7850.0, 460.0):.5f}"
    '6.89366'
    """
    reach = 2.0 * np.sqrt(thermal_diffusivity(conductivity, density, specific_heat) * positive("time", time))
    x = positive("radius", radius) / reach
    # 1/sqrt(pi) - ierfc(x), written so that it keeps its digits when the disc has long been hot (small x).
    part = as_floats(-np.expm1(-(x**2)) / _ROOT_PI + x * np.exp(-(x**2)) * erfcx(x))
    return not_negative("heat_flux", heat_flux) * reach / as_floats(conductivity) * part
