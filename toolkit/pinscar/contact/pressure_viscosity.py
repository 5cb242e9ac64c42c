"""Pressure-viscosity coefficient from ordinary oil data: one function per correlation, one chooser."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, positive


@dataclass(frozen=True)
class PressureViscosity:
    """A pressure-viscosity coefficient with the name of the correlation that gave it.

    Attributes
    ----------
    coefficient : ndarray
        Coefficient of ``eta = eta_0 exp(coefficient p)`` [1/Pa].
    correlation : str
        Name of the correlation, for the report.
    """

    coefficient: FloatArray
    correlation: str


def wooster(dynamic_viscosity: ArrayLike) -> FloatArray:
    r"""Estimate the pressure-viscosity coefficient from the viscosity alone.

    .. math:: \alpha = (0.6 + 0.965 \log_{10} \eta_0) \, 10^{-8}, \quad \eta_0 \text{ in mPa s}

    For mineral oils. Against 38 measured values of mineral oils (2.4 to 2000 mPa s, 30 to 100 degC) it is
    12 % low on average with a scatter of 12 %; paraffinic oils lie nearer than naphthenic ones.

    Parameters
    ----------
    dynamic_viscosity : array_like
        Dynamic viscosity at the contact's inlet temperature and atmospheric pressure [Pa s], any shape.

    Returns
    -------
    ndarray
        Pressure-viscosity coefficient [1/Pa]; NaN under 1 mPa s, where the formula has no oil to speak for.

    References
    ----------
    Wooster's formula as given by Stachowiak and Batchelor, Engineering Tribology, chapter 2,
    pressure-viscosity relationship: from memory, its constants seen in later use. The measured values:
    their Table 2.3.

    Examples
    --------
    >>> f"{wooster(0.1) * 1e9:.1f} per GPa"
    '25.3 per GPa'
    """
    eta = positive("dynamic_viscosity", dynamic_viscosity) * 1e3
    return np.where(eta >= 1.0, (0.6 + 0.965 * np.log10(eta)) * 1e-8, np.nan)


def so_klaus(kinematic_viscosity: ArrayLike, density: ArrayLike, walther_slope: ArrayLike) -> FloatArray:
    r"""Estimate the pressure-viscosity coefficient from viscosity, density and viscosity-temperature slope.

    .. math::
        10^8 \alpha = 1.216 + 4.143 (\log_{10} \nu)^{3.0627}
        + 2.848 \cdot 10^{-4} \, m^{5.1903} (\log_{10} \nu)^{1.5976}
        - 3.999 (\log_{10} \nu)^{3.0975} \rho^{0.1162}

    with the kinematic viscosity in mm^2/s, the density in g/cm^3 and m the slope of the log-log line.
    Against 38 measured values of mineral oils it is 10 % high on average with a scatter of 11 % (density
    taken as 880 kg/m^3 at 15 degC, since the source gives none). Two terms nearly cancel: 1 % of density
    moves the result by 1 to 3 %.

    Parameters
    ----------
    kinematic_viscosity : array_like
        Kinematic viscosity at the contact's inlet temperature [m^2/s], any shape.
    density : array_like
        Density at the same temperature [kg/m^3].
    walther_slope : array_like
        Slope B of the ASTM D341 line through two points [-].

    Returns
    -------
    ndarray
        Pressure-viscosity coefficient [1/Pa]; NaN under 1 mm^2/s, where the powers have no value.

    References
    ----------
    B. Y. C. So and E. E. Klaus, Viscosity-pressure correlation of liquids, ASLE Transactions 23, 1980,
    409-421; the formula was seen in later use, not in the paper itself. That use takes the slope with
    nu + 0.8 and degC + 273, which moves the result by up to 4 %.

    Examples
    --------
    >>> f"{so_klaus(68e-6, 856.0, 3.519) * 1e9:.1f} per GPa"
    '25.7 per GPa'
    """
    nu = positive("kinematic_viscosity", kinematic_viscosity) * 1e6
    rho = positive("density", density) * 1e-3
    slope = positive("walther_slope", walther_slope)
    log_nu = np.log10(np.maximum(nu, 1.0))
    value = (
        1.216
        + 4.143 * log_nu**3.0627
        + 2.848e-4 * slope**5.1903 * log_nu**1.5976
        - 3.999 * log_nu**3.0975 * rho**0.1162
    )
    return np.where(nu >= 1.0, value * 1e-8, np.nan)


def pressure_viscosity(
    kinematic_viscosity: ArrayLike,
    density: ArrayLike,
    walther_slope: ArrayLike,
    correlation: str = "wooster",
) -> PressureViscosity:
    """Estimate the pressure-viscosity coefficient by a named correlation.

    Parameters
    ----------
    kinematic_viscosity : array_like
        Kinematic viscosity at the contact's inlet temperature [m^2/s], any shape.
    density : array_like
        Density at the same temperature [kg/m^3].
    walther_slope : array_like
        Slope B of the ASTM D341 line [-]; used by ``so-klaus`` only.
    correlation : str
        ``wooster`` (default: it needs least and has no cancelling terms) or ``so-klaus``.

    Returns
    -------
    PressureViscosity
        Coefficient [1/Pa] and the correlation's name.

    Raises
    ------
    ValueError
        If the correlation is not known.

    References
    ----------
    See `wooster` and `so_klaus`.

    Examples
    --------
    >>> pressure_viscosity(68e-6, 856.0, 3.519).correlation
    'Wooster (Stachowiak and Batchelor)'
    """
    nu = positive("kinematic_viscosity", kinematic_viscosity)
    if correlation == "wooster":
        alpha = wooster(nu * positive("density", density))
        return PressureViscosity(alpha, "Wooster (Stachowiak and Batchelor)")
    if correlation == "so-klaus":
        return PressureViscosity(so_klaus(nu, density, walther_slope), "So and Klaus 1980")
    raise ValueError(f"correlation must be 'wooster' or 'so-klaus', found {correlation!r}")
