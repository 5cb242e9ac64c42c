"""Kinematic viscosity against temperature: the straight line of ASTM D341 through two measured points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, positive, within

ZERO_CELSIUS = 273.15
"""0 degC [K]."""
_MM2 = 1e-6
_LOWEST, _HIGHEST = 0.21e-6 * (1 - 1e-9), 20.0 * (1 + 1e-9)
"""Range of the D341 equation, 0.21 to 2e7 mm^2/s, with room for rounding at its ends [m^2/s]."""


@dataclass(frozen=True)
class WaltherLine:
    """The line ``log10 log10 Z = intercept - slope log10 T`` of one oil, or of an array of oils.

    Attributes
    ----------
    intercept : ndarray
        A of ASTM D341 [-].
    slope : ndarray
        B of ASTM D341 [-]; larger for an oil that thins more on heating.
    """

    intercept: FloatArray
    slope: FloatArray


def walther_z(kinematic_viscosity: ArrayLike) -> FloatArray:
    r"""Compute Z of the viscosity-temperature equation.

    .. math:: Z = \nu + 0.7 + e^{-1.47 - 1.84 \nu - 0.51 \nu^2}, \quad \nu \text{ in mm}^2/\text{s}

    The exponential term is kept at every viscosity, so that there is no step at 2 mm^2/s, where the plain
    form ``nu + 0.7`` takes over in hand calculation: it is 0.03 % of Z there and under 1e-11 at 5.4 mm^2/s.

    Parameters
    ----------
    kinematic_viscosity : array_like
        Kinematic viscosity [m^2/s], any shape.

    Returns
    -------
    ndarray
        Z [-], same shape.

    Raises
    ------
    ValueError
        If a viscosity lies outside 0.21 to 2e7 mm^2/s.

    References
    ----------
    ASTM D341, equations for Z below 2 mm^2/s and for the chart.

    Examples
    --------
    >>> f"{walther_z(9.1e-6):.4f}"
    '9.8000'
    """
    nu = within("kinematic_viscosity", kinematic_viscosity, _LOWEST, _HIGHEST) / _MM2
    return nu + 0.7 + np.exp(-1.47 - 1.84 * nu - 0.51 * nu**2)


def viscosity_from_z(z: ArrayLike) -> FloatArray:
    r"""Compute the kinematic viscosity that has a given Z.

    .. math:: \nu = x - e^{-0.7487 - 3.295 x + 0.6119 x^2 - 0.3193 x^3}, \quad x = Z - 0.7

    is what ASTM D341 prints; it gives back the viscosity within 0.03 %. Here it starts three Newton steps on
    the equation for Z, so that the line goes through the two points that define it to the last digit.

    Parameters
    ----------
    z : array_like
        Z [-], any shape.

    Returns
    -------
    ndarray
        Kinematic viscosity [m^2/s], same shape; NaN outside 0.21 to 2e7 mm^2/s, the range of the equation.

    References
    ----------
    ASTM D341, equation for the viscosity from Z; the Newton steps: own derivation.

    Examples
    --------
    >>> f"{viscosity_from_z(walther_z(1.5e-6)) * 1e6:.12f}"
    '1.500000000000'
    """
    z = as_floats(z)
    x = z - 0.7
    # The bound keeps the cubic from overflowing for thick oils, where the exponential is nil anyway.
    y = np.clip(x, 0.0, 20.0)
    nu = x - np.exp(-0.7487 - 3.295 * y + 0.6119 * y**2 - 0.3193 * y**3)
    for _ in range(3):
        term = np.exp(-1.47 - 1.84 * nu - 0.51 * np.square(np.clip(nu, -2.0, 40.0)))
        nu = nu - (nu + 0.7 + term - z) / (1.0 - (1.84 + 1.02 * nu) * term)
    inside = (nu * _MM2 >= _LOWEST) & (nu * _MM2 <= _HIGHEST)
    return np.where(inside, nu * _MM2, np.nan)


def walther_line(
    temperature_1: ArrayLike,
    kinematic_viscosity_1: ArrayLike,
    temperature_2: ArrayLike,
    kinematic_viscosity_2: ArrayLike,
) -> WaltherLine:
    r"""Compute the viscosity-temperature line through two measured points.

    .. math:: \log_{10} \log_{10} Z = A - B \log_{10} T

    T is the thermodynamic temperature, degC + 273.15. Older sheets print the constants with degC + 273; A
    and B then differ by 0.05 % and 0.04 %, a viscosity between the points by 0.001 %.

    Parameters
    ----------
    temperature_1, temperature_2 : array_like
        Temperatures of the two points [K], any shapes that broadcast; they must differ.
    kinematic_viscosity_1, kinematic_viscosity_2 : array_like
        Kinematic viscosities at these temperatures [m^2/s].

    Returns
    -------
    WaltherLine
        Intercept A and slope B [-].

    Raises
    ------
    ValueError
        If the two temperatures are equal, or the viscosity does not fall as the temperature rises.

    References
    ----------
    ASTM D341, log-log equation, constants by calculation from two points.

    Examples
    --------
    >>> line = walther_line(313.15, 32e-6, 373.15, 5.4e-6)
    >>> f"{line.intercept:.6f} {line.slope:.6f}"
    '9.530815 3.746578'
    """
    log_1 = np.log10(positive("temperature_1", temperature_1))
    log_2 = np.log10(positive("temperature_2", temperature_2))
    if np.any(log_1 == log_2):
        raise ValueError("temperature_1 and temperature_2 must differ, found two equal ones")
    y_1 = np.log10(np.log10(walther_z(kinematic_viscosity_1)))
    y_2 = np.log10(np.log10(walther_z(kinematic_viscosity_2)))
    slope = (y_1 - y_2) / (log_2 - log_1)
    if np.any(slope <= 0):
        raise ValueError("kinematic viscosity must fall as the temperature rises between the two points")
    return WaltherLine(y_1 + slope * log_1, slope)


def walther_line_40_100(kinematic_viscosity_40: ArrayLike, kinematic_viscosity_100: ArrayLike) -> WaltherLine:
    """Compute the viscosity-temperature line of an oil from its viscosities at 40 and 100 degC.

    Parameters
    ----------
    kinematic_viscosity_40, kinematic_viscosity_100 : array_like
        Kinematic viscosities at 40 and 100 degC [m^2/s], any shapes that broadcast.

    Returns
    -------
    WaltherLine
        Intercept A and slope B [-].

    Raises
    ------
    ValueError
        If a viscosity lies outside 0.21 to 2e7 mm^2/s, or the one at 100 degC is not the smaller one.

    References
    ----------
    ASTM D341, log-log equation, constants by calculation from two points.

    Examples
    --------
    >>> line = walther_line_40_100(32e-6, 5.4e-6)
    >>> f"{line.intercept:.6f} {line.slope:.6f}"
    '9.530815 3.746578'
    """
    at_40 = within("kinematic_viscosity_40", kinematic_viscosity_40, _LOWEST, _HIGHEST)
    at_100 = within("kinematic_viscosity_100", kinematic_viscosity_100, _LOWEST, _HIGHEST)
    wrong = np.ravel(at_100 >= at_40)
    if np.any(wrong):
        pairs = [np.ravel(one)[wrong][0] / _MM2 for one in np.broadcast_arrays(at_40, at_100)]
        raise ValueError(
            f"kinematic_viscosity_100 must be below kinematic_viscosity_40, found {pairs[1]:g} mm^2/s at "
            f"100 degC and {pairs[0]:g} mm^2/s at 40 degC"
        )
    return walther_line(40.0 + ZERO_CELSIUS, at_40, 100.0 + ZERO_CELSIUS, at_100)


def kinematic_viscosity(line: WaltherLine, temperature: ArrayLike) -> FloatArray:
    """Compute the kinematic viscosity at a temperature from the line of ASTM D341.

    Parameters
    ----------
    line : WaltherLine
        Line through two measured points [-].
    temperature : array_like
        Temperature [K], any shape that broadcasts with the line.

    Returns
    -------
    ndarray
        Kinematic viscosity [m^2/s]; NaN where it leaves 0.21 to 2e7 mm^2/s, the range of the equation.

    References
    ----------
    ASTM D341, log-log equation solved for the viscosity.

    Examples
    --------
    >>> line = walther_line(313.15, 68e-6, 373.15, 9.1e-6)
    >>> f"{kinematic_viscosity(line, 333.15) * 1e6:.5f}"
    '29.31376'
    """
    log_t = np.log10(positive("temperature", temperature))
    log_log_z = line.intercept - line.slope * log_t
    # 1.0 would be a viscosity of 1e10 mm^2/s, far outside the range already; the bound avoids an overflow.
    return viscosity_from_z(10.0 ** (10.0 ** np.minimum(log_log_z, 1.0)))


def kinematic_viscosity_at(
    temperature: ArrayLike, kinematic_viscosity_40: ArrayLike, kinematic_viscosity_100: ArrayLike
) -> FloatArray:
    """Compute the kinematic viscosity at a temperature from the values at 40 and 100 degC.

    Parameters
    ----------
    temperature : array_like
        Temperature [K], any shape.
    kinematic_viscosity_40, kinematic_viscosity_100 : array_like
        Kinematic viscosities at 40 and 100 degC [m^2/s], any shapes that broadcast.

    Returns
    -------
    ndarray
        Kinematic viscosity [m^2/s]; NaN outside the range of the equation.

    References
    ----------
    ASTM D341, log-log equation.

    Examples
    --------
    >>> f"{kinematic_viscosity_at(353.15, 73.3e-6, 8.86e-6) * 1e6:.5f}"
    '15.18039'
    """
    return kinematic_viscosity(
        walther_line_40_100(kinematic_viscosity_40, kinematic_viscosity_100), temperature
    )


def dynamic_viscosity(kinematic_viscosity: ArrayLike, density: ArrayLike) -> FloatArray:
    r"""Compute the dynamic viscosity, :math:`\eta = \nu \rho`.

    Parameters
    ----------
    kinematic_viscosity : array_like
        Kinematic viscosity at the temperature wanted [m^2/s], any shape.
    density : array_like
        Density at the same temperature [kg/m^3].

    Returns
    -------
    ndarray
        Dynamic viscosity [Pa s].

    References
    ----------
    Definition of the kinematic viscosity (ISO 3104).

    Examples
    --------
    >>> f"{dynamic_viscosity(100e-6, 850.0):.4f}"
    '0.0850'
    """
    return positive("kinematic_viscosity", kinematic_viscosity) * positive("density", density)
