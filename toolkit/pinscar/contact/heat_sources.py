"""Temperature rise of a half-space under heat sources: moving band and disc, and sources at rest.

Band (Jaeger, 1942): all lengths in units of ``2 kappa / v``, so the half-width is the Peclet number, and the
rise is ``2 kappa q / (pi k v)`` times the numbers here. Disc: the numbers are ``k theta / (q a)``. Sources at
rest are given by their total heat, so that uniform, Hertzian and isothermal ones can be set side by side.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import exprel, ive, k0e, k1e

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive, within

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


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(160)
# On 0 to 1.
_NODES, _WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
_GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


def _centreline(peclet: FloatArray, x: FloatArray) -> FloatArray:
    """Integrate over the directions psi that the heat comes from, 0 being straight from the leading edge."""
    pe, place = peclet[..., None], x[..., None]
    total = np.zeros(np.broadcast_shapes(peclet.shape, x.shape))
    # The kernel is 1 / sqrt(Pe) wide about psi = 0: the nodes crowd there. The rim may have a corner at pi/2.
    for start, width, power in ((0.0, 0.5 * np.pi, 3), (0.5 * np.pi, 0.5 * np.pi, 1)):
        psi = start + width * _NODES**power
        weight = _WEIGHTS * width * power * _NODES ** (power - 1)
        cos, sin = np.cos(psi), np.sin(psi)
        reach = place * cos + np.sqrt(1.0 - (place * sin) ** 2)
        loss = pe * reach * 2.0 * np.sin(0.5 * psi) ** 2
        total = total + np.sum(weight * reach * exprel(-loss), axis=-1)
    return total / np.pi


def disc_centreline(peclet: ArrayLike, position: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless temperature on the line through the disc along its motion.

    The moving point source, :math:`e^{-v (R - \xi) / 2 \kappa} / (2 \pi k R)` with its distance R and the
    part xi of it to the trailing side, is integrated over the disc in polar coordinates about the point; the
    inner integral is elementary:

    .. math:: \frac{k \theta}{q a} = \frac{1}{\pi} \int_0^\pi \frac{1 - e^{-Pe \, r (1 - \cos \psi)}}
        {Pe (1 - \cos \psi)} \, d\psi, \quad r = x \cos \psi + \sqrt{1 - x^2 \sin^2 \psi}

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.
    position : array_like
        Distance from the centre in radii, positive to the trailing side, -1 to 1 [-].

    Returns
    -------
    ndarray
        k theta / (q a) [-].

    Raises
    ------
    ValueError
        If the position lies outside the disc.

    References
    ----------
    J. C. Jaeger, 1942, point source; the polar form: own derivation.

    Examples
    --------
    >>> f"{disc_centreline(0.0, 0.0):.6f}"
    '1.000000'
    """
    pe, x = np.broadcast_arrays(not_negative("peclet", peclet), within("position", position, -1.0, 1.0))
    return _centreline(pe, x)


def disc_hottest_position(peclet: ArrayLike) -> FloatArray:
    """Find where on its centreline the disc is hottest, by golden section.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        Distance from the centre in radii, 0 at rest, towards 1 at speed [-], within 1e-6.

    References
    ----------
    Own derivation: the profile has one peak on the trailing half.

    Examples
    --------
    >>> f"{disc_hottest_position(0.0):.3f}"
    '0.000'
    """
    pe = not_negative("peclet", peclet)
    low, high = np.zeros_like(pe), np.ones_like(pe)
    for _ in range(30):
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        rising = _centreline(pe, left) < _centreline(pe, right)
        low, high = np.where(rising, left, low), np.where(rising, high, right)
    return np.where(np.isnan(pe), np.nan, 0.5 * (low + high))


def disc_maximum(peclet: ArrayLike) -> FloatArray:
    """Compute the dimensionless maximum temperature under a moving disc, by quadrature.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_max / (q a) [-]; 1 at rest.

    References
    ----------
    J. C. Jaeger, 1942, point source; the quadrature: see `disc_centreline`.

    Examples
    --------
    >>> f"{disc_maximum(5.0):.5f}"
    '0.45270'
    """
    pe = not_negative("peclet", peclet)
    return _centreline(pe, disc_hottest_position(pe))


def disc_mean(peclet: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless mean temperature over a moving disc, by quadrature.

    Averaged over pairs of points at distance R, of which the disc holds the overlap area A of two unit
    discs R apart,

    .. math:: \frac{k \bar\theta}{q a} = \frac{1}{\pi} \int_0^2 e^{-Pe R} I_0(Pe R) A(R) \, dR, \quad
        A = 2 \arccos(R/2) - (R/2) \sqrt{4 - R^2}

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_mean / (q a) [-]; 8 / (3 pi) at rest.

    References
    ----------
    J. C. Jaeger, 1942, point source; the reduction to one integral: own derivation.

    Examples
    --------
    >>> [f"{mean:.5f}" for mean in disc_mean([0.0, 5.0])]
    ['0.84883', '0.29426']
    """
    pe = not_negative("peclet", peclet)[..., None]
    # R = 2 s^2 takes the crowding of the kernel towards R = 0 at speed.
    distance = 2.0 * _NODES**2
    overlap = 2.0 * np.arccos(0.5 * distance) - 0.5 * distance * np.sqrt(4.0 - distance**2)
    kernel = ive(0, pe * distance) * overlap * 4.0 * _NODES * _WEIGHTS
    return as_floats(np.sum(kernel, axis=-1)) / np.pi


def tian_kennedy_maximum(peclet: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless maximum temperature under a moving disc by the published fit.

    .. math:: \frac{k \theta_{max}}{q a} = \frac{2}{\sqrt{\pi (1.273 + Pe)}}

    Within 2.3 % of the quadrature at every Peclet number.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_max / (q a) [-].

    References
    ----------
    X. Tian and F. E. Kennedy, Maximum and average flash temperatures in sliding contacts, Journal of
    Tribology 116, 1994, 167-174, uniform circular source; formula from memory, checked against the
    quadrature.

    Examples
    --------
    >>> f"{tian_kennedy_maximum(5.0):.5f}"
    '0.45052'
    """
    return 2.0 / np.sqrt(np.pi * (1.273 + not_negative("peclet", peclet)))


def tian_kennedy_mean(peclet: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless mean temperature over a moving disc by the published fit.

    .. math:: \frac{k \bar\theta}{q a} = \frac{1.22}{\sqrt{\pi (0.6575 + Pe)}}

    Within 4 % of the quadrature at every Peclet number.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_mean / (q a) [-].

    References
    ----------
    X. Tian and F. E. Kennedy, 1994, uniform circular source; formula from memory, checked against the
    quadrature.

    Examples
    --------
    >>> f"{tian_kennedy_mean(5.0):.4f}"
    '0.2894'
    """
    return 1.22 / np.sqrt(np.pi * (0.6575 + not_negative("peclet", peclet)))


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
