"""Oil film between smooth elastic bodies by Hamrock and Dowson (1977), film-to-roughness ratio and regime."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive

FITTED_ELLIPTICITY = (1.0, 8.0)
"""Ellipticities that the film formulas were fitted on [-]."""


@dataclass(frozen=True, kw_only=True)
class EllipticalFilm:
    """Film thickness of an elliptical contact, with the numbers it came from.

    Attributes
    ----------
    minimum, central : ndarray
        Minimum and central film thickness [m].
    ellipticity : ndarray
        Ellipticity k, axis across the motion over axis along it [-].
    within_fit : ndarray of bool
        Whether k lies within 1 to 8, the range that the formulas were fitted on. Outside it the value is
        computed all the same and has to be shown as an extrapolation.
    speed, materials, load : ndarray
        The dimensionless parameters U, G and W [-].
    """

    minimum: FloatArray
    central: FloatArray
    ellipticity: FloatArray
    within_fit: NDArray[np.bool_]
    speed: FloatArray
    materials: FloatArray
    load: FloatArray


def film_ellipticity(radius_along: ArrayLike, radius_across: ArrayLike) -> FloatArray:
    r"""Compute the ellipticity that enters the film formulas.

    .. math:: k = 1.03 (R_y / R_x)^{0.64}

    Parameters
    ----------
    radius_along : array_like
        Reduced radius in the direction in which the surface moves, Rx [m], any shape.
    radius_across : array_like
        Reduced radius at right angles to it, Ry [m].

    Returns
    -------
    ndarray
        Ellipticity [-].

    References
    ----------
    B. J. Hamrock and D. Dowson, Isothermal elastohydrodynamic lubrication of point contacts, part III,
    Journal of Lubrication Technology 99, 1977, 264-276 (abstract).

    Examples
    --------
    >>> f"{film_ellipticity(0.020, 0.006):.5f}"
    '0.47664'
    """
    ratio = positive("radius_across", radius_across) / positive("radius_along", radius_along)
    return 1.03 * ratio**0.64


def minimum_film_parameter(
    speed: ArrayLike, materials: ArrayLike, load: ArrayLike, ellipticity: ArrayLike
) -> FloatArray:
    r"""Compute the dimensionless minimum film thickness.

    .. math:: H_{min} = 3.63 \, U^{0.68} G^{0.49} W^{-0.073} (1 - e^{-0.68 k})

    Parameters
    ----------
    speed : array_like
        Speed parameter U [-], any shape.
    materials : array_like
        Materials parameter G [-].
    load : array_like
        Load parameter W [-].
    ellipticity : array_like
        Ellipticity k [-].

    Returns
    -------
    ndarray
        Minimum film thickness over Rx [-].

    References
    ----------
    B. J. Hamrock and D. Dowson, 1977, part III (abstract).

    Examples
    --------
    >>> f"{minimum_film_parameter(0.1683e-11, 4522, 0.1106e-6, 6):.6e}"
    '7.000935e-06'
    """
    u, g, w = not_negative("speed", speed), positive("materials", materials), positive("load", load)
    k = positive("ellipticity", ellipticity)
    return 3.63 * u**0.68 * g**0.49 * w**-0.073 * -np.expm1(-0.68 * k)


def central_film_parameter(
    speed: ArrayLike, materials: ArrayLike, load: ArrayLike, ellipticity: ArrayLike
) -> FloatArray:
    r"""Compute the dimensionless central film thickness.

    .. math:: H_c = 2.69 \, U^{0.67} G^{0.53} W^{-0.067} (1 - 0.61 e^{-0.73 k})

    Parameters
    ----------
    speed : array_like
        Speed parameter U [-], any shape.
    materials : array_like
        Materials parameter G [-].
    load : array_like
        Load parameter W [-].
    ellipticity : array_like
        Ellipticity k [-].

    Returns
    -------
    ndarray
        Central film thickness over Rx [-].

    References
    ----------
    B. J. Hamrock and D. Dowson, 1977, part III; formula from memory.

    Examples
    --------
    >>> f"{central_film_parameter(0.1683e-11, 4522, 0.1106e-6, 6):.6e}"
    '8.735571e-06'
    """
    u, g, w = not_negative("speed", speed), positive("materials", materials), positive("load", load)
    k = positive("ellipticity", ellipticity)
    return 2.69 * u**0.67 * g**0.53 * w**-0.067 * (1.0 - 0.61 * np.exp(-0.73 * k))


def hamrock_dowson(
    load: ArrayLike,
    entrainment_speed: ArrayLike,
    dynamic_viscosity: ArrayLike,
    pressure_viscosity: ArrayLike,
    reduced_modulus: ArrayLike,
    radius_along: ArrayLike,
    radius_across: ArrayLike,
) -> EllipticalFilm:
    r"""Compute minimum and central film thickness of an unworn elliptical contact.

    .. math::
        U = \frac{\eta_0 u}{E' R_x}, \quad G = \alpha E', \quad W = \frac{F}{E' R_x^2}, \quad E' = 2 E^*,
        \quad h = H R_x

    u is the mean of the two surface speeds seen from the contact: half the sliding speed when the pin
    stands still. For a ring that moves along the pin, Rx is the ring radius and Ry the pin radius. Some
    textbooks put ``1/(1/Rx + 1/Ry)`` in the place of Rx and then print films 2.2 times thinner for a ball;
    here it is Rx, as in the source. Fully flooded, isothermal, smooth surfaces, no starvation.

    Parameters
    ----------
    load : array_like
        Load F [N], any shape; all arguments broadcast.
    entrainment_speed : array_like
        Mean surface speed u [m/s], see `entrainment_speed`.
    dynamic_viscosity : array_like
        Dynamic viscosity at the inlet temperature and atmospheric pressure, eta_0 [Pa s].
    pressure_viscosity : array_like
        Pressure-viscosity coefficient, alpha [1/Pa].
    reduced_modulus : array_like
        Reduced modulus E* with ``1/E* = (1-nu1^2)/E1 + (1-nu2^2)/E2`` [Pa].
    radius_along : array_like
        Reduced radius in the direction of motion, Rx [m].
    radius_across : array_like
        Reduced radius at right angles to it, Ry [m].

    Returns
    -------
    EllipticalFilm
        Films [m], ellipticity, its flag, and the dimensionless parameters.

    References
    ----------
    B. J. Hamrock and D. Dowson, Isothermal elastohydrodynamic lubrication of point contacts, part III,
    Journal of Lubrication Technology 99, 1977, 264-276.

    Examples
    --------
    >>> film = hamrock_dowson(450, 1.466077 / 2, 0.08, 20e-9, 115.384615e9, 0.020, 0.006)
    >>> f"{film.minimum * 1e6:.4f} um, k {film.ellipticity:.3f}, within the fit: {film.within_fit}"
    '0.1194 um, k 0.477, within the fit: False'
    """
    modulus = 2.0 * positive("reduced_modulus", reduced_modulus)
    rx = positive("radius_along", radius_along)
    k = film_ellipticity(rx, radius_across)
    u = positive("dynamic_viscosity", dynamic_viscosity) * not_negative(
        "entrainment_speed", entrainment_speed
    )
    u = u / (modulus * rx)
    g = positive("pressure_viscosity", pressure_viscosity) * modulus
    w = positive("load", load) / (modulus * rx**2)
    within_fit = (k >= FITTED_ELLIPTICITY[0]) & (k <= FITTED_ELLIPTICITY[1])
    minimum = minimum_film_parameter(u, g, w, k) * rx
    central = central_film_parameter(u, g, w, k) * rx
    return EllipticalFilm(
        minimum=minimum,
        central=central,
        ellipticity=k,
        within_fit=np.asarray(within_fit),
        speed=u,
        materials=g,
        load=w,
    )


def entrainment_speed(surface_speed_1: ArrayLike, surface_speed_2: ArrayLike) -> FloatArray:
    r"""Compute the speed at which the surfaces draw oil into the contact.

    .. math:: u = (u_1 + u_2) / 2

    Parameters
    ----------
    surface_speed_1, surface_speed_2 : array_like
        Speeds of the two surfaces relative to the contact, with sign [m/s], any shapes that broadcast. A
        standing pin has 0; in a rolling ball on a plate, seen from the contact, both surfaces move at the
        speed of the ball's centre.

    Returns
    -------
    ndarray
        Entrainment speed [m/s], never negative.

    References
    ----------
    B. J. Hamrock and D. Dowson, 1977, part III, definition of u.

    Examples
    --------
    >>> f"{entrainment_speed(0.0, 1.466077):.6f}"
    '0.733039'
    """
    return np.abs(as_floats(surface_speed_1) + as_floats(surface_speed_2)) / 2.0


def composite_roughness(roughness_1: ArrayLike, roughness_2: ArrayLike) -> FloatArray:
    r"""Compute the roughness of the gap between two rough surfaces.

    .. math:: \sigma = \sqrt{R_{q1}^2 + R_{q2}^2}

    Parameters
    ----------
    roughness_1, roughness_2 : array_like
        Root-mean-square roughness Rq of the two surfaces [m], any shapes that broadcast.

    Returns
    -------
    ndarray
        Composite roughness [m].

    References
    ----------
    Common practice; independent heights add as variances.

    Examples
    --------
    >>> f"{composite_roughness(0.2e-6, 0.2e-6) * 1e6:.5f}"
    '0.28284'
    """
    return np.hypot(not_negative("roughness_1", roughness_1), not_negative("roughness_2", roughness_2))


def lambda_ratio(film_thickness: ArrayLike, roughness_1: ArrayLike, roughness_2: ArrayLike) -> FloatArray:
    r"""Compute the ratio of film thickness to composite roughness.

    .. math:: \lambda = h_{min} / \sqrt{R_{q1}^2 + R_{q2}^2}

    Parameters
    ----------
    film_thickness : array_like
        Minimum film thickness [m], any shape.
    roughness_1, roughness_2 : array_like
        Root-mean-square roughness Rq of the two surfaces [m]; not both zero.

    Returns
    -------
    ndarray
        Lambda [-].

    Raises
    ------
    ValueError
        If both surfaces are given as perfectly smooth.

    References
    ----------
    Common practice; Stachowiak and Batchelor, Engineering Tribology, chapter on elastohydrodynamic
    lubrication, specific film thickness.

    Examples
    --------
    >>> f"{lambda_ratio(0.1194329e-6, 0.2e-6, 0.2e-6):.5f}"
    '0.42226'
    """
    sigma = positive("composite roughness", composite_roughness(roughness_1, roughness_2))
    return not_negative("film_thickness", film_thickness) / sigma


REGIMES: tuple[tuple[float, str], ...] = ((0.0, "boundary"), (1.0, "mixed"), (3.0, "full film"))
"""Each regime with the lambda at which it begins [-] (common practice)."""

NO_LAMBDA = "not computed"


def lubrication_regime(lambda_ratio: ArrayLike) -> NDArray[np.str_]:
    """Name the lubrication regime.

    Boundary under 1: the surfaces carry the load on their peaks. Mixed from 1 to under 3: peaks and oil
    share it. Full film from 3: the peaks stand clear. The limits are common practice; sources put the upper
    one between 3 and 5, and none of them is sharp, since the film formulas are for smooth surfaces.

    Parameters
    ----------
    lambda_ratio : array_like
        Minimum film thickness over composite roughness [-], any shape.

    Returns
    -------
    ndarray of str
        ``boundary``, ``mixed``, ``full film``, or ``not computed`` where lambda is missing.

    Raises
    ------
    ValueError
        If a lambda is negative.

    References
    ----------
    Common practice; T. E. Tallian, On competing failure modes in rolling contact, ASLE Transactions 10,
    1967, 418-439; B. J. Hamrock, S. R. Schmid and B. O. Jacobson, Fundamentals of Fluid Film Lubrication,
    2004, ch. 1 (which lets partial lubrication reach to 5); both from memory.

    Examples
    --------
    >>> lubrication_regime([0.42, 1.0, 3.5, float("nan")]).tolist()
    ['boundary', 'mixed', 'full film', 'not computed']
    """
    ratio = as_floats(lambda_ratio)
    if np.any(ratio < 0):
        raise ValueError(f"lambda_ratio must not be negative, found {np.nanmin(ratio):g}")
    words = np.asarray([word for _, word in REGIMES])
    starts = [start for start, _ in REGIMES]
    # NaN sorts after every limit; it gets its own word below.
    index = np.clip(np.searchsorted(starts, ratio, side="right") - 1, 0, len(starts) - 1)
    return np.asarray(np.where(np.isnan(ratio), NO_LAMBDA, words[index]), dtype=np.str_)
