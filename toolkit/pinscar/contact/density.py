"""Density of a lubricating oil against temperature: one function per relation, one chooser in front."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, positive, within

_BASE_TEMPERATURE = 288.15
"""15 degC [K]."""


@dataclass(frozen=True)
class Density:
    """A density with the name of the relation that gave it.

    Attributes
    ----------
    density : ndarray
        Density [kg/m^3].
    relation : str
        Name of the relation, for the report.
    """

    density: FloatArray
    relation: str


def density_api(density_15: ArrayLike, temperature: ArrayLike) -> FloatArray:
    r"""Compute the density of a lubricating oil by the petroleum measurement tables.

    .. math:: \rho = \rho_{15} \, e^{-\alpha \Delta T (1 + 0.8 \alpha \Delta T)}, \quad
        \alpha = 0.6278 / \rho_{15}, \quad \Delta T = t - 15\,^\circ\mathrm{C}

    The commodity group "lubricating oils" of the tables: base oils and finished oils on mineral basis.
    Esters, polyglycols and silicones expand differently: give their density at the temperature itself.

    Parameters
    ----------
    density_15 : array_like
        Density at 15 degC [kg/m^3], any shape.
    temperature : array_like
        Temperature [K], any shape that broadcasts.

    Returns
    -------
    ndarray
        Density [kg/m^3].

    Raises
    ------
    ValueError
        If the density lies outside 800 to 1164 kg/m^3, or the temperature outside -50 to 150 degC.

    References
    ----------
    API Manual of Petroleum Measurement Standards, chapter 11.1 = ASTM D1250 = IP 200, Tables 53D and 54D
    (lubricating oils), K1 = 0.34878 kg/m^3 per degF, that is 0.6278 kg/m^3 per K, K0 = K2 = 0.

    Examples
    --------
    >>> f"{density_api(872.0, 313.15):.2f}"
    '856.22'
    """
    base = within("density_15", density_15, 800.0, 1164.0)
    step = within("temperature", temperature, 223.15, 423.15) - _BASE_TEMPERATURE
    expansion = 0.6278 / base * step
    return base * np.exp(-expansion * (1.0 + 0.8 * expansion))


def density_linear(density_15: ArrayLike, temperature: ArrayLike, density_slope: ArrayLike) -> FloatArray:
    r"""Compute the density by a straight line, for fluids whose slope is known.

    .. math:: \rho = \rho_{15} - s (t - 15\,^\circ\mathrm{C})

    Parameters
    ----------
    density_15 : array_like
        Density at 15 degC [kg/m^3], any shape.
    temperature : array_like
        Temperature [K].
    density_slope : array_like
        Fall of density per kelvin, s [kg/(m^3 K)], positive; about 0.65 for mineral oils (common practice).

    Returns
    -------
    ndarray
        Density [kg/m^3].

    Raises
    ------
    ValueError
        If the density comes out negative or zero.

    References
    ----------
    Common practice.

    Examples
    --------
    >>> f"{density_linear(950.0, 353.15, 0.72):.1f}"
    '903.2'
    """
    base = positive("density_15", density_15)
    step = positive("temperature", temperature) - _BASE_TEMPERATURE
    return positive("density", base - as_floats(density_slope) * step)


def density(density_15: ArrayLike, temperature: ArrayLike, relation: str = "api 11.1") -> Density:
    """Compute the density at a temperature by a named relation.

    Parameters
    ----------
    density_15 : array_like
        Density at 15 degC [kg/m^3], any shape.
    temperature : array_like
        Temperature [K].
    relation : str
        ``api 11.1`` (default), or ``linear``: a slope of 0.65 kg/(m^3 K), common practice.

    Returns
    -------
    Density
        Density [kg/m^3] and the relation's name.

    Raises
    ------
    ValueError
        If the relation is not known or its range is left.

    References
    ----------
    See `density_api` and `density_linear`.

    Examples
    --------
    >>> density(872.0, 373.15).relation
    'API MPMS 11.1 (ASTM D1250), lubricating oils'
    """
    if relation == "api 11.1":
        return Density(density_api(density_15, temperature), "API MPMS 11.1 (ASTM D1250), lubricating oils")
    if relation == "linear":
        return Density(
            density_linear(density_15, temperature, 0.65), "linear, 0.65 kg/(m^3 K), common practice"
        )
    raise ValueError(f"relation must be 'api 11.1' or 'linear', found {relation!r}")
