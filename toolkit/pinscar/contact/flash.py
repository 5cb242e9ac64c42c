"""Flash temperature of a sliding contact: band and disc sources, heat shared by Blok's rule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive
from pinscar.contact.heat import blok_partition, peclet_number
from pinscar.contact.moving_band import band_maximum, band_mean
from pinscar.contact.moving_disc import (
    disc_maximum,
    disc_mean,
    tian_kennedy_maximum,
    tian_kennedy_mean,
)

Measure = Literal["maximum", "mean"]
Method = Literal["quadrature", "tian-kennedy"]

_DISC = {
    ("quadrature", "maximum"): disc_maximum,
    ("quadrature", "mean"): disc_mean,
    ("tian-kennedy", "maximum"): tian_kennedy_maximum,
    ("tian-kennedy", "mean"): tian_kennedy_mean,
}
_BAND = {"maximum": band_maximum, "mean": band_mean}


@dataclass(frozen=True)
class FlashRise:
    """Flash temperature of a contact, with what it came from.

    Attributes
    ----------
    maximum : ndarray
        Largest rise over the bulk temperature, the same on both surfaces [K].
    mean_1, mean_2 : ndarray
        Mean rise over the contact on each body with the same share of heat [K].
    share_1 : ndarray
        Share of the friction heat that body 1 takes [-].
    peclet_1, peclet_2 : ndarray
        Peclet number of the source on each body [-].
    method : str
        How the rises were computed, for the report.
    """

    maximum: FloatArray
    mean_1: FloatArray
    mean_2: FloatArray
    share_1: FloatArray
    peclet_1: FloatArray
    peclet_2: FloatArray
    method: str


def band_rise(
    heat_flux: ArrayLike,
    half_width: ArrayLike,
    speed: ArrayLike,
    conductivity: ArrayLike,
    diffusivity: ArrayLike,
    measure: Measure = "maximum",
) -> FloatArray:
    r"""Compute the rise under a uniform band of heat that moves at right angles to its length.

    .. math:: \theta = \frac{2 \kappa q}{\pi k v} \theta^*(L), \quad L = \frac{v l}{2 \kappa}

    Parameters
    ----------
    heat_flux : array_like
        Heat flux into this body, q [W/m^2], any shape; all arguments broadcast.
    half_width : array_like
        Half-width of the band in the direction of motion, l [m].
    speed : array_like
        Speed of the band over the body, v [m/s], above 0: under a band at rest no steady temperature exists.
    conductivity : array_like
        Thermal conductivity of the body, k [W/(m K)].
    diffusivity : array_like
        Thermal diffusivity of the body, kappa [m^2/s].
    measure : str
        ``maximum`` or ``mean`` over the band.

    Returns
    -------
    ndarray
        Temperature rise [K].

    Raises
    ------
    ValueError
        If the measure is not known.

    References
    ----------
    J. C. Jaeger, Moving sources of heat and the temperature at sliding contacts, 1942.

    Examples
    --------
    >>> f"{band_rise(1e8, 0.1e-3, 1.5, 46.0, 12.739e-6):.1f}"
    '97.6'
    """
    if measure not in _BAND:
        raise ValueError(f"measure must be 'maximum' or 'mean', found {measure!r}")
    v, kappa = positive("speed", speed), positive("diffusivity", diffusivity)
    number = _BAND[measure](peclet_number(v, half_width, kappa))
    scale = 2.0 * kappa * not_negative("heat_flux", heat_flux) / (np.pi * v)
    return scale / positive("conductivity", conductivity) * number


def disc_rise(
    heat_flux: ArrayLike,
    radius: ArrayLike,
    speed: ArrayLike,
    conductivity: ArrayLike,
    diffusivity: ArrayLike,
    measure: Measure = "maximum",
    method: Method = "quadrature",
) -> FloatArray:
    r"""Compute the rise under a uniform disc of heat, moving or at rest.

    .. math:: \theta = \frac{q a}{k} f(Pe), \quad Pe = \frac{v a}{2 \kappa}

    Parameters
    ----------
    heat_flux : array_like
        Heat flux into this body, q [W/m^2], any shape; all arguments broadcast.
    radius : array_like
        Radius of the disc, a [m].
    speed : array_like
        Speed of the disc over the body, v [m/s]; 0 on the body that the source rests on.
    conductivity : array_like
        Thermal conductivity of the body, k [W/(m K)].
    diffusivity : array_like
        Thermal diffusivity of the body, kappa [m^2/s].
    measure : str
        ``maximum`` or ``mean`` over the disc.
    method : str
        ``quadrature`` (default) or ``tian-kennedy``, the published fit.

    Returns
    -------
    ndarray
        Temperature rise [K].

    Raises
    ------
    ValueError
        If measure or method is not known.

    References
    ----------
    J. C. Jaeger, 1942, and X. Tian and F. E. Kennedy, 1994; see `pinscar.contact.moving_disc`.

    Examples
    --------
    >>> [f"{rise:.1f}" for rise in disc_rise(1e7, 1e-3, [0.0, 1.466], 46.0, 12.739e-6)]
    ['217.4', '32.0']
    """
    if (method, measure) not in _DISC:
        raise ValueError(
            "method must be 'quadrature' or 'tian-kennedy' and measure 'maximum' or 'mean', "
            f"found {method!r} and {measure!r}"
        )
    number = _DISC[method, measure](peclet_number(speed, radius, diffusivity))
    strength = not_negative("heat_flux", heat_flux) * positive("radius", radius)
    return strength / positive("conductivity", conductivity) * number


def equal_area_radius(area: ArrayLike) -> FloatArray:
    r"""Compute the radius of the circle that stands in for an oval contact, :math:`\sqrt{A / \pi}`.

    Parameters
    ----------
    area : array_like
        Contact or scar area [m^2], any shape.

    Returns
    -------
    ndarray
        Radius [m].

    References
    ----------
    Common practice. The temperature of a source depends on its area much more than on its outline.

    Examples
    --------
    >>> f"{equal_area_radius(6.862679e-6) * 1e3:.4f}"
    '1.4780'
    """
    return np.sqrt(positive("area", area) / np.pi)


def contact_flash(
    power: ArrayLike,
    radius: ArrayLike,
    speed_1: ArrayLike,
    conductivity_1: ArrayLike,
    diffusivity_1: ArrayLike,
    speed_2: ArrayLike,
    conductivity_2: ArrayLike,
    diffusivity_2: ArrayLike,
    method: Method = "quadrature",
) -> FlashRise:
    r"""Compute the flash temperature of a circular contact whose heat two bodies share.

    Each body's maximum rise with all the heat, by `disc_rise`, gives Blok's share; both then reach

    .. math:: \theta = \theta_1 \theta_2 / (\theta_1 + \theta_2)

    over the same bulk temperature. The heat is spread evenly over the contact, as in a worn scar; the state
    is steady; the oil carries none of the heat away, so the figure is high for a flooded contact. A range
    of powers in gives a range of temperatures out.

    Parameters
    ----------
    power : array_like
        Friction power [W], any shape; all arguments broadcast.
    radius : array_like
        Radius of the contact, for an oval one `equal_area_radius` [m].
    speed_1, speed_2 : array_like
        Speed of the source over each body [m/s]: 0 for the pin, the sliding speed for the ring.
    conductivity_1, conductivity_2 : array_like
        Thermal conductivity of each body [W/(m K)].
    diffusivity_1, diffusivity_2 : array_like
        Thermal diffusivity of each body [m^2/s].
    method : str
        ``quadrature`` (default) or ``tian-kennedy``, the published fit.

    Returns
    -------
    FlashRise
        Maximum and mean rises [K], share, Peclet numbers, method.

    References
    ----------
    H. Blok, 1937, equal maximum temperatures; J. C. Jaeger, 1942, sources.

    Examples
    --------
    >>> steel = (46.0, 12.739e-6)
    >>> flash = contact_flash([52.8, 99.0], 1.478e-3, 0.0, *steel, 1.466, *steel)
    >>> [f"{rise:.1f} K" for rise in flash.maximum], f"{flash.share_1:.3f}"
    (['26.8 K', '50.2 K'], '0.108')
    """
    flux = not_negative("power", power) / (np.pi * positive("radius", radius) ** 2)
    one, two = (
        (radius, speed_1, conductivity_1, diffusivity_1),
        (radius, speed_2, conductivity_2, diffusivity_2),
    )
    # The share does not depend on the power, and a power of zero must not divide by itself.
    share = blok_partition(disc_rise(1.0, *one, "maximum", method), disc_rise(1.0, *two, "maximum", method))
    return FlashRise(
        maximum=disc_rise(flux * share, *one, "maximum", method),
        mean_1=disc_rise(flux * share, *one, "mean", method),
        mean_2=disc_rise(flux * (1.0 - share), *two, "mean", method),
        share_1=share,
        peclet_1=peclet_number(speed_1, radius, diffusivity_1),
        peclet_2=peclet_number(speed_2, radius, diffusivity_2),
        method="moving uniform disc, quadrature" if method == "quadrature" else "Tian and Kennedy 1994",
    )
