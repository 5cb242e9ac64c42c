"""Temperature under a uniform disc of heat that moves over a half-space, at every Peclet number.

The numbers of this module are ``k theta / (q a)``, with the disc's radius a and the flux q.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import exprel, ive

from pinscar.contact.arrays import FloatArray, as_floats, not_negative

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(160)
# Nodes and weights on 0 to 1.
_NODES, _WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
_GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


def _centreline(peclet: FloatArray, x: FloatArray) -> FloatArray:
    """Integrate over the directions psi that the heat comes from, 0 being straight from the leading edge."""
    pe, place = peclet[..., None], x[..., None]
    total = np.zeros(np.broadcast_shapes(peclet.shape, x.shape))
    # The integrand is 1/sqrt(Pe) wide around psi = 0, so more nodes lie there. It may have a corner at pi/2.
    for start, width, power in ((0.0, 0.5 * np.pi, 3), (0.5 * np.pi, 0.5 * np.pi, 1)):
        psi = start + width * _NODES**power
        weight = _WEIGHTS * width * power * _NODES ** (power - 1)
        cos, sin = np.cos(psi), np.sin(psi)
        reach = place * cos + np.sqrt(1.0 - (place * sin) ** 2)
        loss = pe * reach * 2.0 * np.sin(0.5 * psi) ** 2
        total = total + np.sum(weight * reach * exprel(-loss), axis=-1)
    return total / np.pi


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
    Golden section for one maximum: W. H. Press et al., Numerical Recipes, 3rd ed., 2007, section 10.2. J.
    C. Jaeger, 1942: the hottest place lies on the trailing half.

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
    # R = 2 s^2 puts more nodes near R = 0, where the integrand is large at high speed.
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
