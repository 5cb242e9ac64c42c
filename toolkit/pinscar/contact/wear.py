"""Wear coefficients."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, not_negative, positive


def wear_coefficient(volume: ArrayLike, load_distance: ArrayLike) -> FloatArray:
    """Compute the wear coefficient, ``k = V / integral F ds``.

    Parameters
    ----------
    volume : array_like
        Wear volume [m^3].
    load_distance : array_like
        Integral of load over sliding distance [N m]; load times distance where the load was constant.

    Returns
    -------
    ndarray of float
        Wear coefficient [m^2/N], the same as m^3/(N m); 1e-15 m^2/N is 1e-6 mm^3/(N m).

    Raises
    ------
    ValueError
        The volume is negative, or the integral is not above zero.

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953; ASTM G99, section on
    reporting.

    Examples
    --------
    0.345 mm^3 worn at 600 N over 88 m:

    >>> f"{float(wear_coefficient(0.345e-9, 600 * 88)):.4e}"
    '6.5341e-15'
    """
    return np.asarray(not_negative("volume", volume) / positive("load_distance", load_distance))


def archard_coefficient(wear_coefficient: ArrayLike, hardness: ArrayLike) -> FloatArray:
    """Compute the dimensionless wear coefficient of Archard, ``K = k H``.

    Parameters
    ----------
    wear_coefficient : array_like
        Wear coefficient k [m^2/N].
    hardness : array_like
        Hardness of the body that wears H [Pa].

    Returns
    -------
    ndarray of float
        Archard's coefficient [-], broadcast shape.

    Raises
    ------
    ValueError
        The coefficient is negative, or the hardness is not above zero.

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953.

    Examples
    --------
    >>> f"{float(archard_coefficient(1e-14, 7.5e9)):.2e}"
    '7.50e-05'
    """
    return np.asarray(not_negative("wear_coefficient", wear_coefficient) * positive("hardness", hardness))
